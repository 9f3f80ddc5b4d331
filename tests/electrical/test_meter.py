"""Meter specifications and the uncertainty of a difference."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.electrical.meter import Meter, coarse_step, combined, parse_meter, rectangular

VOLTS = st.floats(1, 30).map(lambda v: round(v, 3))


@given(VOLTS, VOLTS)
def test_gain_error_is_common_to_both_readings(reference: float, loaded: float) -> None:
    """A meter that is only wrong by a factor spoils a small difference of two large readings by next to nothing."""
    meter = Meter(percent=1, counts=0, count=1e-6)
    assert meter.drop_uncertainty(reference, loaded, 0.0) == pytest.approx(abs(reference - loaded) * 0.01 / math.sqrt(3))


@given(VOLTS, VOLTS)
def test_the_difference_agrees_with_the_full_law_of_propagation(reference: float, loaded: float) -> None:
    """The shortcut equals the GUM's sum over a covariance matrix with fully correlated gain and independent counts."""
    meter = Meter(percent=0.7, counts=3, count=0.01)
    gain = [rectangular(0.007 * reference), rectangular(0.007 * loaded)]
    counts = rectangular(0.03)
    slopes = (1, -1)
    variance = sum(slopes[i] * slopes[j] * (gain[i] * gain[j] + (counts**2 if i == j else 0)) for i in (0, 1) for j in (0, 1))
    assert meter.drop_uncertainty(reference, loaded, 0.0) == pytest.approx(math.sqrt(variance), rel=1e-6)


@pytest.mark.parametrize(("values", "step"), [((9.8, 9.1), 0.1), ((9.81, 9.1), 0.0), ((12.0, 11.0), 1.0), ((12.0, 11.5), 0.1)])
def test_numbers_written_to_a_tenth_are_known_by_their_last_digit(values: tuple[float, float], step: float) -> None:
    """Only when all numbers fall on a step coarser than the meter's count were they rounded to it."""
    assert coarse_step(values, 0.01) == step


def test_a_meter_that_shows_tenths_adds_no_rounding() -> None:
    """A step that is the meter's own count is already in its specification."""
    assert coarse_step((9.8, 9.1), 0.1) == 0.0


def test_rounded_numbers_are_worth_less() -> None:
    """The same drop is less certain when both numbers were written to a tenth only."""
    assert Meter().drop_uncertainty(9.8, 9.1) > 2 * Meter().drop_uncertainty(9.81, 9.11)


@pytest.mark.parametrize(
    ("text", "percent", "counts"),
    [("0.5 % + 2", 0.5, 2), ("±(0.8% rdg + 3 dgt)", 0.8, 3), ("+/- 1,2 % of reading + 5 counts", 1.2, 5)],
)
def test_a_specification_is_read_as_printed(text: str, percent: float, counts: float) -> None:
    """Signs, brackets, commas and the words for reading and counts do not matter."""
    assert parse_meter(text) == Meter(percent, counts)


@pytest.mark.parametrize(("text", "count"), [("0.5%+2@1mV", 0.001), ("0.5% + 2 @ 0,1", 0.1), ("1 % + 3 counts of 0.001 V", 0.001)])
def test_the_last_digit_of_the_range_may_follow(text: str, count: float) -> None:
    """In volts or millivolts, after @ or of."""
    assert parse_meter(text).count == pytest.approx(count)


@given(st.floats(0, 9).map(lambda x: round(x, 2)), st.integers(0, 40), st.sampled_from([0.1, 0.01, 0.001]))
def test_what_a_meter_says_of_itself_is_read_back(percent: float, counts: int, count: float) -> None:
    """Its text is a specification again."""
    assert parse_meter(str(Meter(percent, counts, count))) == Meter(percent, counts, count)


@pytest.mark.parametrize("text", ["", "0.5", "0.5%+2@0", "0.5 %", "2 counts", "good"])
def test_what_is_no_specification_is_refused(text: str) -> None:
    """Half a specification is none."""
    with pytest.raises(ValueError, match="specification"):
        parse_meter(text)


@given(st.lists(st.floats(0, 10), min_size=1, max_size=6))
def test_parts_add_as_squares(parts: list[float]) -> None:
    """The whole is at least its largest part and at most their sum."""
    assert max(parts) <= combined(*parts) * (1 + 1e-12)
    assert combined(*parts) <= sum(parts) * (1 + 1e-12)


def test_a_meter_says_what_it_is() -> None:
    """Its text can be read by a technician."""
    assert str(Meter(0.8, 3, 0.001)) == "0.8 % of reading + 3 counts of 0.001 V"
