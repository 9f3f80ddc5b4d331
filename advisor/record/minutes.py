"""Where the minutes of a case went, step by step: the knowledge's minutes, except for repairs whose time was written down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from advisor.model.case import Moved
from advisor.record.ledger import LOAD_TEST, work
from advisor.record.material import Material, utc

Kind = Literal["check", "move", "repair"]


@dataclass(frozen=True)
class StepMinutes:
    """What one step took."""

    step: int
    title: str
    kind: Kind
    minutes: float


@dataclass(frozen=True)
class Minutes:
    """The sums of the steps' minutes by kind."""

    checks: int
    checks_minutes: float
    moves_minutes: float
    repairs_minutes: float
    total: float
    elapsed: float | None  # minutes from the first to the last event that has a time
    steps: tuple[StepMinutes, ...]


def minutes(m: Material) -> Minutes:
    """Minutes by step and by kind."""
    steps = _steps(m)
    times = [utc(e.at) for e in m.case.events if e.at is not None]
    elapsed = (max(times) - min(times)).total_seconds() / 60 if len(times) > 1 else None
    spent: dict[Kind, float] = {kind: sum(s.minutes for s in steps if s.kind == kind) for kind in ("check", "move", "repair")}
    count = sum(s.kind == "check" for s in steps)
    return Minutes(count, spent["check"], spent["move"], spent["repair"], sum(spent.values()), elapsed, steps)


def _steps(m: Material) -> tuple[StepMinutes, ...]:
    found = []
    for number, title, entry in work(m):
        if number in m.state.repairs:
            found.append(StepMinutes(number, title, "repair", _repair_minutes(m, number)))
        else:
            found.append(StepMinutes(number, title, "check", _check_minutes(entry)))
    for number, event in enumerate(m.case.events):
        if isinstance(event, Moved) and event.move is not None and number not in m.state.withdrawn:
            entry = m.knowledge.moves.get(event.move)
            found.append(StepMinutes(number, m.move_title(event.move, event.point), "move", entry.minutes if entry else 0.0))
    return tuple(sorted(found, key=lambda s: s.step))


def _check_minutes(entry: object) -> float:
    """A load test counts as the planner counts it: with the circuit apart and the leads in place."""
    from advisor.consultation.actions import READING_MINUTES
    from advisor.model.knowledge import Check

    assert isinstance(entry, Check)
    return READING_MINUTES if entry.id == LOAD_TEST else entry.minutes


def _repair_minutes(m: Material, number: int) -> float:
    repair = m.state.repairs[number]
    entry = m.knowledge.causes.get(repair.cause)
    return repair.minutes if repair.minutes is not None else entry.repair.minutes if entry else 0.0
