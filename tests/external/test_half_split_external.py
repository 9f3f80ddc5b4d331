"""Half-split and best-probe choices against published procedures and exact counts."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from probing import bits_left, half_split

# stages: mean number of checks until the bad stage is known; (n k + 2 (n - 2^k)) / n with k = floor(log2 n)
COUNTS = {
    4: 2.0, 5: 2.4, 7: 2.8571, 8: 3.0, 9: 3.2222, 10: 3.4, 12: 3.6667, 16: 4.0,
}  # fmt: skip


def halved(stages: int, bad: int) -> list[int]:
    """Checks, each named by the stage it follows, until one stage is left."""
    first, last, checks = 0, stages - 1, []
    while first < last:
        at = first + half_split([1.0] * (last - first + 1))
        checks.append(at)
        first, last = (first, at) if bad <= at else (at + 1, last)
    return checks


@pytest.mark.parametrize(("stages", "mean"), COUNTS.items())
def test_a_chain_takes_as_many_checks_as_half_split(stages: int, mean: float) -> None:
    """One bad stage among equals, the last one inferred; recomputed exact counts."""
    counts = [len(halved(stages, bad)) for bad in range(stages)]
    assert np.mean(counts) == pytest.approx(mean, abs=5e-5)
    assert max(counts) == math.ceil(math.log2(stages))


@pytest.mark.parametrize("stages", [4, 8, 9, 16])
def test_choosing_any_run_by_entropy_comes_to_the_same_counts(stages: int) -> None:
    """With every (from, to) of the chain to choose from, the least expected entropy takes as many readings."""
    runs = np.array([[float(a <= s < b) for s in range(stages)] for a, b in itertools.combinations(range(stages + 1), 2)])
    counts = []
    for bad in range(stages):
        left, count = np.ones(stages), 0
        while left.sum() > 1:
            run = runs[int(np.argmin(bits_left(left, np.stack([runs, 1 - runs], axis=1)).round(9)))]
            left, count = left * (run if run[bad] else 1 - run), count + 1
        counts.append(count)
    assert np.mean(counts) == pytest.approx(COUNTS[stages], abs=5e-5)


def test_the_army_frame_goes_from_the_middle_to_the_middle_of_the_rest() -> None:
    """US Army subcourse IT0338, frames 9 and 10: points A to I, first check at E; E normal, next check at G."""
    points = "ABCDEFGHI"
    first = half_split([1.0] * 8)
    assert points[first + 1] == "E"
    assert points[first + 1 + half_split([1.0] * 4) + 1] == "G"


def test_a_published_trace_of_sixteen_blocks() -> None:
    """Fault in block 15: good at 8, good at 12, good at 14, then 15 decides (electroniccircuitdesignsharing, 2013)."""
    assert [at + 1 for at in halved(16, 14)] == [8, 12, 14, 15]


def inverters(priors: list[float], *, single: bool) -> tuple[np.ndarray, np.ndarray]:
    """Four inverters in a row with a wrong output: weights of fault sets, and chances of (good, wrong) after b, c, d.

    A fault makes its inverter's output right or wrong with even chance. After de Kleer and Williams 1987 (recalled; the
    figures were recomputed).
    """
    faults = [f for f in itertools.product((0, 1), repeat=4) if (sum(f) == 1 if single else any(f))]
    weights, chances = [], []
    for fault in faults:
        prior = math.prod(p if f else 1 - p for f, p in zip(fault, priors, strict=True))
        if single:
            prior = sum(p for f, p in zip(fault, priors, strict=True) if f)
        wrong_after = [0.5 if any(fault[:i]) else 0.0 for i in (1, 2, 3, 4)]
        weights.append(prior * wrong_after[3])
        # given a wrong output, a probe is wrong for certain when no fault follows it
        seen = [(1.0 if not any(fault[i:]) else 0.5) if any(fault[:i]) else 0.0 for i in (1, 2, 3)]
        chances.append(seen)
    wrong = np.array(chances).T
    return np.array(weights), np.stack([1 - wrong, wrong], axis=1)


def test_four_equal_inverters_are_probed_in_the_middle() -> None:
    """Posterior entropy 2.1221 bits; 1.3184, 1.1322 and 1.3184 are left after probing b, c or d: c."""
    weights, chances = inverters([0.01] * 4, single=False)
    share = weights / weights.sum()
    assert -(share * np.log2(share)).sum() == pytest.approx(2.1221, abs=1e-4)
    left = bits_left(weights, chances)
    assert left == pytest.approx([1.3184, 1.1322, 1.3184], abs=2e-4)
    assert "bcd"[int(np.argmin(left))] == "c"


def test_a_suspect_last_inverter_moves_the_probe_from_c_to_d() -> None:
    """With D at 0.025 the entropy is 2.0027 bits, and 1.3282, 1.0708 and 1.0219 are left: d."""
    weights, chances = inverters([0.01, 0.01, 0.01, 0.025], single=False)
    share = weights / weights.sum()
    assert -(share * np.log2(share)).sum() == pytest.approx(2.0027, abs=1e-4)
    left = bits_left(weights, chances)
    assert left == pytest.approx([1.3282, 1.0708, 1.0219], abs=2e-4)
    assert "bcd"[int(np.argmin(left))] == "d"


def test_single_inverters_and_half_split_agree() -> None:
    """With one fault only, 1.1887, 1.0 and 1.1887 bits are left, or 1.1745, 0.9129 and 0.8645 with weight 2.5 on D."""
    for weights, expected, at in (
        ([1.0] * 4, [1.1887, 1.0, 1.1887], 1),
        ([1.0, 1.0, 1.0, 2.5], [1.1745, 0.9129, 0.8645], 2),
    ):
        bad = np.tri(4)[:3]
        left = bits_left(np.array(weights), np.stack([1 - bad, bad], axis=1))
        assert left == pytest.approx(expected, abs=1e-4)
        assert int(np.argmin(left)) == at
