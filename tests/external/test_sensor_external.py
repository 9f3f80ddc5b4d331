"""Ratiometric sensors: worked errors. The figures are algebra on the usual 10 to 90 % band, recomputed."""

from __future__ import annotations

import pytest

from advisor.electrical.sensor import (
    apparent_degrees,
    lost_volts,
    output_volts,
    position_of,
    second_output_volts,
)
from advisor.model.machine import Sensor

SENSOR = Sensor(input_reference="fixed", supply_milliamps=10, span_degrees=100)
POSITIONS = (0.0, 0.25, 0.5, 0.75, 1.0)


@pytest.mark.parametrize(("position", "read"), list(zip(POSITIONS, (-0.01, 0.22, 0.45, 0.68, 0.91), strict=True)))
def test_a_supply_of_4_6_volts_reads_low_in_proportion(position: float, read: float) -> None:
    """The error is (Vs/5 - 1)(0.1 + 0.8x)/0.8 for a converter that stays at 5 V, and nothing when it follows."""
    volts = output_volts(SENSOR, position, 4.6)
    assert position_of(SENSOR, volts) == pytest.approx(read, abs=1e-9)
    assert position_of(SENSOR.model_copy(update={"input_reference": "ratiometric"}), volts, 4.6) == pytest.approx(position)


@pytest.mark.parametrize(("position", "error"), [(0.0, 0.0225), (0.5, 0.0125), (1.0, 0.0025)])
def test_a_ground_lifted_by_a_tenth_of_a_volt_reads_high_at_the_low_end(position: float, error: float) -> None:
    """The error is g(0.9 - 0.8x)/(5 * 0.8)."""
    assert position_of(SENSOR, output_volts(SENSOR, position, ground_volts=0.1)) - position == pytest.approx(error)


def test_ten_ohms_at_ten_milliamperes_take_a_tenth_of_a_volt() -> None:
    """4.90 V are left at the sensor; in the middle that is 1.25 % of the travel."""
    assert lost_volts(SENSOR, 10.0) == pytest.approx(0.10)
    assert apparent_degrees(SENSOR, 10.0) == pytest.approx(-1.25)
    assert apparent_degrees(SENSOR, 10.0, "ground") == pytest.approx(1.25)


@pytest.mark.parametrize("supply", [5.0, 4.6])
def test_two_tracks_tell_supply_from_track(supply: float) -> None:
    """The sum of opposed tracks is the supply; the ratio of a half track does not depend on it."""
    first = output_volts(SENSOR, 0.3, supply)
    assert first + second_output_volts(SENSOR, first, supply) == pytest.approx(supply)
    half = SENSOR.model_copy(update={"second_track": "half"})
    assert second_output_volts(half, first, supply) / first == pytest.approx(0.5)
