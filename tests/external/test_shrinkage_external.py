"""Drawing groups together against a published example and a reference library.

The data: eighteen batters of 1970, hits in their first 45 tries, and their average over the rest of the season. B. Efron and
C. Morris, Data analysis using Stein's estimator and its generalizations, J. Am. Stat. Assoc. 70, 1975, 311-319; also
B. Efron and C. Morris, Stein's paradox in statistics, Scientific American 236, May 1977.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from scipy.stats import betabinom

from advisor.experience.posterior import mean, strongest

TRIES = 45
HITS = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7], dtype=float)
REST = np.array(
    [0.346, 0.298, 0.276, 0.222, 0.273, 0.270, 0.263, 0.210, 0.269, 0.230, 0.264, 0.256, 0.303, 0.264, 0.226, 0.285, 0.316, 0.200]
)
STRENGTHS = [1.02**i for i in range(500)]  # 1 to 20,000


def drawn_together() -> tuple[float, np.ndarray]:
    """The strength that our groups find, and the batters' averages with it."""
    common = HITS.sum() / TRIES / len(HITS)
    centre = np.array([common, 1 - common])
    counts = np.stack([HITS, TRIES - HITS], axis=1)
    strength = strongest(np.tile(centre, (len(HITS), 1)), counts, STRENGTHS)
    return strength, np.array([mean(centre, n, strength)[0] for n in counts])


def test_batters_drawn_together_are_foretold_three_times_better() -> None:
    """The published estimator has a squared error 3.5 times less than the plain averages; ours comes as near as 3.

    The ratio of 3.5 is from memory; errors are computed here from the published data.
    """
    _, estimates = drawn_together()
    plain, ours = (float(((e - REST) ** 2).sum()) for e in (HITS / TRIES, estimates))
    assert plain == pytest.approx(0.0753, abs=0.0001)
    assert plain / ours > 3


def test_the_order_of_the_batters_stays() -> None:
    """Every average is drawn towards the common one, and none passes another."""
    _, estimates = drawn_together()
    common = HITS.mean() / TRIES
    assert (np.diff(estimates) <= 1e-12).all()
    assert (np.abs(estimates - common) <= np.abs(HITS / TRIES - common) + 1e-12).all()


def test_the_strength_is_the_likeliest_by_the_beta_binomial_of_scipy() -> None:
    """scipy's distribution and optimiser find the same maximum."""
    common = HITS.mean() / TRIES

    def cost(log_strength: float) -> float:
        s = np.exp(log_strength)
        return -float(betabinom.logpmf(HITS, TRIES, s * common, s * (1 - common)).sum())

    best = minimize_scalar(cost, bounds=(0, 10), method="bounded")
    assert drawn_together()[0] == pytest.approx(float(np.exp(best.x)), rel=0.02)
