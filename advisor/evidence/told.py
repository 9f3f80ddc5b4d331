"""What the operator tells as evidence: how likely an answer is for a cause.

An answer that is told with chance u whatever the cause, and f times as often with this one, has the chance u f, divided by
the sum over all answers. Where several answers can be true each is told or not told by itself: its odds are f times the
usual ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from advisor.model.knowledge import Cause, Result
from advisor.model.words import Words

UNTOLD = 0.5  # strength, in log terms, of an answer of several that was not told; a judgement, no source


class Question(Protocol):
    """A question to the operator: of the intake, or a check of the stage `ask`."""

    @property
    def id(self) -> str: ...
    @property
    def results(self) -> tuple[Result, ...]: ...
    @property
    def many(self) -> bool: ...
    @property
    def no_difference(self) -> tuple[str, ...]: ...


def answers(question: Question) -> tuple[str, ...]:
    """The answers that are evidence; one such as 'not known' has no usual chance and says nothing."""
    return tuple(r.id for r in question.results if r.usual is not None)


def usual(question: Question) -> dict[str, float]:
    """How often each answer is given, whatever the cause; where only one can be true they sum to one."""
    given = {r.id: float(r.usual) for r in question.results if r.usual is not None}
    whole = 1.0 if question.many else sum(given.values())
    return {answer: chance / whole for answer, chance in given.items()}


def factors(question: Question, cause: Cause, words: Words) -> dict[str, float]:
    """How much more often than usual each answer is told with a cause; 0 where the machine could not have the cause."""
    told = cause.told.get(question.id, {})
    fits = cause.needs_feature.get(question.id)
    found = {}
    for answer in answers(question):
        word = told.get(answer)
        excluded = fits is not None and answer not in fits
        found[answer] = 0.0 if excluded else 1.0 if word is None else words.factor[word]
    return found


def told_row(question: Question, cause: Cause | None, words: Words) -> dict[str, float]:
    """P(answer | cause), answer by answer; for a cause not on the list, the usual chances.

    Where one answer is true they sum to one; else each is the chance that this answer is among those told. An answer may be
    wrong: then it is as usual.
    """
    base = usual(question)
    if cause is None:
        return base
    times = factors(question, cause, words)
    if question.many:
        own = {a: b * times[a] / (1 - b + b * times[a]) for a, b in base.items()}
    else:
        whole = sum(b * times[a] for a, b in base.items())
        own = {a: b * times[a] / whole if whole else b for a, b in base.items()}
    wrong = words.wrong_answer
    return {a: wrong * base[a] + (1 - wrong) * own[a] for a in base}


def told_rows(question: Question, causes: Mapping[str, Cause | None], words: Words) -> dict[str, dict[str, float]]:
    """`told_row` for many causes; those that say nothing of the question, as most do, share one."""
    found: dict[str, dict[str, float]] = {}
    silent: dict[str, float] | None = None
    for name, cause in causes.items():
        if cause is None or question.id in cause.told or question.id in cause.needs_feature:
            found[name] = told_row(question, cause, words)
        else:
            silent = told_row(question, cause, words) if silent is None else silent
            found[name] = silent
    return found


def told_chance(question: Question, given: Sequence[str], row: dict[str, float]) -> float:
    """How likely just these answers are, from a row; 1 where none of them is evidence. Of several, the untold count half.

    Whoever says that it comes in the wet and in the dry says that water makes no difference: the two together tell nothing.
    """
    if not question.many:
        return row.get(given[0], 1.0) if given else 1.0
    if not any(a in row for a in given):
        return 1.0
    alike = question.no_difference
    silent = alike if alike and set(alike) <= set(given) else ()
    chance = 1.0
    for answer, p in row.items():
        if answer not in silent:
            chance *= p if answer in given else (1 - p) ** UNTOLD
    return chance
