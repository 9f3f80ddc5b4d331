"""The output at both ends of travel, judged by the sensor's own band."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.electrical.ends import judge_ends
from advisor.electrical.sensor import output_volts, second_output_volts
from advisor.model.machine import Sensor

SENSOR = Sensor(supply_volts=5.0, band_volts=(0.6, 4.4), span_degrees=76, plausibility_degrees=2.0)
positions = st.floats(0.02, 0.4), st.floats(0.6, 0.98)


@given(*positions, st.floats(3.5, 5.5), st.sampled_from(["sum", "half"]))
def test_what_a_sound_sensor_gives_is_right_at_any_supply(low: float, high: float, supply: float, second: str) -> None:
    """Both ends, both tracks, either kind of second track: nothing is wrong, whichever end comes first."""
    sensor = SENSOR.model_copy(update={"second_track": second})
    for ends in ((low, high), (high, low)):
        first = [output_volts(sensor, p, supply) for p in ends]
        found = judge_ends(sensor, [*first, *(second_output_volts(sensor, v, supply) for v in first)], supply)
        assert found.result == "ends-right", found.says


@given(st.floats(0.15, 0.59))
def test_an_end_beyond_the_band_is_named_with_how_far(beyond: float) -> None:
    """By more than the meter explains, the end and its distance from the band are said."""
    found = judge_ends(SENSOR, [4.4 + beyond, 0.9], 5.0)
    assert found.result == "outside-band"
    assert any(f"{beyond:.2f} V above the working band" in text for text in found.says)


def test_an_end_no_further_out_than_the_meter_explains_is_not_accused() -> None:
    """One hundredth beyond the band is within the meter's own error."""
    assert judge_ends(SENSOR, [4.41, 0.9], 5.0).result == "ends-right"


def test_the_band_moves_with_the_supply() -> None:
    """4.3 V is inside the band at 5 V and outside of it at 4.5 V."""
    assert judge_ends(SENSOR, [4.3, 0.9], 5.0).result == "ends-right"
    assert judge_ends(SENSOR, [4.3, 0.9], 4.5).result == "outside-band"


def test_an_output_that_is_the_same_at_both_ends_does_not_move() -> None:
    """Two readings closer than the plausibility limit are no travel."""
    assert judge_ends(SENSOR, [2.5, 2.55], 5.0).result == "does-not-move"


@given(st.floats(0.25, 1.0), st.sampled_from(["sum", "half"]))
def test_a_second_track_that_does_not_fit_is_said_in_degrees(off: float, second: str) -> None:
    """The distance is that of the second track's own slope."""
    sensor = SENSOR.model_copy(update={"second_track": second})
    first = [1.0, 4.0]
    other = [second_output_volts(sensor, v, 5.0) for v in first]
    slope = 0.5 if second == "half" else 1.0
    found = judge_ends(sensor, [*first, other[0] + off, other[1]], 5.0)
    assert found.result == "tracks-disagree"
    assert any(f"{off / slope / 3.8 * 76:.1f} degrees apart" in text for text in found.says)


def test_the_makers_ends_are_held_to_where_the_machine_file_gives_them() -> None:
    """Inside the band and five degrees off the maker's figure is wrong; without the figure it is for the technician to compare."""
    with_figures = SENSOR.model_copy(update={"ends_volts": (4.0, 1.0)})
    found = judge_ends(with_figures, [1.25, 4.0], 5.0)
    assert found.result == "ends-off"
    assert any("5.0 degrees off the maker's 1.00 V" in text for text in found.says)
    without = judge_ends(SENSOR, [1.25, 4.0], 5.0)
    assert without.result == "ends-right"
    assert any("Compare the travel" in text for text in without.says)


def test_without_a_measured_supply_it_is_said_that_the_nominal_one_was_taken() -> None:
    """The output is a share of the supply."""
    assert "nominal" in judge_ends(SENSOR, [1.0, 4.0]).says[-1]
    assert not any("nominal" in text for text in judge_ends(SENSOR, [1.0, 4.0], 5.0).says)


def test_the_travel_is_said_in_degrees() -> None:
    """1.0 V and 4.0 V of a band of 3.8 V over 76 degrees are 60 degrees apart."""
    said = judge_ends(SENSOR, [1.0, 4.0], 5.0).says[0]
    assert said == "1.00 V and 4.00 V at 5.00 V supply are 8.0 and 68.0 of 76 degrees: 60.0 degrees of travel."
    assert judge_ends(SENSOR, [4.0, 1.0], 5.0).says[0].startswith("4.00 V and 1.00 V at 5.00 V supply are 8.0 and 68.0 of 76")


@pytest.mark.parametrize("volts", [[1.0], [1.0, 4.0, 4.0], [1.0, 4.0, 4.0, 1.0, 1.0]])
def test_any_other_number_of_voltages_is_refused(volts: list[float]) -> None:
    """Two ends, one track or two."""
    with pytest.raises(ValueError, match="both ends"):
        judge_ends(SENSOR, volts)


def test_a_sensor_of_one_track_has_no_second() -> None:
    """Four voltages are too many for it."""
    with pytest.raises(ValueError, match="where there is one"):
        judge_ends(SENSOR.model_copy(update={"tracks": 1}), [1.0, 4.0, 4.0, 1.0])


def test_right_ends_say_what_was_looked_at() -> None:
    """That the tracks agree is said where there were two, and the maker's figures where the machine file has them."""
    assert "Both ends lie in the working band. Compare" in judge_ends(SENSOR, [1.0, 4.0], 5.0).says[-1]
    assert (
        "Both ends lie in the working band, and the tracks agree. Compare" in judge_ends(SENSOR, [1.0, 4.0, 4.0, 1.0], 5.0).says[-1]
    )
    figures = SENSOR.model_copy(update={"ends_volts": (1.0, 4.0)})
    assert judge_ends(figures, [1.0, 4.0], 5.0).says[-1] == "Both ends lie in the working band, at the maker's figures."
