"""How alike two cases are: the cosine of what was answered, each answer weighed by what it is worth as evidence.

The weight of an answer is the largest change of odds, in decibans, that it makes for any cause (I. J. Good, Probability and
the Weighing of Evidence, 1950). So a shared answer that tells nothing makes no two cases alike. The cosine of weighted
vectors is the measure of Salton, Wong and Yang, A vector space model for automatic indexing, Comm. ACM 18, 1975.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping

from advisor.evidence.rows import OTHERWISE, row, row_names, word_values
from advisor.evidence.told import Question, answers, told_row, usual
from advisor.model.knowledge import Knowledge
from advisor.model.stage import ASK
from advisor.model.summary import Given

LIKE = 0.5  # from this likeness on a case is told as one like this; a judgement, no source


def weights(knowledge: Knowledge) -> dict[Given, float]:
    """What each answer of each check and question is worth at most, in decibans; answers that say nothing are left out."""
    used = word_values(knowledge)
    found: dict[Given, float] = {}
    asked: list[Question] = [*knowledge.intake.values(), *(c for c in knowledge.checks.values() if c.stage == ASK)]
    for question in asked:
        base = usual(question)
        told = [c for c in knowledge.causes.values() if question.id in c.told]
        rows = [told_row(question, cause, knowledge.words) for cause in told]
        for answer in answers(question):
            found[question.id, answer] = max((_decibans(r[answer], base[answer]) for r in rows), default=0.0)
    for check in knowledge.checks.values():
        if check.stage == ASK:
            continue
        base_row = row(check, OTHERWISE, used)
        chances = [row(check, name, used) for name in row_names(check)]
        for n, result in enumerate(check.results):
            found[check.id, result.id] = max(_decibans(r[n], base_row[n]) for r in chances)
    return {key: weight for key, weight in found.items() if weight > 0}


def _decibans(one: float, other: float) -> float:
    return abs(10 * math.log10(max(one, 1e-6) / max(other, 1e-6)))


def likeness(one: Collection[Given], other: Collection[Given], worth: Mapping[Given, float]) -> float:
    """The cosine of two cases' answers, 0 to 1; 0 when either has no answer that tells anything."""
    a, b = (sum(worth.get(g, 0.0) ** 2 for g in answers) for answers in (one, other))
    shared = sum(worth.get(g, 0.0) ** 2 for g in set(one) & set(other))
    return shared / math.sqrt(a * b) if a and b else 0.0
