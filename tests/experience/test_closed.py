"""A case in brief: what was answered, what cured it, whether that was proven, and the minutes worked."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from builders import MORNING, scenario, small_knowledge

from advisor.consultation.intake_told import machine_of
from advisor.consultation.scenario import events_of, opening
from advisor.experience.closed import summary, worked
from advisor.model.case import Case, Closed, Event, Noted, Reopened
from advisor.model.summary import Summary

FOUND = {"check": "coupling-grip", "result": "slips"}
REPAIR = {"repair": "sensor-coupling-loose", "minutes": 30}
RETEST = {"retest": "coupling-grip", "result": "tight"}


def told(*lines: dict[str, Any], cause: str | None = "sensor-coupling-loose", **keys: Any) -> Case:
    """A case of these lines, five minutes apart, closed with a cause."""
    knowledge, whole = small_knowledge(), scenario(*lines, **keys)
    events: list[Event] = [opening(knowledge, whole)]
    events += [event for _, event, _ in events_of(knowledge, whole)]
    events.append(Closed(cause=cause, by="Kim", reason="seen"))
    return Case(tuple(e.model_copy(update={"at": MORNING + n * timedelta(minutes=5)}) for n, e in enumerate(events)))


def brief(case: Case) -> Summary | None:
    first = case.events[0]
    return summary(small_knowledge(), machine_of(first), "20310304-h4", case)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("lines", "proven"),
    [
        ((FOUND, REPAIR, RETEST, {"run": 9}), True),
        ((FOUND, REPAIR, RETEST), False),
        ((FOUND, REPAIR, {"run": 9}), False),
        ((FOUND, REPAIR, {"retest": "coupling-grip", "result": "slips"}, {"run": 9}), False),
        ((FOUND, REPAIR, RETEST, {"run": 9, "recurrences": 1}), False),
        ((FOUND,), False),
    ],
)
def test_only_a_retest_and_hours_prove_a_case(lines: tuple[dict[str, Any], ...], proven: bool) -> None:
    """The retest of that repair passed, hours were run, and the fault stayed away."""
    found = brief(told(*lines))
    assert found is not None
    assert found.proven is proven


def test_another_cause_than_the_one_repaired_is_not_proven() -> None:
    """What was closed with has to be what was repaired."""
    found = brief(told(FOUND, REPAIR, RETEST, {"run": 9}, cause="chafe-to-ground"))
    assert found is not None
    assert not found.proven


def test_an_open_case_and_one_opened_again_have_no_summary() -> None:
    """Only what is closed now counts."""
    closed = told(FOUND, REPAIR, RETEST, {"run": 9})
    assert brief(closed) is not None
    assert brief(Case(closed.events[:-1])) is None
    assert brief(closed.then(Reopened(reason="came back"))) is None


def test_answers_are_those_that_stand() -> None:
    """A corrected answer counts as corrected, one that was left out is none, and the intake is part of it."""
    found = brief(
        told(
            FOUND,
            {"correct": "coupling-grip", "result": "tight"},
            {"skip": "wiggle-harness"},
            intake={"temperature": "hot"},
        )
    )
    assert found is not None
    assert found.answers == {("coupling-grip", "tight"), ("temperature", "hot")}


def test_pauses_are_no_work() -> None:
    """Minutes are counted from entry to entry; a night between two and a clock set back add nothing."""
    times = [0, 10, 30, 30 + 14 * 60, 45 + 14 * 60, 40 + 14 * 60, 50 + 14 * 60]
    events = tuple(Noted(text="x", at=MORNING + timedelta(minutes=t)) for t in times)
    assert worked(Case(events)) == 10 + 20 + 15 + 10
