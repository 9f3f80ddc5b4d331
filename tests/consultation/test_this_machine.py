"""Limits and texts that are shares of the sensor's supply come out in this machine's volts."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.cli import run
from advisor.commands.shared import knowledge_folder
from advisor.consultation.answers import measured
from advisor.consultation.this_machine import for_machine
from advisor.library.parser import load
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.model.shares import OF_SUPPLY, misread, told

SUPPLY = "supply-at-sensor-loaded"


@cache
def knowledge() -> Knowledge:
    return load(knowledge_folder(None))


def machine_with(supply: float) -> Machine:
    generic = generic_machine()
    sensor = generic.sensor.model_copy(update={"supply_volts": supply})
    return generic.model_copy(update={"sensor": sensor})


@pytest.mark.parametrize(
    ("supply", "value", "result"),
    [(5, 4.74, "low"), (5, 4.76, "normal"), (10, 5.0, "low"), (10, 9.6, "normal"), (8.5, 9.0, "high"), (24, 23.5, "normal")],
)
def test_a_supply_is_judged_by_this_machines_own(supply: float, value: float, result: str) -> None:
    """The same volts are low on one machine and right on another."""
    assert measured(knowledge(), machine_with(supply), SUPPLY, value, "V").result == result


@given(st.floats(2, 60), st.floats(0.01, 1.08))
def test_only_the_share_of_the_supply_matters(supply: float, share: float) -> None:
    """A reading of the same share of the supply has the same result on every machine, told for the machine before or not."""
    machine = machine_with(supply)
    result = measured(knowledge(), machine, SUPPLY, share * supply, "V").result
    known = for_machine(knowledge(), machine)
    assert measured(known, machine, SUPPLY, share * supply, "V").result == result
    near = min(abs(share - 0.95), abs(share - 1.05))
    assert near < 1e-9 or result == ("low" if share < 0.95 else "normal" if share < 1.05 else "high")


def test_telling_it_twice_changes_nothing_more() -> None:
    """The knowledge of a machine, told for the machine again, is the same."""
    once = for_machine(knowledge(), machine_with(10))
    assert for_machine(once, machine_with(10)) == once


def test_no_share_is_left_in_what_is_told() -> None:
    """Every share in every text of the real knowledge is turned into volts."""
    known = for_machine(knowledge(), machine_with(8.5))
    for entries in (known.checks, known.rules, known.causes):
        assert "sensor supply}" not in repr(entries)
        assert "motion limit}" not in repr(entries)


def test_texts_show_three_figures() -> None:
    """A share becomes volts with three figures, one of the motion limit millivolts with two; a text without one stays."""
    assert told("Above {105 % of sensor supply}, below {sensor supply}.", 8.5, 75) == "Above 8.93 V, below 8.5 V."
    assert told("Below {25 % of motion limit}", 5, 75) == "Below 19 mV"
    assert told("Below 0.1 V", 5, 75) == "Below 0.1 V"


@pytest.mark.parametrize(
    ("text", "wrong"), [("{95 % of supply}", "{95 % of supply}"), ("95 % {", "{"), ("{4 % of sensor supply}", None)]
)
def test_braces_that_are_no_share_are_named(text: str, wrong: str | None) -> None:
    """What cannot be turned into volts is found, with its braces."""
    assert misread(text) == wrong


def test_the_screen_shows_this_machines_volts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A ten-volt sensor's limits stand in volts beside the words that may be typed instead of a number."""
    scenario = tmp_path / "ten-volts.yaml"
    scenario.write_text(
        f"format: 1\ntitle: Ten volts\nmachine: {Path(__file__).parents[2] / 'scenarios/machines/gravel-dumper.yaml'}\n"
        f"complaint: reads-low\nanswers:\n  - {{reading: {SUPPLY}, value: 9.1, unit: V}}\n"
    )
    run(["start", "--answers", str(scenario), "--data-dir", str(tmp_path)])
    shown = capsys.readouterr().out
    assert "low: Below 9.5 V" in shown
    assert "high: 10.5 V or more" in shown
    assert "sensor supply}" not in shown
    case = next(tmp_path.glob("*.jsonl")).stem
    for form in ("md", "html", "json"):
        run(["record", case, "--format", form, "--data-dir", str(tmp_path)])
        record = capsys.readouterr().out
        assert "Below 9.5 V" in record
        assert "sensor supply}" not in record


def test_an_entry_without_a_figure_left_open_stays_the_same_object() -> None:
    """Only entries that leave a figure to the machine are made anew; all others are taken as they are."""
    read = for_machine(knowledge(), machine_with(8.0))
    pairs = [(before, read.causes[name]) for name, before in knowledge().causes.items()]
    assert any(before is not after for before, after in zip(knowledge().checks.values(), read.checks.values(), strict=True))
    for before, after in pairs:
        assert (before is after) is (OF_SUPPLY.search(before.model_dump_json()) is None)
