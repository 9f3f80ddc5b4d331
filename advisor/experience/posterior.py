"""Shares learned from counts: Dirichlet posteriors centred on what the words say, and whether they predict better.

A share that the words give as s_i counts as W s_i cases beside the n_i that were counted: the posterior mean is
(W s_i + n_i) / (W + N). One case more moves no posterior share by more than 1 / (W + 1). How well shares predict is their
leave-one-out log score: each case in turn is foretold from all the others, in nats (natural logarithms).

The Dirichlet distribution as the conjugate of the multinomial, and its predictive chances: A. Gelman et al., Bayesian Data
Analysis, 3rd edition, 2013, section 3.4. The leave-one-out score: S. Geisser and W. F. Eddy, J. Am. Stat. Assoc. 74, 1979.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

ROUNDS = 60  # of the search for hidden counts; each halves what is left, or better
NATS = 2.0  # of gain at which learned shares are trusted to 63 %, at twice that to 86 %; a judgement, no source
STRENGTHS = tuple(20 * 1.25**i for i in range(40))  # cases that the common shares count for in a group, 20 to 120,000


@dataclass(frozen=True)
class Learned:
    """Shares in force, and the leave-one-out log scores of the shipped and of the learned ones, in nats.

    `trust` is how far the learned shares are taken: 0 leaves the shipped as they are.
    """

    shares: tuple[float, ...]
    cases: float
    shipped_score: float
    learned_score: float

    @property
    def gain(self) -> float:
        return self.learned_score - self.shipped_score

    @property
    def score(self) -> float:
        """The least that the shares in force score: they lie between both, and the logarithm is concave."""
        return self.shipped_score + self.trust * self.gain

    @property
    def trust(self) -> float:
        return trust(self.gain)


def trust(gain: float) -> float:
    """How far learned shares are taken, 0 to 1: not at all where they predict no better, and by steps without a jump."""
    return 0.0 if gain <= 0 else 1 - math.exp(-gain / NATS)


def mean(centre: Floats, counts: Floats, weight: float) -> Floats:
    """The posterior mean of the shares: the centre counts for so many cases."""
    found: Floats = (weight * centre + counts) / (weight + counts.sum())
    return found


def learn(centre: Floats, counts: Floats, weight: float) -> Learned:
    """Shares from counts of cases; `centre` are the shipped ones, all above zero, that sum to one."""
    import numpy as np

    total, seen = counts.sum(), counts > 0
    shipped = float((counts[seen] * np.log(centre[seen])).sum())
    before = (weight * centre + counts - 1)[seen] / (weight + total - 1)  # without the case foretold
    learned = float((counts[seen] * np.log(before)).sum())
    return _taken(centre, mean(centre, counts, weight), float(total), shipped, learned)


def learn_row(centre: Floats, otherwise: Floats, wrong: float, seen: Sequence[tuple[int, float, int]], weight: float) -> Learned:
    """The row of a check from what was seen: (result, chance that the fault showed, cases).

    Only part of what is seen is of the row: with chance q the fault showed, else `otherwise` speaks, and with chance `wrong`
    an answer is anything. How much of each case is of the row is found by expectation and maximisation (Dempster, Laird and
    Rubin, J. R. Stat. Soc. B 39, 1977), so what the row counts are parts of cases.
    """
    import numpy as np

    seen = [one for one in seen if one[2]]
    if not seen:
        return Learned(tuple(map(float, centre)), 0.0, 0.0, 0.0)
    result = np.array([r for r, _, _ in seen], dtype=np.intp)
    shows = np.array([q for _, q, _ in seen])
    cases = np.array([n for _, _, n in seen], dtype=float)
    floor = wrong / len(centre) + (1 - wrong) * (1 - shows) * otherwise[result]

    def chances(row: Floats) -> Floats:
        found: Floats = floor + (1 - wrong) * shows * row[result]
        return found

    row = centre
    for _ in range(ROUNDS):
        part = (1 - wrong) * shows * row[result] / chances(row)
        counts = np.bincount(result, cases * part, minlength=len(centre))
        row = mean(centre, counts.astype(float), weight)
    part = (1 - wrong) * shows * row[result] / chances(row)
    counts = np.bincount(result, cases * part, minlength=len(centre))
    without = (weight * centre[result] + counts[result] - part) / (weight + counts.sum() - part)
    learned = float((cases * np.log(floor + (1 - wrong) * shows * without)).sum())
    shipped = float((cases * np.log(chances(centre))).sum())
    return _taken(centre, row, float(cases.sum()), shipped, learned)


def _taken(centre: Floats, own: Floats, cases: float, shipped: float, learned: float) -> Learned:
    part = trust(learned - shipped)
    shares = (1 - part) * centre + part * own
    return Learned(tuple(map(float, shares / shares.sum())), cases, shipped, learned)


# ---- groups that share strength


@dataclass(frozen=True)
class Pooled:
    """Groups drawn to what is common to them; `strength` is how many cases of its own the common shares count for in each."""

    strength: float
    shares: tuple[tuple[float, ...], ...]  # by group
    gain: float  # of the leave-one-out log score over the common shares alone, nats


def evidence(centres: Floats, counts: Floats, strength: float) -> float:
    """Log likelihood of counts, (groups, shares), when each group's shares are drawn around its centre, nats.

    The Dirichlet-multinomial distribution without its constant: J. E. Mosimann, Biometrika 49, 1962.
    """
    seen = counts > 0
    pairs = zip(centres[seen].tolist(), counts[seen].tolist(), strict=True)
    inside = sum(math.lgamma(strength * c + n) - math.lgamma(strength * c) for c, n in pairs)
    return inside + sum(math.lgamma(strength) - math.lgamma(strength + n) for n in counts.sum(axis=1).tolist())


def strongest(centres: Floats, counts: Floats, strengths: Sequence[float] = STRENGTHS) -> float:
    """The strength that makes the counts of all groups likeliest: groups that differ little are drawn together much.

    Empirical Bayes, as in B. Efron and C. Morris, J. Am. Stat. Assoc. 70, 1975.
    """
    return max(strengths, key=lambda s: evidence(centres, counts, s))


def pool(centres: Floats, counts: Floats, strengths: Sequence[float] = STRENGTHS) -> Pooled:
    """Shares of each group, (groups, shares), between its own counts and its centre."""
    import numpy as np

    strength = strongest(centres, counts, strengths)
    gain, means = 0.0, []
    for centre, own in zip(centres, counts, strict=True):
        seen = own > 0
        before = (strength * centre + own - 1)[seen] / (strength + own.sum() - 1)
        gain += float((own[seen] * (np.log(before) - np.log(centre[seen]))).sum())
        means.append(mean(centre, own, strength))
    part = trust(gain)
    shares = [tuple(map(float, (1 - part) * c + part * m)) for c, m in zip(centres, means, strict=True)]
    return Pooled(strength, tuple(shares), gain)


# ---- minutes


@dataclass(frozen=True)
class Timed:
    """Minutes that something takes, learned from how long it took; squared errors of the logarithm, each left out in turn."""

    minutes: float
    times: int
    shipped_error: float
    learned_error: float


def learn_minutes(shipped: float, times: int, total: float, squares: float, weight: float) -> Timed:
    """Minutes from the sum and the sum of squares of ln(took / shipped), the shipped counting for so many times."""
    whole = weight + times
    middle = total / whole
    # With one left out the middle is (total - x) / (whole - 1): its error is (whole x - total) / (whole - 1).
    learned = (whole**2 * squares - 2 * whole * total * total + times * total**2) / (whole - 1) ** 2
    part = trust((squares - learned) / 2 / SPREAD**2)
    return Timed(shipped * math.exp(part * middle), times, squares, learned)


SPREAD = 0.5  # standard deviation of the logarithm of minutes that one job takes; a judgement, no source
