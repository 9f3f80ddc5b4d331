"""Resistance of copper wire."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.electrical.wire import (
    awg_mm2,
    band_ohm_per_metre,
    ohm_per_metre,
    parse_size,
    stranded_factor,
    temperature_factor,
)

AREAS = st.floats(0.05, 120)


@given(AREAS, st.floats(-40, 125))
def test_unnamed_cable_is_taken_at_the_high_end_of_its_band(mm2: float, celsius: float) -> None:
    """The default lies at the upper end of a band whose lower end is solid copper, at every temperature."""
    low, high = band_ohm_per_metre(mm2, celsius)
    assert ohm_per_metre(mm2, celsius) == high
    assert 1.10 < high / low < 1.16
    assert low == pytest.approx(ohm_per_metre(mm2, stranded=False) * temperature_factor(celsius))


@given(AREAS, st.floats(1.01, 4))
def test_a_thicker_wire_has_less_resistance(mm2: float, ratio: float) -> None:
    """Resistance falls with area, also where the stranding factor changes between sizes."""
    assert ohm_per_metre(mm2 * ratio) < ohm_per_metre(mm2)


def test_the_stranding_factor_runs_through_the_sizes_and_is_held_outside() -> None:
    """Between two sizes the factor lies between theirs; below the smallest and above the largest it stays."""
    assert stranded_factor(0.5) < stranded_factor(1.2) < stranded_factor(1.5)
    assert stranded_factor(0.2) == stranded_factor(0.5)
    assert stranded_factor(50) == stranded_factor(10)


@pytest.mark.parametrize(
    ("text", "mm2"),
    [
        ("0.75", 0.75),
        (" 0,5 mm2 ", 0.5),
        ("1.5mm²", 1.5),
        (".35 sq mm", 0.35),
        ("AWG 18", awg_mm2(18)),
        ("awg#16", awg_mm2(16)),
        ("14 AWG", awg_mm2(14)),
        ("12 gauge", awg_mm2(12)),
        ("2/0 AWG", awg_mm2(-1)),
        ("AWG 0", awg_mm2(0)),
    ],
)
def test_a_wire_size_is_read_as_people_write_it(text: str, mm2: float) -> None:
    """Square millimetres with point or comma, and gauges with the word before or after, all give an area."""
    assert parse_size(text) == pytest.approx(mm2)


@pytest.mark.parametrize("text", ["", "thick", "AWG", "AWG 41", "5/0 AWG", "0", "-1 mm2", "500", "18 AWG 2"])
def test_what_is_no_wire_size_is_refused(text: str) -> None:
    """A size that cannot be is refused with a sentence, never taken for another one."""
    with pytest.raises(ValueError, match=r"wire|gauge"):
        parse_size(text)


@pytest.mark.parametrize("mm2", [0.0, -1.0, float("nan")])
def test_a_wire_without_area_has_no_resistance(mm2: float) -> None:
    """No area, no figure: an error and not infinity."""
    with pytest.raises(ValueError, match="area"):
        ohm_per_metre(mm2)
