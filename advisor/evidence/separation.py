"""Which checks tell causes apart, and by how much.

The weight of a result for one cause against another is 10 log10 of the ratio of its chances, in decibans (I. J. Good,
Probability and the Weighing of Evidence, 1950). Only what the rows of the checks say counts here: what load tests, places
and rules tell apart comes on top of it.

Between two causes a check counts when its evidence names both, or when it is a proof of one of them. A check that merely leaves
a cause out has no opinion of it: the row `otherwise` then stands in, and would part the two by accident.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from advisor.evidence.rows import OTHERWISE, row, row_for, row_names, word_values
from advisor.model.knowledge import Cause, Check, Knowledge
from advisor.model.stage import ASK

SEPARATING = 10 * math.log10(4)  # decibans: a result four times as likely for one cause as for the other, 6 dB
RAISING = 10 * math.log10(2)  # decibans: a result that doubles a cause's odds, 3 dB
ROUNDING = 1e-6  # decibans lost when a row is scaled to one


@dataclass(frozen=True)
class Telling:
    """A result of a check, and its weight in decibans: above zero for the first cause, below zero for the second."""

    check: str
    result: str
    decibans: float

    @property
    def strength(self) -> float:
        return abs(self.decibans)

    @property
    def separates(self) -> bool:
        """Whether it parts two causes by 6 dB."""
        return self.strength >= SEPARATING - ROUNDING


def most_telling(check: Check, first: Sequence[float], second: Sequence[float]) -> Telling:
    """The result of a check that tells most between two rows of chances, whichever of the two it speaks for."""
    found = (Telling(check.id, r.id, _weight(a, b)) for r, a, b in zip(check.results, first, second, strict=True))
    return max(found, key=lambda t: t.strength)


def _weight(first: float, second: float) -> float:
    """A result that a row leaves no chance at all counts as if it had one in a million."""
    return 10 * math.log10(max(first, 1e-6) / max(second, 1e-6))


def causes_of(knowledge: Knowledge, complaint: str) -> tuple[Cause, ...]:
    """The causes that can be reported as a complaint, in the order of the knowledge."""
    return tuple(c for c in knowledge.causes.values() if complaint in c.complaints)


class Separation:
    """The checks of a knowledge as rows of chances, computed once; a load test's chances come from its readings."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        used = word_values(knowledge)
        self.checks = tuple(c for c in knowledge.checks.values() if c.at != "section" and c.stage != ASK)
        self.rows = {c.id: {name: row(c, name, used) for name in row_names(c)} for c in self.checks}
        self._pairs: dict[tuple[str, str], tuple[Telling, ...]] = {}
        self._strengths: dict[tuple[str, str], dict[str, float]] = {}

    def chances(self, check: Check, cause: str) -> tuple[float, ...]:
        return self.rows[check.id][row_for(check, self.knowledge.causes[cause]) or OTHERWISE]

    def best(self, first: str, second: str) -> Telling | None:
        """The most telling result between two causes, of the checks that count; None when there is none."""
        return max(self._told(first, second), key=lambda t: t.strength, default=None)

    def strengths(self, first: str, second: str) -> dict[str, float]:
        """Every check that parts two causes by 6 dB, with the decibans by which it does."""
        key = (min(first, second), max(first, second))
        if key not in self._strengths:
            self._strengths[key] = {t.check: t.strength for t in self._told(*key) if t.separates}
        return self._strengths[key]

    def _counts(self, check: Check, first: str, second: str) -> bool:
        causes = self.knowledge.causes
        proves = check.id in causes[first].proof or check.id in causes[second].proof
        return proves or (self._named(check, first) and self._named(check, second))

    def _named(self, check: Check, cause: str) -> bool:
        """Whether a check names a cause, or its kind."""
        return row_for(check, self.knowledge.causes[cause]) not in (None, OTHERWISE)

    def _told(self, first: str, second: str) -> tuple[Telling, ...]:
        key = (first, second)
        if key not in self._pairs:
            counting = (c for c in self.checks if self._counts(c, first, second))
            self._pairs[key] = tuple(most_telling(c, self.chances(c, first), self.chances(c, second)) for c in counting)
        return self._pairs[key]

    def pairs(self, complaint: str) -> Iterable[tuple[str, str, Telling | None]]:
        """Every two causes of a complaint, with what separates them best."""
        for a, b in itertools.combinations(causes_of(self.knowledge, complaint), 2):
            yield a.id, b.id, self.best(a.id, b.id)

    def raising(self, complaint: str) -> dict[str, tuple[Telling, ...]]:
        """For each cause of a complaint the checks with a result that doubles its odds, the most telling first.

        The odds are those against the complaint's other causes together, each as likely as it is met and so reported.
        """
        words = self.knowledge.words
        causes = causes_of(self.knowledge, complaint)
        prior = {c.id: words.frequency[c.frequency] * words.probability[c.complaints[complaint]].used for c in causes}
        found: dict[str, list[Telling]] = {c.id: [] for c in causes}
        for check in self.checks:
            rows = {c.id: self.chances(check, c.id) for c in causes}
            whole = [sum(prior[c] * rows[c][i] for c in rows) for i in range(len(check.results))]
            for cause in (c for c in rows if self._named(check, c)):
                others = [w - prior[cause] * own for w, own in zip(whole, rows[cause], strict=True)]
                rest = sum(others) or 1.0
                told = [
                    Telling(check.id, r.id, _weight(p, o / rest))
                    for r, p, o in zip(check.results, rows[cause], others, strict=True)
                ]
                best = max(told, key=lambda t: t.decibans)
                if best.decibans >= RAISING - ROUNDING:
                    found[cause].append(best)
        return {cause: tuple(sorted(told, key=lambda t: (-t.decibans, t.check))) for cause, told in found.items()}
