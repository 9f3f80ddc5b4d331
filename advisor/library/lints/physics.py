"""Do checks that see one and the same thing agree on what shows it?

A cause that is likely in one of them and unlikely in the other is right in one of them at the most, unless a reason says why.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import combinations

from advisor.evidence.rows import row, row_for, word_values
from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Cause, Check, Knowledge, SamePhysics


def checks_that_contradict(k: Knowledge) -> Iterator[Issue]:
    """For checks declared to see the same, no cause is likely in one and unlikely in another without its reason."""
    used = word_values(k)
    for entry in k.same_physics.values():
        apart = dict(_apart(k, entry, used))
        for cause, said in apart.items():
            if cause not in entry.differs:
                yield Issue("same-physics", f"'{entry.id}': '{cause}' {said}; correct one, or say why under differs")
        for cause in entry.differs:
            if cause not in apart:
                yield Issue("same-physics", f"'{entry.id}' gives a reason for '{cause}', and its checks agree on it")


def _apart(k: Knowledge, entry: SamePhysics, used: dict[str, float]) -> Iterator[tuple[str, str]]:
    for cause in k.causes.values():
        chances = {name: _chance(k.checks[name], results, cause, used) for name, results in entry.checks.items()}
        for a, b in combinations([n for n, c in chances.items() if c is not None], 2):
            low, high = sorted((a, b), key=lambda name: chances[name] or 0.0)
            if (chances[high] or 0.0) >= used["likely"] and (chances[low] or 0.0) <= used["unlikely"]:
                yield cause.id, f"is likely in '{high}' and unlikely in '{low}'"
                break


def _chance(check: Check, results: tuple[str, ...], cause: Cause, used: dict[str, float]) -> float | None:
    """How likely the cause shows itself by one of these results; None where the check says nothing of it."""
    name = row_for(check, cause)
    if name is None:
        return None
    return round(sum(p for p, r in zip(row(check, name, used), check.results, strict=True) if r.id in results), 6)


def families_of_one(k: Knowledge) -> Iterator[Issue]:
    """A family is of two checks and more: a name that only one has was meant for another."""
    counted = Counter(c.family for c in k.checks.values() if c.family is not None)
    for check in k.checks.values():
        if check.family is not None and counted[check.family] == 1:
            yield Issue("lone-family", f"'{check.id}' alone is of the family '{check.family}'")


LINTS: tuple[Lint, ...] = (checks_that_contradict, families_of_one)
