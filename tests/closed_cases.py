"""Closed cases made up from a known truth: causes, machines, answers and minutes drawn from a knowledge that is taken as true."""

from __future__ import annotations

import random
from bisect import bisect
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import accumulate

import numpy as np

from advisor.evidence.priors import prior_shares
from advisor.evidence.rows import OTHERWISE, lasts_for, row, row_for, word_values
from advisor.evidence.told import Question, answers, told_row
from advisor.model.knowledge import Cause, Check, Knowledge
from advisor.model.stage import ASK
from advisor.model.summary import Lesson, Shown, Spent, Summary
from advisor.practice.simulated import a_word_off

FREQUENCIES = ("very-rare", "rare", "occasional", "common", "very-common")
SHOWING = (0.3, 0.6, 1.0)
CHECKS = 8  # done in a case: half of them such as name its cause


def off(knowledge: Knowledge, seed: int, words: int, chance: float = 0.5) -> Knowledge:
    """A truth: each probability word and each frequency word moved by one word with this chance, so many times over."""
    rng = np.random.default_rng(seed)
    truth = knowledge
    for _ in range(words):
        truth = a_word_off(truth, rng, chance)
        causes = {}
        for name, cause in truth.causes.items():
            step = int(rng.choice([-1, 1])) if rng.random() < chance else 0
            at = min(max(FREQUENCIES.index(cause.frequency) + step, 0), len(FREQUENCIES) - 1)
            causes[name] = cause.model_copy(update={"frequency": FREQUENCIES[at]})
        truth = truth.model_copy(update={"causes": causes})
    return truth


@dataclass
class Maker:
    """Makes closed cases of one truth. `wrong` of them are closed with another cause than the one that was there."""

    truth: Knowledge
    seed: int = 1
    wrong: float = 0.0
    wrongly: Callable[[str], str] | None = None  # the cause written down instead; None: any other one
    slow: float = 1.0  # real minutes over those of the knowledge
    _draws: dict[tuple[str, str, float], tuple[list[str], list[float]]] = field(default_factory=dict)
    _tells: dict[tuple[str, str], tuple[list[str], list[float]]] = field(default_factory=dict)
    _named: dict[str, list[Check]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.dice = random.Random(self.seed)
        possible = {c for cause in self.truth.causes.values() for c in cause.complaints}
        self.complaints = [c for c in self.truth.complaints if c in possible]
        self.checks = [c for c in self.truth.checks.values() if c.stage != ASK and c.at != "section"]
        self.questions = [q for q in (*self.truth.intake.values(), *self.truth.checks.values()) if q.machine and not q.many]
        self.shares = {c: prior_shares(self.truth, c) for c in self.complaints}

    def made(self, count: int) -> Iterator[Summary]:
        """So many closed and proven cases."""
        return (self.one(number) for number in range(count))

    def one(self, number: int, complaint: str = "", cause: str = "") -> Summary:
        complaint = complaint or self.dice.choice(self.complaints)
        shares = self.shares[complaint]
        cause = cause or self.dice.choices(list(shares), list(shares.values()))[0]
        there = self.truth.causes[cause]
        written = there
        if self.dice.random() < self.wrong:
            others = [c for c in self.truth.causes if c != cause]
            written = self.truth.causes[self.wrongly(cause) if self.wrongly else self.dice.choice(others)]
        shown, given = [], []
        for check in self._chosen(there):
            lasts = lasts_for(check, there)
            showing = 1.0 if lasts else self.dice.choice(SHOWING)
            result = self._drawn(check, there, showing)
            given.append((check.id, result))
            named = row_for(check, written)
            if named is not None:
                shown.append(Shown(check.id, named, result, 1.0 if lasts_for(check, written) else showing))
        spent = [Spent("check", s, self._took(self.truth.checks[s].minutes)) for s, _ in given]
        spent.append(Spent("repair", written.id, self._took(there.repair.minutes)))
        features = tuple((q.id, self._told(q, there)) for q in self.questions)
        decided = tuple((s, self.dice.random() < 0.3) for s, _ in given)
        repairs = 1 if self.dice.random() < 0.8 else 2
        lesson = Lesson("", features, tuple(shown), tuple(spent), decided, repairs, repairs > 1)
        month, day = number % 24, number % 28 + 1
        closed = f"{2030 + month // 12}-{month % 12 + 1:02d}-{day:02d}T07:30:00+00:00"
        return Summary(
            f"2031{number:012d}-a2", complaint, f"Machine {number % 7} (invented)", written.id, None, True,
            sum(s.minutes for s in spent), closed, frozenset(given), "", lesson,
        )  # fmt: skip

    def _chosen(self, cause: Cause) -> list[Check]:
        if cause.id not in self._named:
            self._named[cause.id] = [c for c in self.checks if row_for(c, cause) not in (None, OTHERWISE)]
        named = self._named[cause.id]
        first = self.dice.sample(named, min(CHECKS // 2, len(named)))
        rest = self.dice.sample(self.checks, min(CHECKS - len(first), len(self.checks)))
        return list({c.id: c for c in (*first, *rest)}.values())

    def _drawn(self, check: Check, cause: Cause, showing: float) -> str:
        key = (check.id, cause.id, showing)
        if key not in self._draws:
            used, wrong = word_values(self.truth), self.truth.words.wrong_answer
            other = row(check, OTHERWISE, used)
            own = row(check, row_for(check, cause) or OTHERWISE, used)
            chances = [wrong / len(own) + (1 - wrong) * (showing * a + (1 - showing) * b) for a, b in zip(own, other, strict=True)]
            self._draws[key] = [r.id for r in check.results], list(accumulate(chances))
        names, upto = self._draws[key]
        return names[min(bisect(upto, self.dice.random() * upto[-1]), len(names) - 1)]

    def _told(self, question: Question, cause: Cause) -> str:
        key = (question.id, cause.id)
        if key not in self._tells:
            chances = told_row(question, cause, self.truth.words)
            self._tells[key] = list(answers(question)), list(accumulate(chances.values()))
        names, upto = self._tells[key]
        return self.dice.choices(names, cum_weights=upto)[0]

    def _took(self, minutes: float) -> float:
        return max(0.5, minutes) * self.slow * self.dice.lognormvariate(0.0, 0.4)
