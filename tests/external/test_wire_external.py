"""Copper wire against published tables. The source stands beside each."""

from __future__ import annotations

import pytest

from advisor.electrical.wire import (
    CLASS_5_OHM_PER_KM,
    COPPER_OHM_MM2_PER_METRE,
    awg_diameter_mm,
    awg_mm2,
    band_ohm_per_metre,
    ohm_per_metre,
    temperature_factor,
)

FOOT = 0.3048

# gauge: mils, ohm per 1000 ft. Floyd, Electric Circuit Fundamentals, 2nd edition, as shown on hyperphysics (wirega)
SOLID = {
    10: (101.9, 0.9989),
    12: (80.81, 1.588),
    14: (64.08, 2.525),
    16: (50.82, 4.016),
    18: (40.30, 6.385),
    20: (31.96, 10.15),
    22: (25.35, 16.14),
}

# gauge: greatest ohm per 1000 ft at 20 C, circular mils. FAA AC 43.13-1B, table 11-9 (tinned stranded aircraft wire)
AIRCRAFT = {
    24: (28.40, 475), 22: (16.20, 755), 20: (9.88, 1216), 18: (6.23, 1900),
    16: (4.81, 2426), 14: (3.06, 3831), 12: (2.02, 5874), 10: (1.26, 9354),
}  # fmt: skip

# mm2: ohm per km. IEC 60228 as printed by three cable makers' tables: class 1 and 2, class 5 plain, class 5 tinned
METRIC = {
    0.5: (36.0, 39.0, 40.1), 0.75: (24.5, 26.0, 26.7), 1.0: (18.1, 19.5, 20.0), 1.5: (12.1, 13.3, 13.7),
    2.5: (7.41, 7.98, 8.21), 4.0: (4.61, 4.95, 5.09), 6.0: (3.08, 3.30, 3.39), 10.0: (1.83, 1.91, 1.95),
}  # fmt: skip

# C: factor to refer a resistance back to 20 C. IEC 60228, table of temperature correction factors
IEC_CORRECTION = {
    5: 1.064,
    10: 1.042,
    15: 1.020,
    20: 1.0,
    30: 0.962,
    40: 0.926,
    50: 0.893,
    60: 0.862,
    80: 0.806,
    100: 0.758,
}

# feet, ohm per foot, volts as recomputed; 20 A. FAA AC 43.13-1B, worked voltage drops below table 11-9
DROPS = [
    (107, 0.00044, 0.942), (90, 0.00028, 0.504), (88, 0.00202, 3.555), (100, 0.00306, 6.12),
    (39, 0.00126, 0.983), (19.5, 0.00126, 0.4914), (156, 0.00126, 3.931), (273, 0.00126, 6.88),
]  # fmt: skip


def test_copper_is_the_standard_copper() -> None:
    """0.15328 ohm g/m2 at a density of 8.89 g/cm3: NBS Handbook 100."""
    assert pytest.approx(0.15328 / 8.89, rel=5e-5) == COPPER_OHM_MM2_PER_METRE


@pytest.mark.parametrize("gauge", SOLID)
def test_solid_gauge_wire_has_the_published_resistance(gauge: int) -> None:
    """Diameter to the last printed digit, ohms within 0.05 %: Floyd's table."""
    mils, ohms = SOLID[gauge]
    assert awg_diameter_mm(gauge) / 0.0254 == pytest.approx(mils, abs=0.06 if gauge == 10 else 0.006)
    assert ohm_per_metre(awg_mm2(gauge), stranded=False) * 1000 * FOOT == pytest.approx(ohms, rel=5e-4)


def test_gauges_step_as_the_standard_says() -> None:
    """ASTM B258: six gauges halve the diameter, three double the area, ten make about ten times the area."""
    assert awg_diameter_mm(12) / awg_diameter_mm(18) == pytest.approx(2.0050, abs=1e-4)
    assert awg_mm2(15) / awg_mm2(18) == pytest.approx(2.0050, abs=1e-4)
    assert awg_mm2(8) / awg_mm2(18) == pytest.approx(10.164, abs=1e-3)


@pytest.mark.parametrize("mm2", METRIC)
def test_metric_cable_lies_in_the_band(mm2: float) -> None:
    """Solid and class 2 conductors lie between solid copper and class 5; the default is class 5: IEC 60228."""
    class_2, class_5, tinned = METRIC[mm2]
    low, high = (1000 * r for r in band_ohm_per_metre(mm2))
    assert low < class_2 < high
    assert high == pytest.approx(class_5, rel=1e-9)
    assert high < tinned < 1.035 * high
    assert CLASS_5_OHM_PER_KM[mm2] == class_5


@pytest.mark.parametrize("gauge", AIRCRAFT)
def test_aircraft_wire_of_its_own_area_is_close_to_the_default(gauge: int) -> None:
    """From the real area of the strands the default gives the greatest resistance within 4 %, AWG 24 left out.

    FAA AC 43.13-1B, table 11-9. Tinned strands of AWG 24 have a share of tin that no plain copper has: 30 % over solid.
    """
    per_kft, circular_mils = AIRCRAFT[gauge]
    mm2 = circular_mils * 5.067075e-4
    ratio = per_kft / (ohm_per_metre(mm2) * 1000 * FOOT)
    if gauge == 24:
        assert ratio == pytest.approx(1.15, abs=0.01)
    else:
        assert ratio == pytest.approx(1.0, abs=0.045)


def test_a_cable_is_not_its_gauges_solid_area() -> None:
    """AWG 20 aircraft wire has 0.616 mm2 of copper, not 0.518: FAA AC 43.13-1B, table 11-9."""
    assert AIRCRAFT[20][1] * 5.067075e-4 == pytest.approx(0.616, abs=5e-4)
    assert awg_mm2(20) == pytest.approx(0.518, abs=5e-4)


@pytest.mark.parametrize("celsius", range(-40, 106, 5))
def test_temperature_follows_the_copper_law(celsius: int) -> None:
    """(234.5 + t) / 254.5, as FAA AC 43.13-1B par. 11-66 writes the law of NBS Handbook 100."""
    assert temperature_factor(celsius) == pytest.approx((234.5 + celsius) / 254.5, abs=1e-4)


@pytest.mark.parametrize(("celsius", "factor"), [(-40, 0.7642), (0, 0.9214), (50, 1.1179), (85, 1.2555), (105, 1.3341)])
def test_temperature_factors(celsius: float, factor: float) -> None:
    """Recomputed from 0.00393 per kelvin, NBS Handbook 100."""
    assert temperature_factor(celsius) == pytest.approx(factor, abs=1e-4)


def test_the_correction_table_for_cable_tests_is_another_law() -> None:
    """IEC 60228 corrects measured cable by 250 / (230 + t); mixing it with copper's law is off by up to 0.3 %."""
    assert all(abs(250 / (230 + t) - k) <= 6e-4 for t, k in IEC_CORRECTION.items())
    assert max(abs(1 / temperature_factor(t) - k) for t, k in IEC_CORRECTION.items()) > 2.5e-3


@pytest.mark.parametrize(("feet", "ohm_per_foot", "volts"), DROPS)
def test_worked_drops(feet: float, ohm_per_foot: float, volts: float) -> None:
    """FAA AC 43.13-1B, at 20 A; wire of that resistance, through area and length, drops what the circular says."""
    mm2 = COPPER_OHM_MM2_PER_METRE / (ohm_per_foot / FOOT)
    drop = ohm_per_metre(mm2, stranded=False) * feet * FOOT * 20
    assert drop == pytest.approx(volts, abs=6e-4)


def test_the_misprinted_drop_is_not_reproduced() -> None:
    """The circular prints 0.366 V for 19.5 ft; half of its own 39 ft example, 0.983 V, shows that to be a misprint."""
    feet, ohm_per_foot, volts = DROPS[5]
    assert feet == DROPS[4][0] / 2
    assert volts == pytest.approx(DROPS[4][2] / 2, abs=6e-4)
    assert abs(feet * ohm_per_foot * 20 - 0.366) > 0.1


def test_a_metric_cable_in_use() -> None:
    """1.5 mm2 at 12.7 mohm/m, 5 m, 4.17 A: 0.265 V (a public vehicle wiring page); it lies in the band."""
    low, high = (r * 5 * 4.17 for r in band_ohm_per_metre(1.5))
    assert low < 0.2648 < high
