"""Probability words, or numbers counted from cases, to how likely each result of a check is for a cause."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.model.knowledge import ALL, Cause, Check, Knowledge
from advisor.model.words import ProbabilityWord

OTHERWISE = "otherwise"


def word_values(knowledge: Knowledge) -> dict[str, float]:
    """The one value that each probability word has in arithmetic."""
    return {word: band.used for word, band in knowledge.words.probability.items()}


def rows(check: Check, used: dict[str, float]) -> list[tuple[float, ...]]:
    """The `row` of each of a check's `row_names`."""
    shape = otherwise_row(check, used)
    return [row_by(check, name, check.evidence.get(name), used, shape) for name in row_names(check)]


def row(check: Check, name: str, used: dict[str, float]) -> tuple[float, ...]:
    """P(result | cause, the fault shows) for the check's results in order; they sum to one.

    `name` is a cause or a kind that the check names; anything else gets the row `otherwise`. Results that a row does not name
    share what is left in proportion to the row `otherwise`; there, equally. `used` gives the value of each probability word.
    Numbers that were counted from closed cases stand in place of the words.
    """
    return row_by(check, name, check.evidence.get(name), used, otherwise_row(check, used))


def otherwise_row(check: Check, used: dict[str, float]) -> tuple[float, ...]:
    """The row `otherwise` by its words."""
    named = {r: used[w] for r, w in check.evidence.get(OTHERWISE, {}).items()}
    return _spread([r.id for r in check.results], named, [1.0] * len(check.results))


def row_by(
    check: Check, name: str, words: Mapping[str, ProbabilityWord] | None, used: dict[str, float], otherwise: tuple[float, ...]
) -> tuple[float, ...]:
    """`row` as if these were the words of it; with the row `otherwise`, for many rows of one check."""
    ids = [r.id for r in check.results]
    counted = check.counted.get(name if name in check.evidence else OTHERWISE)
    if counted is not None:
        return tuple(counted[r] for r in ids)
    if words is None or name == OTHERWISE:
        return otherwise
    return _spread(ids, {r: used[w] for r, w in words.items()}, otherwise)


def _spread(ids: list[str], named: dict[str, float], shape: Sequence[float]) -> tuple[float, ...]:
    rest = max(0.0, 1.0 - sum(named.values()))
    unnamed = sum(s for r, s in zip(ids, shape, strict=True) if r not in named)
    values = [named[r] if r in named else (rest * s / unnamed if unnamed else 0.0) for r, s in zip(ids, shape, strict=True)]
    total = sum(values)
    return tuple(v / total for v in values)


def row_names(check: Check) -> tuple[str, ...]:
    """The causes and kinds that a check names, and `otherwise`."""
    return tuple(check.evidence) if OTHERWISE in check.evidence else (*check.evidence, OTHERWISE)


def row_for(check: Check, cause: Cause) -> str | None:
    """The row that speaks of a cause: its own, else its kind's, else `otherwise` where that is meant for it.

    None: the check has no opinion of this cause, and its answer is no evidence for or against it.
    """
    if cause.id in check.evidence:
        return cause.id
    if cause.kind in check.evidence:
        return cause.kind
    return OTHERWISE if check.covers == ALL or cause.kind in check.covers else None


def lasts_for(check: Check, cause: Cause) -> bool:
    """Whether what a check looks for is there for this cause although the fault does not show."""
    return check.lasts if isinstance(check.lasts, bool) else cause.id in check.lasts or cause.kind in check.lasts
