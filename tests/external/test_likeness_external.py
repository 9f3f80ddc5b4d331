"""The likeness of cases against SciPy's cosine distance of the same weighted vectors (scipy.spatial.distance.cosine)."""

from __future__ import annotations

import random

import pytest
from scipy.spatial.distance import cosine

from advisor.experience.alike import likeness

GIVEN = [(f"check-{n}", r) for n in range(12) for r in ("x", "y", "z")]


@pytest.mark.parametrize("seed", range(20))
def test_likeness_is_the_cosine(seed: int) -> None:
    """One less SciPy's distance, for answers drawn at random."""
    dice = random.Random(seed)
    worth = {g: dice.uniform(0.1, 20) for g in GIVEN}
    one, other = ({(f"check-{n}", dice.choice("xyz")) for n in dice.sample(range(12), 8)} for _ in range(2))
    a, b = ([worth[g] if g in answers else 0.0 for g in GIVEN] for answers in (one, other))
    assert likeness(one, other, worth) == pytest.approx(1 - cosine(a, b), abs=1e-12)
