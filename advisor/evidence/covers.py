"""The fewest checks that tell one cause from all the others of its complaint, found greedily."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.evidence.separation import Separation, causes_of

NOTICED = 0.1  # decibans by which a cause must be nearer than the next to be named as the nearest
ENOUGH = 10.0  # decibans, ten to one: more makes no check more welcome


@dataclass(frozen=True)
class Cover:
    """A check that parts a cause from these others; `least` is the weight in decibans that it has at least."""

    check: str
    others: tuple[str, ...]
    least: float


@dataclass(frozen=True)
class Nearest:
    """The other cause that is hardest to tell from a cause, and the check that does it best."""

    other: str
    check: str
    decibans: float


@dataclass(frozen=True)
class Apart:
    """How a cause is told from the others of a complaint: check after check, and what is left together with it."""

    cause: str
    among: int  # other causes of the complaint
    covers: tuple[Cover, ...]
    together: tuple[str, ...]
    nearest: Nearest | None  # None when several are equally near


def apart(separation: Separation, complaint: str) -> tuple[Apart, ...]:
    """Every cause of a complaint: first the check that parts it from most of the others, then the one for most of the rest.

    A check counts for the sum of its weights, each up to 10 decibans: one that parts all by little comes after one that parts
    nearly all by much.
    """
    causes = [c.id for c in causes_of(separation.knowledge, complaint)]
    return tuple(_of_one(separation, cause, [c for c in causes if c != cause]) for cause in causes)


def _of_one(separation: Separation, cause: str, others: list[str]) -> Apart:
    reach: dict[str, dict[str, float]] = {}
    for other in others:
        for check, strength in separation.strengths(cause, other).items():
            reach.setdefault(check, {})[other] = strength
    left = dict.fromkeys(others)
    covers: list[Cover] = []
    while True:
        here = {check: {o: db for o, db in parted.items() if o in left} for check, parted in reach.items()}
        usable = {check: parted for check, parted in here.items() if parted}
        if not usable:
            return Apart(cause, len(others), tuple(covers), tuple(left), _nearest(separation, cause, others))
        best = max(
            sorted(usable), key=lambda check: (sum(min(db, ENOUGH) for db in usable[check].values()), min(usable[check].values()))
        )
        parted = usable[best]
        covers.append(Cover(best, tuple(parted), min(parted.values())))
        for other in parted:
            del left[other]


def _nearest(separation: Separation, cause: str, others: list[str]) -> Nearest | None:
    found = [(best.strength, other, best.check) for other in others if (best := separation.best(cause, other)) is not None]
    found.sort()
    if len(found) < 2 or found[1][0] - found[0][0] < NOTICED:
        return None
    strength, other, check = found[0]
    return Nearest(other, check, strength)
