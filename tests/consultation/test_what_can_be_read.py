"""Numbers of a load test within what can be true, and lines of a scenario that hold what they must."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
import yaml
from builders import MACHINE, scenario, small_knowledge, small_machine

from advisor.consultation.again import first_unfit
from advisor.consultation.answers import load_test
from advisor.consultation.reading_words import excess_says, per_cent_sure
from advisor.consultation.scenario import events_of
from advisor.electrical.meter import parse_meter
from advisor.errors import InputError
from advisor.library.files import read_machine, read_scenario
from advisor.model.case import Answered, Case, Corrected, KnowledgeChanged, Opened, Reading
from advisor.model.machine import generic_machine

RUN = {"circuit": "supply-a", "from": "controller", "to": "sensor", "reference": 24.1, "loaded": 23.9}


def told_by(error: InputError) -> str:
    return "\n".join([error.what, *(p.what for p in error.problems)])


@pytest.mark.parametrize(
    "odd",
    [
        {"copper_celsius": -300}, {"copper_celsius": 99_999}, {"copper_celsius": math.nan}, {"load_ohms": 1e11},
        {"load_amps": 1e-9}, {"load_ohms": math.inf}, {"meter": "99999%+99999"}, {"meter": "0.5%+2@50V"}, {"reference": 1e308},
        {"loaded": -1},
    ],
)  # fmt: skip
def test_a_load_test_that_cannot_be_is_refused(odd: dict[str, Any]) -> None:
    """No verdict of any certainty comes of copper at absolute zero or a load that draws nothing."""
    with pytest.raises(InputError) as refused:
        load_test(small_machine(), {**RUN, **odd})
    assert refused.value.hint


@pytest.mark.parametrize("usual", [{"copper_celsius": -40}, {"copper_celsius": 120}, {"load_ohms": 5}, {"meter": "1.5%+5@0.1V"}])
def test_a_load_test_of_a_cold_or_hot_day_is_taken(usual: dict[str, Any]) -> None:
    """The limits refuse nothing that is met at work."""
    assert load_test(small_machine(), {**RUN, **usual}).circuit == "supply-a"


def test_a_long_meter_text_is_not_repeated_whole() -> None:
    """An error stays one line."""
    with pytest.raises(ValueError, match="no meter specification") as refused:
        parse_meter("x" * 100_000)
    assert len(str(refused.value)) < 200


def test_no_sentence_speaks_of_infinity_or_of_certainty() -> None:
    """An open run has no upper bound, and no reading is quite sure."""
    assert excess_says(math.inf, 776.2, math.inf) == "Nothing arrives at the load: the run is open, or has more than 776 ohm."
    assert "inf" not in excess_says(12.0, 3.0, math.inf)
    assert [per_cent_sure(p) for p in (0.0, 1.0, 0.5, 0.996)] == ["less than 0.1%", "more than 99.9%", "50%", "99.6%"]


@pytest.mark.parametrize("key", ["check", "repair", "skip", "correct", "retest", "reading", "close"])
@pytest.mark.parametrize("value", [["a", "b"], {"a": 1}, 7, True])
def test_a_line_names_one_thing(tmp_path: Path, key: str, value: Any) -> None:
    """A list, a mapping or a number in the place of a name is told with its line."""
    file = tmp_path / "told.yaml"
    lines = [{key: value, **({"result": "x"} if key in ("check", "correct") else {})}]
    told = {"format": 1, "title": "t", "complaint": "motion-without-steering", "answers": lines}
    file.write_text(yaml.safe_dump(told), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_scenario(file)
    assert f"'{key}' takes one name" in told_by(refused.value)


@pytest.mark.parametrize("key", ["place", "unit"])
def test_a_place_and_a_unit_are_names(tmp_path: Path, key: str) -> None:
    """The same of what stands beside the name."""
    file = tmp_path / "told.yaml"
    told = {"format": 1, "title": "t", "complaint": "x", "answers": [{"reading": "coupling-grip", "value": 1, key: ["V"]}]}
    file.write_text(yaml.safe_dump(told), encoding="utf-8")
    with pytest.raises(InputError):
        read_scenario(file)


@pytest.mark.parametrize("value", [[1], "five", math.nan, 10**400, True])
def test_a_correction_by_what_is_no_number_is_refused(value: Any) -> None:
    """`correct` with a value takes a number only."""
    told = scenario(
        {"reading": "supply-at-sensor-loaded", "value": 4.41, "unit": "V"}, {"correct": "supply-at-sensor-loaded", "value": value}
    )
    with pytest.raises(InputError, match="answer 2"):
        list(events_of(small_knowledge(), told))


@pytest.mark.parametrize("name", ["supply a", "supply=a", "supply\ta", "supply\u202ea"])
def test_a_circuit_or_point_that_cannot_be_typed_is_refused(tmp_path: Path, name: str) -> None:
    """A name of two words loads a machine on which nothing can be measured."""
    text = yaml.safe_dump({**MACHINE, "circuits": {name: MACHINE["circuits"]["supply-a"]}})
    (tmp_path / "machine.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_machine(tmp_path / "machine.yaml")
    assert "cannot be typed as one word" in told_by(refused.value)


@pytest.mark.parametrize(
    "event",
    [
        Reading.model_validate({**RUN, "reference": 0, "loaded": 0}), Reading.model_validate({**RUN, "reference": 1e308}),
        Reading.model_validate({**RUN, "load_ohms": 0}), KnowledgeChanged(digest="d", before={"x": 1e308}),
        Corrected(number=99, by=Answered(check="coupling-grip", result="slips")),
    ],
)  # fmt: skip
def test_a_forged_event_is_named_before_anything_is_computed_from_it(event: Any) -> None:
    """With whatever knowledge the case goes on: what no arithmetic can use is told by its number."""
    case = Case(
        (Opened(complaint="motion-without-steering", machine=small_machine().model_dump(mode="json", by_alias=True)), event)
    )
    found = first_unfit(small_knowledge(), case, names_only=True)
    assert found is not None
    assert found[0] == 1


def test_a_machine_that_is_none_is_named_as_event_0() -> None:
    """A case whose layout was cut out of it is told, not a traceback."""
    found = first_unfit(small_knowledge(), Case((Opened(complaint="motion-without-steering", machine={"title": "x"}),)))
    assert found is not None
    assert found[0] == 0
    assert generic_machine().circuits
