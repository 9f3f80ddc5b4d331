"""Shares learned from counts: posteriors, their leave-one-out scores, groups that share strength, and minutes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import dirichlet, dirichlet_multinomial

from advisor.experience.fit import MOST_MOVED, PRIOR_WEIGHT, ROW_WEIGHT
from advisor.experience.posterior import evidence, learn, learn_minutes, learn_row, mean, pool, strongest

CENTRE = np.array([0.55, 0.25, 0.15, 0.05])
shares = st.lists(st.floats(0.02, 1), min_size=2, max_size=5).map(lambda x: np.array(x) / sum(x))


def test_the_mean_is_that_of_the_dirichlet_posterior() -> None:
    """scipy's Dirichlet distribution with the counts added to the centre has the same mean."""
    counts = np.array([3.0, 0, 11, 4])
    assert mean(CENTRE, counts, 20) == pytest.approx(dirichlet(20 * CENTRE + counts).mean())


def test_each_case_is_foretold_from_all_the_others() -> None:
    """The score is the one that taking out case after case gives."""
    counts = np.array([3.0, 0, 11, 4])
    scores = []
    for at, n in enumerate(counts):
        without = counts.copy()
        without[at] -= 1
        scores += [math.log(mean(CENTRE, without, 20)[at])] * int(n)
    assert learn(CENTRE, counts, 20).learned_score == pytest.approx(sum(scores))
    assert learn(CENTRE, counts, 20).shipped_score == pytest.approx(float(counts @ np.log(CENTRE)))


def test_three_cases_move_little_and_three_hundred_much() -> None:
    """The words count for thirty cases, so three of a cause with a twentieth move it by points and three hundred to most."""
    few = learn(CENTRE, np.array([0.0, 0, 0, 3]), PRIOR_WEIGHT).shares[3]
    many = learn(CENTRE, np.array([0.0, 0, 0, 300]), PRIOR_WEIGHT).shares[3]
    assert few < 0.15
    assert many > 0.9


def test_what_foretells_worse_is_not_taken() -> None:
    """Counts as the words say leave the words as they are, to the last digit."""
    found = learn(CENTRE, 100 * CENTRE, 30)
    assert found.gain < 0
    assert found.shares == pytest.approx(tuple(CENTRE), abs=1e-15)


@pytest.mark.parametrize("weight", [PRIOR_WEIGHT, ROW_WEIGHT])
@pytest.mark.parametrize("share", [0.001, 0.01, 0.1, 0.5])
def test_a_second_surprise_moves_a_share_by_no_more_than_is_said(weight: float, share: float) -> None:
    """Two cases in a row of what the words all but exclude are the most that a few cases can move; still a tenth at most."""
    centre = np.array([share, 1 - share])
    after = [learn(centre, np.array([float(n), 0.0]), weight).shares[0] for n in range(6)]
    assert np.abs(np.diff(after)).max() <= MOST_MOVED


@given(shares, st.data())
@settings(max_examples=300, deadline=None)
def test_no_case_moves_a_share_of_causes_by_more_than_is_said(centre: np.ndarray, data: st.DataObject) -> None:
    """Whatever was counted before, and whatever the new case shows."""
    counts = np.array(data.draw(st.lists(st.integers(0, 400), min_size=len(centre), max_size=len(centre))), dtype=float)
    one = np.eye(len(centre))[data.draw(st.integers(0, len(centre) - 1))]
    before, after = (np.array(learn(centre, n, PRIOR_WEIGHT).shares) for n in (counts, counts + one))
    assert np.abs(after - before).max() <= MOST_MOVED


@given(shares, st.data())
@settings(max_examples=300, deadline=None)
def test_no_case_moves_a_share_of_results_by_more_than_is_said(centre: np.ndarray, data: st.DataObject) -> None:
    """The same for the row of a check, the fault showing or not."""
    seen = [(r, q, data.draw(st.integers(0, 200))) for r in range(len(centre)) for q in (0.3, 1.0)]
    at = data.draw(st.integers(0, len(seen) - 1))
    more = [(r, q, n + (i == at)) for i, (r, q, n) in enumerate(seen)]
    otherwise = centre[::-1]
    before, after = (np.array(learn_row(centre, otherwise, 0.03, s, ROW_WEIGHT).shares) for s in (seen, more))
    assert np.abs(after - before).max() <= MOST_MOVED


def test_a_row_of_what_always_shows_is_the_plain_posterior() -> None:
    """Without wrong answers and with the fault showing, every case counts in full."""
    counts = np.array([2.0, 30, 5, 9])
    seen = [(r, 1.0, int(n)) for r, n in enumerate(counts)]
    plain, found = learn(CENTRE, counts, 12), learn_row(CENTRE, CENTRE, 0.0, seen, 12)
    assert found.shares == pytest.approx(plain.shares)
    assert found.learned_score == pytest.approx(plain.learned_score)


def test_a_row_is_found_although_the_fault_seldom_shows() -> None:
    """Answers drawn from a mixture give the row back, and not the mixture."""
    rng, true, otherwise = np.random.default_rng(4), np.array([0.9, 0.1]), np.array([0.1, 0.9])
    seen = []
    for q in (0.3, 0.7):
        chances = 0.03 / 2 + 0.97 * (q * true + (1 - q) * otherwise)
        seen += [(r, q, int(n)) for r, n in enumerate(rng.multinomial(3000, chances))]
    assert learn_row(np.array([0.6, 0.4]), otherwise, 0.03, seen, 12).shares == pytest.approx(tuple(true), abs=0.03)


def test_the_likelihood_of_groups_is_that_of_the_dirichlet_multinomial() -> None:
    """scipy's distribution tells strengths apart by the same amount; ours leaves out a constant."""
    counts = np.array([[3.0, 0, 11, 4], [40, 2, 0, 1]])
    centres = np.tile(CENTRE, (2, 1))

    def whole(strength: float) -> float:
        pairs = zip(centres, counts, strict=True)
        return float(sum(dirichlet_multinomial.logpmf(n.astype(int), strength * c, int(n.sum())) for c, n in pairs))

    ours = evidence(centres, counts, 80) - evidence(centres, counts, 20)
    assert ours == pytest.approx(whole(80) - whole(20))


def test_groups_that_are_alike_are_drawn_together_and_others_are_not() -> None:
    """Machines that differ only by chance share one set of shares; machines that do differ keep their own."""
    centres = np.tile(np.array([0.5, 0.5]), (2, 1))
    alike, apart = np.array([[52.0, 48], [49, 51]]), np.array([[95.0, 5], [6, 94]])
    assert strongest(centres, alike) > 50 * strongest(centres, apart)
    assert pool(centres, alike).shares[0] == pytest.approx((0.5, 0.5), abs=0.01)
    assert pool(centres, apart).shares[0][0] > 0.85
    assert pool(centres, apart).shares[1][0] < 0.15


def test_minutes_follow_what_was_timed() -> None:
    """Twice as long, forty times: nearly twice. Once: hardly. Errors are those of leaving each one out in turn."""
    logs = np.full(40, math.log(2.0))
    many = learn_minutes(10, 40, float(logs.sum()), float((logs**2).sum()), 8)
    once = learn_minutes(10, 1, math.log(2.0), math.log(2.0) ** 2, 8)
    assert 17 < many.minutes < 20
    assert once.minutes < 10.5
    rng = np.random.default_rng(1)
    x = rng.normal(0.3, 0.4, 25)
    told = learn_minutes(10, 25, float(x.sum()), float((x**2).sum()), 8)
    left_out = sum((v - (x.sum() - v) / (8 + 24)) ** 2 for v in x)
    assert told.learned_error == pytest.approx(left_out)
