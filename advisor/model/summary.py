"""A closed case in brief: what was answered, what cured it, and how long it took."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Given = tuple[str, str]  # a check or a question of the intake, and its result


@dataclass(frozen=True)
class Shown:
    """What a check showed of the cause that was there, by the row that speaks of it; the chance that the fault showed then."""

    check: str
    row: str
    result: str
    showing: float


@dataclass(frozen=True)
class Spent:
    """Minutes that a check or a repair really took."""

    kind: Literal["check", "repair"]
    what: str
    minutes: float


@dataclass(frozen=True)
class Lesson:
    """What a closed case teaches. `unfit` says why its cause is not learned from; empty when it is."""

    unfit: str = ""
    features: tuple[Given, ...] = ()  # what is known of the machine
    shown: tuple[Shown, ...] = ()
    spent: tuple[Spent, ...] = ()
    decided: tuple[tuple[str, bool], ...] = ()  # each check that was done, and whether another cause would lead without it
    repairs: int = 0
    came_back: bool = False  # after some repair the fault was there again


@dataclass(frozen=True)
class Summary:
    """What other cases are compared with. No names of people; `words` is free text, and stays in the shop."""

    case_id: str
    complaint: str
    machine: str  # title of the machine file; empty without one
    cause: str | None  # as it was closed; None: closed with no cause
    place: str | None
    proven: bool  # the repair of this cause passed its retest, and hours were run without the fault
    minutes: float  # worked on it; see experience/closed.py
    closed: str  # when, ISO 8601, UTC
    answers: frozenset[Given]
    words: str
    lesson: Lesson = Lesson()


@dataclass(frozen=True)
class Alike:
    """A closed case beside the one in hand; `likeness` is 1 for the same answers, 0 for none in common."""

    case_id: str
    likeness: float
    machine: str
    cause: str | None
    place: str | None
    proven: bool
    minutes: float
    closed: str
