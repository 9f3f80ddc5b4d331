"""Field cases: machines described from outside, played by the program's own advice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from builders import small_knowledge

from advisor.model.field_case import FieldCase
from advisor.model.machine import generic_machine
from advisor.practice.field import play
from advisor.practice.field_machine import FieldMachine
from advisor.practice.field_trial import Entry, report, run

CASE: dict[str, Any] = {
    "title": "Bog roller whose reading jumps",
    "story": "Nothing to tell.",
    "complaint": "motion-without-steering",
    "intake": {"occurrences": 3, "hours": 12},
    "fault": {"cause": "sensor-coupling-loose"},
    "found": {"coupling-grip": "slips", "wiggle-harness": {"jumps-at-one-spot": 0.1, "quiet": 0.9}},
    "master": [{"check": "coupling-grip"}, {"repair": "sensor-coupling-loose"}],
}


def case(**changes: Any) -> FieldCase:
    return FieldCase.model_validate({**CASE, **changes})


def machine(told: FieldCase, seed: int = 0) -> FieldMachine:
    return FieldMachine(told, small_knowledge(), generic_machine(), None, seed)


def test_a_case_is_solved_by_the_right_repair() -> None:
    """The play ends when the right repair begins, and its minutes are those of the steps before it."""
    played = play(small_knowledge(), "case", case(), None)
    assert played.solved
    assert played.first_right
    assert played.minutes == sum(s.minutes for s in played.steps)
    assert played.steps[-1].kind in ("check", "reading")
    assert played.master_minutes > 0


def test_the_program_never_reads_what_is_hidden() -> None:
    """Two cases that differ in their story and fault alone are played alike until the first repair."""
    one = play(small_knowledge(), "case", case(), None)
    other = play(
        small_knowledge(),
        "case",
        case(story="Else.", fault={"cause": "sensor-internal"}, master=[{"repair": "sensor-internal"}]),
        None,
    )
    assert other.steps[: len(one.steps)] == one.steps


def test_a_wrong_repair_is_charged_and_the_fault_comes_back() -> None:
    """After a repair in vain its retest and a run with the fault back follow, and the search goes on."""
    hidden = case(fault={"cause": "steering-valve-leak"}, master=[{"repair": "steering-valve-leak"}])
    played = play(small_knowledge(), "case", hidden, None)
    assert played.wrong_repairs > 0
    assert not played.first_right
    assert any(s.kind == "repair" and s.result == "not cured" and s.minutes > 0 for s in played.steps)


def test_a_check_that_cannot_be_done_costs_nothing() -> None:
    """What stands under `cannot`, and what is on no menu, is skipped without minutes."""
    played = play(small_knowledge(), "case", case(cannot=["wiggle-harness"]), frozenset({"confirm-complaint"}))
    assert {s.id for s in played.steps} <= {"confirm-complaint", "coupling-grip"} | set(small_knowledge().causes) | {"run"}


@pytest.mark.parametrize("seed", range(4))
def test_what_is_looked_at_twice_looks_the_same(seed: int) -> None:
    """Results of looking and taking apart are drawn once a machine, those of other checks at each doing."""
    told = case(found={"coupling-grip": {"slips": 0.5, "tight": 0.5}, "output-sweep": {"jumps": 0.5, "smooth": 0.5}})
    own = machine(told, seed)
    checks = small_knowledge().checks
    assert len({own.result(checks["coupling-grip"], None) for _ in range(20)}) == 1
    assert len({own.result(checks["output-sweep"], None) for _ in range(20)}) == 2


def test_load_tests_read_the_ohms_of_the_case() -> None:
    """A run through a bad joint drops more than the same run without it."""
    sound, bad = machine(case()), machine(case(ohms={"splice-1": 1.5}))
    assert sound.load_test("supply-a", "controller", "sensor").loaded > bad.load_test("supply-a", "controller", "sensor").loaded + 1


def test_any_terminal_of_the_plug_is_the_right_place() -> None:
    """A repair at another terminal of the same plug cures; at another plug it does not."""
    own = machine(case(fault={"cause": "poor-terminal-contact", "place": "bulkhead:3", "also": ["chafe-to-ground@signal-a-lower"]}))
    assert own.cures("poor-terminal-contact", "bulkhead:1")
    assert not own.cures("poor-terminal-contact", "sensor:3")
    assert own.cures("chafe-to-ground", "signal-a-lower")
    assert not own.cures("chafe-to-ground", "signal-b-lower")


def test_processes_do_not_change_what_comes_out() -> None:
    """Two processes find just what one finds, in the order of the files."""
    entries = [Entry(f"case-{i}", case(title=f"Machine {i}"), None) for i in range(3)]
    one, two = (run(small_knowledge(), entries, 5, jobs) for jobs in (1, 2))
    assert one == two
    assert report(one, 5)["solved"] == sum(p.solved for p in one)


def test_every_field_case_has_its_menu() -> None:
    """The shipped field cases stand beside the list of checks that their authors knew."""
    assert (Path(__file__).parents[2] / "scenarios" / "field" / "menu.txt").is_file()


def reacting(**changes: Any) -> FieldMachine:
    """A machine whose harness reacts when it is moved, asked where."""
    knowledge = small_knowledge()
    asks = knowledge.checks["wiggle-harness"].model_copy(update={"where": "anywhere", "sides": True})
    told = case(fault={"cause": "high-resistance-splice", "place": "splice-1"}, **changes)
    knowledge = knowledge.model_copy(update={"checks": {**knowledge.checks, asks.id: asks}})
    return FieldMachine(told, knowledge, generic_machine(), None)


def spot(machine: FieldMachine, result: str = "jumps-at-one-spot") -> tuple[str | None, str | None]:
    return machine.spot(machine.knowledge.checks["wiggle-harness"], result)


def test_what_the_fault_brings_reacts_at_its_place() -> None:
    """Where it reacted is the place of the fault, and nobody knows the side."""
    assert spot(reacting()) == ("splice-1", None)
    assert spot(reacting(), "quiet") == (None, None)


def test_a_case_can_name_another_place_and_a_side() -> None:
    """What else reacts on this machine stands in the case."""
    assert spot(reacting(where={"wiggle-harness": "sensor"}, side={"wiggle-harness": "left"})) == ("sensor", "left")


def test_what_the_fault_does_not_bring_has_no_place() -> None:
    """A coupling does not react to a moved harness: nobody can say where it was."""
    told = reacting()
    other = FieldMachine(case(), told.knowledge, told.layout, None)
    assert spot(other) == (None, None)
