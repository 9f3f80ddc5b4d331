"""Whether the output at both ends of travel is what a sound position sensor gives. Volts, from the sensor's own ground; degrees.

The output is a share of the supply (ratiometric), so band, maker's ends and second track are all taken at the supply measured.
Each reading carries its own meter uncertainty (about 95 %); what lies closer than that to a limit is not called beyond it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.electrical.meter import COVERAGE, Meter, combined
from advisor.electrical.sensor import position_of, second_output_volts
from advisor.model.knowledge import EndsResult
from advisor.model.machine import Sensor


@dataclass(frozen=True)
class Ends:
    """What the voltages come to, and the sentences that say why."""

    result: EndsResult
    says: tuple[str, ...]


def judge_ends(sensor: Sensor, volts: Sequence[float], supply_volts: float | None = None, meter: Meter | None = None) -> Ends:
    """Judge the output at both ends of travel.

    `volts` are the first track at the two ends, then, where it was measured, the second track at the same two ends in the same
    order. `supply_volts` is the supply at the sensor's plug; without it the nominal one stands in. Raises ValueError for any
    other number of voltages, or for a second track that the sensor does not have.
    """
    if len(volts) not in (2, 4) or (len(volts) == 4 and sensor.tracks == 1):
        raise ValueError("give the first track at both ends, and the second track at both ends where there is one")
    bench = _Bench(sensor, sensor.supply_volts if supply_volts is None else supply_volts, meter or Meter())
    first, second = volts[:2], volts[2:]
    found = [
        *bench.outside(first),
        *bench.still(first),
        *bench.apart(first, second),
        *bench.off(first),
    ]
    result: EndsResult = found[0][0] if found else "ends-right"
    told = [bench.travel(first), *(says for _, says in found)]
    if not found:
        told.append(bench.right(second))
    if supply_volts is None:
        told.append(
            f"Taken at the nominal {sensor.supply_volts:g} V: the output is a share of the supply, so measure that at the plug too."
        )
    return Ends(result, tuple(told))


@dataclass(frozen=True)
class _Bench:
    """The sensor on this supply, read with this meter."""

    sensor: Sensor
    supply: float
    meter: Meter

    def at_supply(self, volts: float) -> float:
        """A voltage of the nominal supply, at the supply there is."""
        return volts * self.supply / self.sensor.supply_volts

    def margin(self, *volts: float) -> float:
        """Uncertainty of a sum or a difference of readings, about 95 %, in volts."""
        return COVERAGE * combined(*map(self.meter.standard_uncertainty, volts))

    def degrees(self, volts: float) -> float:
        """What a difference of the first track's output is in degrees of travel."""
        low, high = map(self.at_supply, self.sensor.band_volts)
        return volts / (high - low) * self.sensor.span_degrees

    def angle(self, volts: float) -> float:
        """Degrees from the low end of the band."""
        at_nominal = volts * self.sensor.supply_volts / self.supply
        return position_of(self.sensor, at_nominal) * self.sensor.span_degrees

    def outside(self, first: Sequence[float]) -> list[tuple[EndsResult, str]]:
        """Ends beyond the working band."""
        low, high = map(self.at_supply, self.sensor.band_volts)
        found: list[tuple[EndsResult, str]] = []
        for volts in first:
            beyond, side = (low - volts, "below") if volts < low else (volts - high, "above")
            if beyond > self.margin(volts):
                says = f"{volts:.2f} V is {beyond:.2f} V {side} the working band of {low:.2f} V to {high:.2f} V."
                found.append(("outside-band", says))
        return found

    def still(self, first: Sequence[float]) -> list[tuple[EndsResult, str]]:
        """An output that is the same at both ends."""
        moved = abs(first[1] - first[0])
        if moved > self.margin(*first) and self.degrees(moved) > self.sensor.plausibility_degrees:
            return []
        return [("does-not-move", "The output is the same at both ends: the sensor is not turned, or its output is stuck.")]

    def apart(self, first: Sequence[float], second: Sequence[float]) -> list[tuple[EndsResult, str]]:
        """Ends at which the second track is not where the first says it should be."""
        found: list[tuple[EndsResult, str]] = []
        slope = 0.5 if self.sensor.second_track == "half" else 1.0  # volts of the second track for one of the first
        for one, other in zip(first, second, strict=False):
            fitting = second_output_volts(self.sensor, one, self.supply)
            off, margin = (self.degrees(v / slope) for v in (abs(other - fitting), self.margin(one, other)))
            if off > self.sensor.plausibility_degrees + margin:
                says = (
                    f"Beside {one:.2f} V the second track should read {fitting:.2f} V and reads {other:.2f} V: "
                    f"{off:.1f} degrees apart, where {self.sensor.plausibility_degrees:g} set the code."
                )
                found.append(("tracks-disagree", says))
        return found

    def off(self, first: Sequence[float]) -> list[tuple[EndsResult, str]]:
        """Ends away from the maker's figures, where the machine file gives them; which end comes first does not matter."""
        if self.sensor.ends_volts is None:
            return []
        found: list[tuple[EndsResult, str]] = []
        for volts, figure in zip(sorted(first), sorted(map(self.at_supply, self.sensor.ends_volts)), strict=True):
            off = self.degrees(abs(volts - figure))
            if off > self.sensor.plausibility_degrees + self.degrees(self.margin(volts)):
                found.append(("ends-off", f"{volts:.2f} V is {off:.1f} degrees off the maker's {figure:.2f} V for this end."))
        return found

    def travel(self, first: Sequence[float]) -> str:
        """Where both ends are, in degrees."""
        low, high = sorted(self.angle(v) for v in first)
        return (
            f"{first[0]:.2f} V and {first[1]:.2f} V at {self.supply:.2f} V supply are {low:.1f} and {high:.1f} of "
            f"{self.sensor.span_degrees:g} degrees: {high - low:.1f} degrees of travel."
        )

    def right(self, second: Sequence[float]) -> str:
        """That nothing is wrong, and what was not looked at."""
        said = "Both ends lie in the working band"
        if second:
            said += ", and the tracks agree"
        if self.sensor.ends_volts is not None:
            return f"{said}, at the maker's figures."
        return f"{said}. Compare the travel with the maker's figure from lock to lock; the machine file has no ends_volts."
