"""Where the minutes of a case went, step by step: the knowledge's minutes, except for repairs whose time was written down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from advisor.model.case import SetupChanged
from advisor.record.ledger import LOAD_TEST, SetupRow, work
from advisor.record.material import Material, utc

Kind = Literal["check", "setup", "repair"]


@dataclass(frozen=True)
class StepMinutes:
    """What one step took. Step None stands for the setups that were needed and not written down, or are still to be undone."""

    step: int | None
    title: str
    kind: Kind
    minutes: float


@dataclass(frozen=True)
class Minutes:
    """The sums of the steps' minutes by kind."""

    checks: int
    checks_minutes: float
    setups_minutes: float
    repairs_minutes: float
    total: float
    elapsed: float | None  # minutes from the first to the last event that has a time
    steps: tuple[StepMinutes, ...]


def minutes(m: Material, rows: tuple[SetupRow, ...]) -> Minutes:
    """Minutes by step and by kind."""
    steps = _steps(m, rows)
    times = [utc(e.at) for e in m.case.events if e.at is not None]
    elapsed = (max(times) - min(times)).total_seconds() / 60 if len(times) > 1 else None
    spent: dict[Kind, float] = {kind: sum(s.minutes for s in steps if s.kind == kind) for kind in ("check", "setup", "repair")}
    count = sum(s.kind == "check" for s in steps)
    return Minutes(count, spent["check"], spent["setup"], spent["repair"], sum(spent.values()), elapsed, steps)


def _steps(m: Material, rows: tuple[SetupRow, ...]) -> tuple[StepMinutes, ...]:
    found = []
    for number, title, entry in work(m):
        if number in m.state.repairs:
            found.append(StepMinutes(number, title, "repair", _repair_minutes(m, number)))
        else:
            found.append(StepMinutes(number, title, "check", _check_minutes(entry)))
    for number, event in enumerate(m.case.events):
        if isinstance(event, SetupChanged):
            entry = m.knowledge.setups.get(event.setup)
            taken = 0.0 if entry is None else entry.enter if event.entered else entry.leave
            title = f"{'Made' if event.entered else 'Undone'}: {m.setup_title(event.setup)}"
            found.append(StepMinutes(number, title, "setup", taken))
    found.sort(key=lambda s: -1 if s.step is None else s.step)
    whole = sum(max(row.times, 1) * (row.enter + row.leave) for row in rows)
    rest = whole - sum(s.minutes for s in found if s.kind == "setup")
    return (*found, StepMinutes(None, "Setups not written down or still to undo", "setup", rest)) if rest > 0 else tuple(found)


def _check_minutes(entry: object) -> float:
    """A load test counts as the planner counts it: with the circuit already apart."""
    from advisor.consultation.actions import LOAD_TEST_MINUTES
    from advisor.model.knowledge import Check

    assert isinstance(entry, Check)
    return LOAD_TEST_MINUTES if entry.id == LOAD_TEST else entry.minutes


def _repair_minutes(m: Material, number: int) -> float:
    repair = m.state.repairs[number]
    entry = m.knowledge.causes.get(repair.cause)
    return repair.minutes if repair.minutes is not None else entry.repair.minutes if entry else 0.0
