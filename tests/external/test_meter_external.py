"""Meter limits and uncertainty against published examples. The source stands beside each."""

from __future__ import annotations

import math

import pytest

from advisor.electrical.drop import SURE, probability_over
from advisor.electrical.meter import Meter, combined, rectangular
from advisor.reasoning.runs import SURE_DEVIATIONS


@pytest.mark.parametrize(
    ("reading", "percent", "counts", "count", "limit"),
    [
        (2.000, 0.08, 2, 0.001, 0.0036),  # victorruoshui.com 72611
        (100.0, 1.0, 2, 0.1, 1.2),  # gvda-instrument 87246271
        (1.755, 0.5, 1, 0.001, 0.009775),  # babataher-shop, prints about 0.010
        (2.0, 0.5, 3, 0.001, 0.013),  # gvda 69432302
        (120.0, 1.0, 3, 0.1, 1.5),  # vendor article KA-03135
        (100.0, 0.8, 2, 0.1, 1.0),  # gvda 92733255
    ],
)
def test_limits_of_a_reading(reading: float, percent: float, counts: float, count: float, limit: float) -> None:
    """Per cent of reading plus counts, as makers of meters work it out on their public pages."""
    assert Meter(percent, counts, count).limit(reading) == pytest.approx(limit, rel=1e-6)


def test_a_limit_is_a_rectangular_distribution() -> None:
    """NIST TN 1297 section 4.6 and GUM 4.3.7: the half-width over the root of three."""
    assert rectangular(1.0) == pytest.approx(1 / math.sqrt(3))


def test_a_voltmeter_example_of_the_guide() -> None:
    """GUM 4.3.7 example 2 and 5.1.5: 14e-6 of reading and 2e-6 of range at 0.928571 V, with 12 uV of repeat readings.

    The example's figures are quoted from memory; the arithmetic was recomputed.
    """
    limit = Meter(percent=14e-4, counts=2e-6, count=1.0).limit(0.928571)
    assert limit == pytest.approx(15.0e-6, rel=1e-3)
    assert rectangular(limit) == pytest.approx(8.66e-6, rel=1e-3)
    assert combined(rectangular(limit), 12e-6) == pytest.approx(14.80e-6, rel=1e-3)


def test_the_chance_is_that_of_a_normal_error() -> None:
    """Against scipy's normal distribution."""
    from scipy.stats import norm

    assert norm.ppf(SURE) == pytest.approx(SURE_DEVIATIONS, abs=1e-12)
    for drop in (0.05, 0.31, 0.3333, 0.61):
        assert probability_over(drop, 0.33, 0.04) == pytest.approx(norm.sf(0.33, drop, 0.04), abs=1e-12)
