"""What a resistance in a sensor's supply or ground does to the position the controller believes.

The output is a fixed share of the sensor's own supply (ratiometric). Positions are 0 to 1 over the working band, angles
degrees, voltages are measured from the controller's own ground.
"""

from __future__ import annotations

import math
from typing import Literal

from advisor.model.machine import Sensor

Function = Literal["supply", "ground", "signal"]

MIDDLE = 0.5


def function_of(circuit: str) -> Function:
    """What a circuit is for, from its name; anything not named as supply or ground is a signal."""
    words = circuit.lower().replace("_", "-").split("-")
    if {"supply", "feed", "power", "plus"} & set(words):
        return "supply"
    return "ground" if {"ground", "return", "earth", "minus"} & set(words) else "signal"


def _shares(sensor: Sensor) -> tuple[float, float]:
    """Ends of the working band as shares of the supply."""
    low, high = sensor.band_volts
    return low / sensor.supply_volts, high / sensor.supply_volts


def output_volts(sensor: Sensor, position: float, supply_volts: float | None = None, ground_volts: float = 0.0) -> float:
    """Output of the first track with this supply and ground at the sensor's own pins."""
    supply = sensor.supply_volts if supply_volts is None else supply_volts
    low, high = _shares(sensor)
    return ground_volts + (supply - ground_volts) * (low + (high - low) * position)


def second_output_volts(sensor: Sensor, first: float, supply_volts: float | None = None) -> float:
    """Output of the second track beside the first: what is left of the supply, or half of the first."""
    if sensor.second_track == "half":
        return first / 2
    return (sensor.supply_volts if supply_volts is None else supply_volts) - first


def position_of(sensor: Sensor, volts: float, controller_supply: float | None = None) -> float:
    """The position the controller reads from an output voltage; outside 0 to 1 when the voltage is outside the band.

    A ratiometric input divides by the supply as it stands at the controller, a fixed one by its nominal value; neither
    sees what is lost between controller and sensor.
    """
    nominal = sensor.supply_volts
    ratiometric = sensor.input_reference == "ratiometric" and controller_supply is not None
    low, high = _shares(sensor)
    return (volts / (controller_supply if ratiometric and controller_supply else nominal) - low) / (high - low)


def motion_millivolts(sensor: Sensor) -> float:
    """Millivolts of output that the controller takes for motion: the plausibility limit over the working band.

    A ground that is lifted by so much, or a supply that loses so much on its way, moves the output by no more than that.
    """
    low, high = sensor.band_volts
    return 1000 * (high - low) * sensor.plausibility_degrees / sensor.span_degrees


def lost_volts(sensor: Sensor, ohms: float) -> float:
    """Volts lost over a resistance at the sensor's own current, at most all of the supply."""
    return min(ohms * sensor.supply_milliamps / 1000, sensor.supply_volts)


def apparent_degrees(sensor: Sensor, ohms: float, function: Function = "supply", position: float = MIDDLE) -> float:
    """Change of the angle read when this resistance appears in one wire of the sensor at a position.

    Lost supply reads low and a lifted ground reads high. A signal wire carries next to no current, so nothing changes.
    """
    lost = lost_volts(sensor, ohms)
    if function == "supply":
        read = output_volts(sensor, position, sensor.supply_volts - lost)
    elif function == "ground":
        read = output_volts(sensor, position, ground_volts=lost)
    else:
        return 0.0
    return (position_of(sensor, read) - position) * sensor.span_degrees


def ohms_for_degrees(sensor: Sensor, degrees: float, function: Function = "supply", position: float = MIDDLE) -> float:
    """Resistance that would move the angle read by so many degrees; infinite when none does."""
    per_ohm = apparent_degrees(sensor, 1 / sensor.supply_milliamps, function, position) * sensor.supply_milliamps
    if per_ohm == 0:
        return math.inf
    ohms = abs(degrees / per_ohm)
    return ohms if ohms * sensor.supply_milliamps / 1000 <= sensor.supply_volts else math.inf


def _figure(value: float) -> str:
    """A number with two significant digits and no exponent."""
    if value == 0:
        return "0"
    digits = max(0, 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{min(digits, 6)}f}"


def effect_sentence(sensor: Sensor, ohms: float, function: Function = "supply") -> str:
    """One plain sentence: what the measured resistance does to the reading, and what it would take to set the code."""
    if function == "signal":
        return (
            "The signal wire carries almost no current. So this resistance alone does not move the reading. "
            "But the load test shows a bad joint. The joint must get worse to set the code."
        )
    needed = ohms_for_degrees(sensor, sensor.plausibility_degrees, function)
    limit = f"the {sensor.plausibility_degrees:g} degrees that set the code"
    if math.isinf(ohms):
        return f"No current gets through this run. The sensor has no {function}, and the reading leaves its band."
    moved = abs(apparent_degrees(sensor, ohms, function))
    opening = f"This resistance of {_figure(ohms)} ohm alone would move the reading {_figure(moved)} degrees"
    if moved >= sensor.plausibility_degrees:
        return f"{opening}. That is more than {limit}. It explains the complaint by itself."
    if math.isinf(needed):
        return f"{opening}. No resistance in this wire reaches {limit}."
    return (
        f"{opening}. The load test shows a bad joint. The joint must get worse when warm or shaken, "
        f"to about {_figure(needed)} ohm, to reach {limit}."
    )


def tracks_sentence(sensor: Sensor, ohms: float, function: Function, shared: str = "") -> str:
    """What the same resistance does to the two tracks side by side; empty for one track or a wire without effect.

    `shared` names the part of the run that serves both tracks; empty when the run is one track's own.
    """
    if sensor.tracks == 1 or function == "signal" or math.isinf(ohms):
        return ""
    apart = f"the tracks disagree by {_figure(abs(apparent_degrees(sensor, ohms, function)))} degrees."
    if not shared:
        return f"This run serves one track only: {apart}"
    both = _both(sensor, ohms, function)
    return f"In the part that both tracks share ({shared}) it moves both alike: {both} In the part of one track, {apart}"


def _both(sensor: Sensor, ohms: float, function: Function) -> str:
    """What a controller that compares the tracks sees when both lose the same."""
    lost = lost_volts(sensor, ohms)
    if sensor.second_track == "sum":
        way = "high" if function == "ground" else "low"
        return f"their sum reads {_figure(lost)} V {way}. That points at this wire, not at a track."
    if function == "supply":
        return "their ratio stays one half. A controller that only compares the tracks sees nothing."
    return f"both are lifted, by {_figure(lost)} V at the low end."


def input_sentence(sensor: Sensor) -> str:
    """What the controller's own supply does to the reading, by the kind of its input."""
    if sensor.input_reference == "ratiometric":
        return "Low supply at the controller does not shift the reading, for the controller divides by it. Loss in the wiring does."
    sagged = output_volts(sensor, MIDDLE, 0.99 * sensor.supply_volts)
    moved = abs(position_of(sensor, sagged) - MIDDLE) * sensor.span_degrees
    return (
        f"The controller measures against a fixed {sensor.supply_volts:g} V. A sensor supply 1 % low moves the reading "
        f"{_figure(moved)} degrees in mid travel. Measure that supply at the controller too."
    )
