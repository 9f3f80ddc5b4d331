"""What a resistance does to a position reading."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from advisor.electrical.sensor import (
    apparent_degrees,
    effect_sentence,
    function_of,
    input_sentence,
    ohms_for_degrees,
    output_volts,
    position_of,
    second_output_volts,
    tracks_sentence,
)
from advisor.model.machine import Sensor

SENSOR = Sensor(supply_milliamps=14, span_degrees=70, plausibility_degrees=2.0)
POSITIONS = st.floats(0, 1)


@given(POSITIONS)
def test_a_sound_sensor_reads_where_it_is(position: float) -> None:
    """Output and reading are inverse to each other, and the output stays in the working band."""
    volts = output_volts(SENSOR, position)
    assert position_of(SENSOR, volts) == pytest.approx(position, abs=1e-12)
    assert 0.5 <= volts <= 4.5


@given(POSITIONS, st.floats(4, 5.5))
def test_a_ratiometric_input_does_not_see_its_own_supply_sag(position: float, supply: float) -> None:
    """Supply that is low at the controller too cancels for a ratiometric input and does not for a fixed one."""
    volts = output_volts(SENSOR, position, supply)
    assert position_of(SENSOR, volts, supply) == pytest.approx(position, abs=1e-9)
    fixed = SENSOR.model_copy(update={"input_reference": "fixed"})
    assert position_of(fixed, volts, supply) == pytest.approx(position_of(fixed, volts))
    assume(abs(supply - 5) > 0.01)
    assert abs(position_of(fixed, volts, supply) - position) > 1e-4


@given(st.sampled_from(["supply", "ground"]), st.floats(0.05, 3))
def test_ohms_and_degrees_are_inverse(function: str, degrees: float) -> None:
    """The resistance said to be needed moves the reading by just the degrees asked for."""
    ohms = ohms_for_degrees(SENSOR, degrees, function)  # type: ignore[arg-type]
    assert abs(apparent_degrees(SENSOR, ohms, function)) == pytest.approx(degrees)  # type: ignore[arg-type]


def test_lost_supply_reads_low_and_a_lifted_ground_reads_high() -> None:
    """The sign tells supply from ground."""
    assert apparent_degrees(SENSOR, 8.0, "supply") < 0 < apparent_degrees(SENSOR, 8.0, "ground")
    assert apparent_degrees(SENSOR, 8.0, "signal") == 0.0
    assert ohms_for_degrees(SENSOR, 2.0, "signal") == math.inf


def test_no_wire_can_lose_more_than_the_supply() -> None:
    """A resistance without end takes the whole supply, not more, and a limit beyond that is never reached."""
    assert apparent_degrees(SENSOR, 1e9) == pytest.approx((position_of(SENSOR, 0.0) - 0.5) * 70)
    assert ohms_for_degrees(SENSOR, 1000.0) == math.inf


def test_two_tracks_make_a_sum_or_a_half() -> None:
    """The second track is the rest of the supply, also of a sagged one, or half of the first."""
    assert second_output_volts(SENSOR, 1.9) == pytest.approx(3.1)
    assert second_output_volts(SENSOR, 1.9, 4.7) == pytest.approx(2.8)
    assert second_output_volts(SENSOR.model_copy(update={"second_track": "half"}), 1.9) == pytest.approx(0.95)


@pytest.mark.parametrize(
    ("circuit", "function"),
    [
        ("supply-a", "supply"),
        ("feed_2", "supply"),
        ("ground-b", "ground"),
        ("sensor-return", "ground"),
        ("out-1", "signal"),
    ],
)
def test_a_circuits_name_says_what_it_is_for(circuit: str, function: str) -> None:
    """Supply and ground are known by name; all else is a signal."""
    assert function_of(circuit) == function


def test_the_sentence_is_honest_about_a_small_resistance() -> None:
    """A poor joint of a quarter ohm does not shift the reading by itself; the sentence says so and what it would take."""
    said = effect_sentence(SENSOR, 0.25)
    moved, needed = abs(apparent_degrees(SENSOR, 0.25)), ohms_for_degrees(SENSOR, 2.0)
    assert moved < 0.05
    assert needed > 10
    assert f"{moved:.3f} degrees" in said
    assert f"{needed:.0f} ohm" in said
    assert "must get worse" in said
    assert "0.25 ohm" in said


def test_the_sentence_says_when_the_resistance_explains_it_all() -> None:
    """Beyond the plausibility limit nothing more is needed."""
    assert "explains the complaint by itself" in effect_sentence(SENSOR, 30.0, "ground")


def test_the_sentence_covers_the_ends() -> None:
    """A signal wire, an open run, no resistance at all and a limit out of reach all have words."""
    assert "almost no current" in effect_sentence(SENSOR, 0.3, "signal")
    assert "No current gets through" in effect_sentence(SENSOR, math.inf)
    assert "would move the reading 0 degrees" in effect_sentence(SENSOR, 0.0)
    assert "No resistance" in effect_sentence(SENSOR.model_copy(update={"plausibility_degrees": 500.0}), 0.3)


def test_both_tracks_lose_alike_in_what_they_share() -> None:
    """20 ohm at 14 mA take 0.28 V: opposed tracks add up to so much less, or to so much more over a lifted ground."""
    assert "their sum reads 0.28 V low" in tracks_sentence(SENSOR, 20, "supply", "splice-7")
    assert "their sum reads 0.28 V high" in tracks_sentence(SENSOR, 20, "ground", "splice-7")
    half = SENSOR.model_copy(update={"second_track": "half"})
    assert "ratio stays one half" in tracks_sentence(half, 20, "supply", "splice-7")
    assert "lifted, by 0.28 V" in tracks_sentence(half, 20, "ground", "splice-7")


def test_one_track_alone_sets_the_tracks_apart() -> None:
    """The difference is the motion that the resistance makes; a signal wire, a single track and a break have no such sentence."""
    moved = abs(apparent_degrees(SENSOR, 20, "supply"))
    assert f"disagree by {moved:.1f} degrees" in tracks_sentence(SENSOR, 20, "supply")
    single = SENSOR.model_copy(update={"tracks": 1})
    for sensor, ohms, function in ((SENSOR, 20.0, "signal"), (single, 20.0, "supply"), (SENSOR, math.inf, "supply")):
        assert tracks_sentence(sensor, ohms, function) == ""  # type: ignore[arg-type]


def test_only_a_fixed_input_is_moved_by_the_controllers_supply() -> None:
    """One per cent of supply moves a fixed input by 0.01 * (0.1 + 0.8 / 2) / 0.8 of 70 degrees in mid travel."""
    assert "does not shift the reading" in input_sentence(SENSOR)
    fixed = input_sentence(SENSOR.model_copy(update={"input_reference": "fixed"}))
    assert f"{0.01 * 0.5 / 0.8 * 70:.2f} degrees in mid travel" in fixed
