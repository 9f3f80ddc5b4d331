"""What closed cases add up to: counts to learn from, and figures for the foreman."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Timed = tuple[str, str]  # "check" or "repair", and which


@dataclass(frozen=True)
class Took:
    """How often something was timed; sum and sum of squares of the logarithm of minutes over what the knowledge gives it."""

    times: int
    total: float
    squares: float


@dataclass(frozen=True)
class Tally:
    """Counts of the cases that are learned from; `unfit` counts the others by why they are not."""

    closed: int = 0
    fit: int = 0
    until: str = ""  # the day on which the newest of them was closed
    unfit: Mapping[str, int] = field(default_factory=dict)
    causes: Mapping[str, Mapping[str, int]] = field(default_factory=dict)  # by complaint
    features: Mapping[tuple[str, str, str], Mapping[str, int]] = field(default_factory=dict)  # complaint, question, answer
    shown: Mapping[tuple[str, str], tuple[tuple[str, float, int], ...]] = field(
        default_factory=dict
    )  # check, row: result, q, cases
    took: Mapping[Timed, Took] = field(default_factory=dict)


@dataclass(frozen=True)
class Month:
    """The cases closed in one month; `timed` minutes really taken, and `planned` by the knowledge for the same work."""

    month: str
    closed: int
    proven: int
    first_right: int  # proven, and by the first repair
    came_back: int  # the fault was there again after a repair
    minutes: float  # worked, in all
    timed: float
    planned: float


@dataclass(frozen=True)
class Pace:
    """How long a check or a repair really takes: the middle of the logarithms, minutes."""

    kind: str
    what: str
    times: int
    minutes: float
    planned: float


@dataclass(frozen=True)
class Decided:
    """A check, how often it was done, and how often another cause would have led without it."""

    check: str
    done: int
    changed: int


@dataclass(frozen=True)
class ShopFigures:
    """What a shop's closed cases add up to."""

    closed: int = 0
    months: tuple[Month, ...] = ()
    causes: tuple[tuple[str, str, int], ...] = ()  # month, cause, cases
    machines: tuple[tuple[str, str, int], ...] = ()  # machine, cause, cases
    paces: tuple[Pace, ...] = ()
    checks: tuple[Decided, ...] = ()
