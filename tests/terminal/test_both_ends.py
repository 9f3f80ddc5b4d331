"""Numbers typed for the output at both ends of travel, and ohms of a wire, from the prompt to the record."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache

import pytest
from terminal.talk import NOT_SAID, Talk, talk

from advisor.commands.shared import knowledge_folder
from advisor.consultation.again import first_unfit
from advisor.consultation.consultation import Consultation
from advisor.library.parser import load
from advisor.model.case import Answered, Case, Opened, Repaired
from advisor.model.knowledge import Knowledge
from advisor.record import render
from advisor.record.view import build


@cache
def full() -> Knowledge:
    return load(knowledge_folder(None))


def said(*typed: str, width: int = 80, opened: Opened | None = None) -> Talk:
    return talk(*typed, width=width, knowledge=full(), opened=opened)


def last_answer(found: Talk) -> Answered:
    return [e for e in found.stored if isinstance(e, Answered)][-1]


def test_two_voltages_are_judged_and_explained() -> None:
    """The program says where both ends are, and which is outside of the band."""
    found = said("other output-at-both-ends", "0,52 4.81V")
    assert last_answer(found).values == (0.52, 4.81)
    assert last_answer(found).result == "outside-band"
    assert "4.81 V is 0.31 V above the working band" in found.printed


def test_four_voltages_hold_the_second_track_beside_the_first() -> None:
    """Of two that sum to the supply, one that does not is named."""
    found = said("other output-at-both-ends", "0.52 4.46 4.47 0.9")
    assert last_answer(found).result == "tracks-disagree"
    assert "second track should read 0.54 V and reads 0.90 V" in " ".join(found.printed.split())


def test_the_supply_typed_before_is_taken_without_asking_again() -> None:
    """4.45 V is inside the band at 5 V; at the 4.8 V measured it is outside."""
    found = said("other supply-at-sensor-loaded", "4.8", "other output-at-both-ends", "0.6 4.45")
    assert (last_answer(found).supply, last_answer(found).result) == (4.8, "outside-band")
    typed = said("other output-at-both-ends", "0.6 4.45 supply=4.9")
    assert (last_answer(typed).supply, last_answer(typed).result) == (4.9, "ends-right")


def test_a_supply_read_before_a_repair_is_not_taken_after_it() -> None:
    """The repair may have changed it."""
    repaired = ["repair poor-terminal-contact sensor:1", "done", *NOT_SAID, *["yes"] * 12, ""]
    found = said("other supply-at-sensor-loaded", "4.8", *repaired, "other output-at-both-ends", "0.6 4.45")
    assert any(isinstance(e, Repaired) for e in found.stored)
    assert last_answer(found).supply is None


def test_a_word_by_the_makers_figure_is_taken_as_well() -> None:
    """What the program cannot judge the technician can."""
    assert last_answer(said("other output-at-both-ends", "ends-off")).result == "ends-off"


def test_the_correction_of_both_ends_takes_the_new_numbers() -> None:
    """`correct` judges again."""
    found = said("other output-at-both-ends", "0.52 4.81", "correct output-at-both-ends = 0.52 4.41")
    assert "ends-right" in str(found.case.events[-1])


@pytest.mark.parametrize(
    ("typed", "what", "do"),
    [
        ("0.52", "1 number typed, but two or four belong here", "or four, the second track"),
        ("0.52 4.46 4.4", "3 numbers typed, but two or four belong here", "or four, the second track"),
        ("520 4460", "520 V cannot be read here", "millivolts with their unit"),
        ("-2 4.46", "-2 V cannot be read here", "from sensor ground"),
        ("0.52 4.46 supply=1.2", "a supply of 1.2 V is less than half", "Put the supply right first"),
        ("0.52 4.46 load=5", "'load' does not belong", "supply=4.98 after them"),
        ("0.52 ohm 4.46", "'0.52 ohm' is not a voltage", "in volts"),
    ],
)
def test_numbers_that_cannot_be_are_refused_and_the_step_stays(typed: str, what: str, do: str) -> None:
    """One line says what is wrong, one what to do, and nothing is stored."""
    found = said("other output-at-both-ends", typed)
    assert not any(isinstance(e, Answered) for e in found.stored)
    refused = " ".join(found.printed[found.printed.index("Not taken") :].split())
    assert what in refused
    assert do in refused
    assert "What is the sensor output at both ends of travel?" in refused


def test_a_sensor_of_one_track_takes_no_second() -> None:
    """The prompt does not ask for four, and four are refused."""
    machine = Consultation(full()).machine.model_dump(mode="json", by_alias=True, exclude_none=True)
    machine["sensor"]["tracks"] = 1
    opened = Opened(complaint="reads-high", machine=machine)
    found = talk("other output-at-both-ends", "0.52 4.46 4.46 0.52", knowledge=full(), opened=opened, machine=machine)
    assert "or four" not in found.printed
    assert "4 numbers typed, but two belong here" in found.printed


def test_ohms_of_a_wire_are_told_what_they_cannot_show() -> None:
    """A pass names the ohms that a section may have at the load test's own current; a break is called one."""
    passed = said("other continuity-check", "0.3")
    assert last_answer(passed).result == "passes"
    assert "At the 2.4 A of the load test a section may have 0.083 ohm" in " ".join(passed.printed.split())
    broken = said("other continuity-check", "20kohm")
    assert last_answer(broken).result == "open"
    assert "is a break" in broken.printed
    assert last_answer(said("other continuity-check", "open")).result == "open"
    assert last_answer(said("other continuity-check", "OL")).result == "open"
    refused = said("other continuity-check", "much").printed
    assert "'much' is neither a number nor a result" in refused
    assert "open, high, passes" in refused


def test_forty_columns_are_enough() -> None:
    """No line of the step or of what it meant is longer."""
    found = said("other output-at-both-ends", "0.52 4.81 4.47 0.9", width=40)
    assert max(map(len, found.printed.splitlines())) <= 40


def test_the_numbers_are_held_to_again_and_stand_in_the_record() -> None:
    """A case file in which the result was changed does not pass; the record shows all the numbers and what they come to."""
    found = said("other output-at-both-ends", "0.52 4.81 supply=5.02")
    assert first_unfit(full(), found.case) is None
    changed = last_answer(found).model_copy(update={"result": "ends-right"})
    events = tuple(changed if isinstance(e, Answered) else e for e in found.case.events)
    number, problem = first_unfit(full(), Case(events)) or (0, None)
    assert events[number] is changed
    assert problem is not None
    assert "0.52, 4.81 V of output-at-both-ends is 'outside-band'" in problem.what
    shown = build(Consultation(full()), found.case, "both-ends", datetime(2031, 3, 4, tzinfo=UTC), {})
    for text in (render.html(shown), render.markdown(shown)):
        assert "0.52, 4.81 V" in text
        assert "working band" in text
