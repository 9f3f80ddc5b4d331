"""Probability words to numbers: how likely each result of a check is for a cause."""

from __future__ import annotations

from advisor.model.knowledge import Check, Knowledge

OTHERWISE = "otherwise"


def word_values(knowledge: Knowledge) -> dict[str, float]:
    """The one value that each probability word has in arithmetic."""
    return {word: band.used for word, band in knowledge.words.probability.items()}


def row(check: Check, cause: str, used: dict[str, float]) -> tuple[float, ...]:
    """P(result | cause) for the check's results in order; they sum to one.

    Results that the cause's row does not name share what is left in proportion to the row `otherwise`; there, equally.
    `used` gives the value of each probability word.
    """
    ids = [r.id for r in check.results]
    otherwise = _spread(ids, {r: used[w] for r, w in check.evidence.get(OTHERWISE, {}).items()}, [1.0] * len(ids))
    words = check.evidence.get(cause)
    if words is None:
        return tuple(otherwise)
    return tuple(_spread(ids, {r: used[w] for r, w in words.items()}, otherwise))


def _spread(ids: list[str], named: dict[str, float], shape: list[float]) -> list[float]:
    rest = max(0.0, 1.0 - sum(named.values()))
    unnamed = sum(s for r, s in zip(ids, shape, strict=True) if r not in named)
    values = [named[r] if r in named else (rest * s / unnamed if unnamed else 0.0) for r, s in zip(ids, shape, strict=True)]
    total = sum(values)
    return [v / total for v in values]


def row_names(check: Check) -> tuple[str, ...]:
    """The causes that a check names, and `otherwise`."""
    return tuple(check.evidence) if OTHERWISE in check.evidence else (*check.evidence, OTHERWISE)
