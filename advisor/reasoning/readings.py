"""What load-test readings mean: is a reading usable, is it over its limit, and do several of them agree.

Volts and ohms. Every sentence here is for the technician who took the reading.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from statistics import median
from typing import NamedTuple

from advisor.electrical.drop import (
    Load,
    allowed_drop,
    drop_volts,
    excess_interval,
    probability_over,
    sound_ohms,
    verdict_of,
)
from advisor.electrical.meter import COVERAGE, Meter, combined, parse_meter
from advisor.electrical.wire import REFERENCE_CELSIUS, awg_mm2
from advisor.model.case import Reading
from advisor.model.finding import Judged
from advisor.model.machine import LARGEST_LOAD_AMPS, LARGEST_LOAD_OHMS, Machine, Section

HIGHEST_REFERENCE = 1.35  # times nominal; a charging source stays below; common practice, no source
LOWEST_REFERENCE = 0.5  # times nominal
# Limits of what can be true on a machine; common practice, no source.
SMALLEST_LOAD_AMPS = 0.001
COLDEST_COPPER, HOTTEST_COPPER = -60.0, 200.0  # degrees Celsius
OUTLIER_SCORE = 3.5  # of the modified score by median and MAD; the usual cut, from memory
_MAD_TO_SD = 1.4826  # for a normal distribution


class Remark(NamedTuple):
    """What is wrong with readings, and what to do about it."""

    what: str
    hint: str


def meter_of(reading: Reading | None) -> Meter:
    """The meter a reading was taken with: as stated with it, or else a usual one."""
    return Meter() if reading is None or reading.meter is None else parse_meter(reading.meter)


def load_of(machine: Machine, reading: Reading) -> Load:
    """The load a reading was taken with: its own, or else the machine's."""
    if reading.load_ohms is not None or reading.load_amps is not None:
        return Load(reading.load_ohms, reading.load_amps)
    return Load(machine.load_test.load_ohms, machine.load_test.load_amps)


def limit_of(machine: Machine, section: Section, load: Load, reference: float) -> float:
    """Volts allowed: the figure of the table, or what the sound run drops at most where the table allows less than that."""
    sound = sound_of(machine, section, None)
    return max(table_limit(machine, section), 0.0 if sound is None else load.drop(reference, sound[2]))


def table_limit(machine: Machine, section: Section) -> float:
    """The circuit's own figure for a whole circuit, else so many volts for each connection section."""
    points = machine.circuit_points(section.circuit)
    own = machine.load_test.limit_volts.get(section.circuit)
    if own is not None and (section.start, section.end) == (points[0], points[-1]):
        return own
    return allowed_drop(section.joints, machine.load_test.limit_volts_per_section)


def sound_of(machine: Machine, section: Section, celsius: float | None) -> tuple[float, float, float] | None:
    """Least, usual and greatest ohms of a sound run; None when a wire of it has no size or no length."""
    wires, contacts = [], 0
    for name in section.elements:
        element = machine.elements[name]
        if element.kind != "wire":
            contacts += 1
            continue
        area = element.mm2 if element.awg is None else awg_mm2(element.awg)
        if area is None or element.length is None:
            return None
        wires.append((area, element.length))
    return sound_ohms(wires, contacts, REFERENCE_CELSIUS if celsius is None else celsius)


def judge(machine: Machine, reading: Reading) -> Judged:
    """Judge a reading that `refusal` has let pass."""
    section = machine.section(reading.circuit, reading.start, reading.end)
    if section is None:
        raise ValueError(f"{reading.circuit} has no run from {reading.start} to {reading.end}")
    load, reference, loaded = load_of(machine, reading), reading.reference, reading.loaded
    limit = limit_of(machine, section, load, reference)
    meter = meter_of(reading)
    drop, uncertainty = drop_volts(reference, loaded), meter.drop_uncertainty(reference, loaded)
    sound = sound_of(machine, section, reading.copper_celsius)
    at_limit = load.series_ohms(reference, max(reference - limit, 0.0))
    verdict = verdict_of(drop, limit, uncertainty)
    expected = None if sound is None else load.drop(reference, sound[1])
    advice = _decisive(drop, limit, uncertainty) if verdict == "unsure" else ""
    excess = excess_interval(reference, loaded, load, sound or (at_limit,) * 3, uncertainty)
    return Judged(
        section.circuit, section.start, section.end, reference, loaded, drop, limit,
        expected, uncertainty, probability_over(drop, limit, uncertainty), verdict,
        *excess,
        meter=str(meter), advice=advice,
    )  # fmt: skip


def _decisive(drop: float, limit: float, uncertainty: float) -> str:
    """How to make a reading that is too close to call decisive."""
    return (
        f"The drop of {drop:.3f} V is over the limit of {limit:.3f} V. "
        f"But the meter can be {COVERAGE * uncertainty:.3f} V off. Read the drop directly: the meter from one end of the run "
        "to the other, on the lowest range that holds it. Write down every digit. Take the mean of three readings. "
        "Or compare with a good circuit on the same way."
    )


def _not_numbers(reading: Reading) -> Remark | None:
    """Numbers that are no voltages or no load."""
    loads = [v for v in (reading.load_ohms, reading.load_amps) if v is not None]
    if not all(math.isfinite(v) for v in (reading.reference, reading.loaded, *loads)):
        return Remark("The reading holds something that is not a number.", "Enter volts as the meter shows them.")
    if reading.reference <= 0 or reading.loaded < 0:
        return Remark(
            "A reading is negative, or the reference is zero.",
            "Exchange the meter's leads, black on the negative side of the load, and read again.",
        )
    if len(loads) == 2:
        return Remark(
            "The load is given in ohms and in amperes.",
            "Give ohms for a resistor, amperes for a load that holds a current.",
        )
    if any(v <= 0 for v in loads):
        return Remark("A load of zero or less cannot be.", "Enter the load's own value, as marked or as measured.")
    if reading.load_ohms is not None and reading.load_ohms > LARGEST_LOAD_OHMS:
        return Remark(
            f"A load of {reading.load_ohms:g} ohm draws next to nothing, so it tests nothing.",
            f"Enter the load in ohms, {LARGEST_LOAD_OHMS:g} at most.",
        )
    if reading.load_amps is not None and reading.load_amps < SMALLEST_LOAD_AMPS:
        return Remark(f"A load of {reading.load_amps:g} A tests nothing.", f"Enter amperes, {SMALLEST_LOAD_AMPS:g} at least.")
    copper = reading.copper_celsius
    if copper is not None and not COLDEST_COPPER <= copper <= HOTTEST_COPPER:
        return Remark(
            f"Copper at {copper:g} degrees Celsius cannot be on a machine.",
            f"Enter degrees Celsius from {COLDEST_COPPER:g} to {HOTTEST_COPPER:g}, or leave it out.",
        )
    return None


def _not_this_run(machine: Machine, reading: Reading) -> Remark | None:
    """A run that the layout does not have."""
    if reading.circuit not in machine.circuits:
        near = get_close_matches(reading.circuit, machine.circuits, n=1)
        hint = f"Did you mean {near[0]}?" if near else f"The circuits are: {', '.join(machine.circuits)}."
        return Remark(f"This machine has no circuit called {reading.circuit}.", hint)
    if machine.section(reading.circuit, reading.start, reading.end) is not None:
        return None
    points = machine.circuit_points(reading.circuit)
    return Remark(
        f"The circuit {reading.circuit} has no run from {reading.start} to {reading.end}.",
        f"It can be reached at: {', '.join(points)}. Name two different ones.",
    )


def _not_from_this_source(machine: Machine, reading: Reading) -> Remark | None:
    """Voltages which the machine's battery cannot give, or cannot be left with."""
    nominal, highest = machine.nominal_volts, HIGHEST_REFERENCE * machine.nominal_volts
    for name, value in (("reference", reading.reference), ("loaded reading", reading.loaded)):
        if value > highest:
            return Remark(
                f"A {name} of {value:g} V is more than a {nominal} V source can give.",
                "Were millivolts typed as volts? Enter volts, or check that this is the right machine.",
            )
    if reading.reference < LOWEST_REFERENCE * nominal:
        return Remark(
            f"A reference of {reading.reference:g} V is less than half of {nominal} V.",
            "The source, its fuse or the leads give way under the load. Put that right and take the reference again.",
        )
    return None


def refusal(machine: Machine, reading: Reading) -> Remark | None:
    """Why a reading cannot be used, and what to do; None when it can. Compares as a plain tuple (what, hint)."""
    found = _not_this_run(machine, reading) or _not_numbers(reading) or _not_from_this_source(machine, reading)
    if found is not None:
        return found
    amps = load_of(machine, reading).current(reading.reference)
    if amps > LARGEST_LOAD_AMPS:
        return Remark(
            f"This load would draw {amps:.0f} A; {LARGEST_LOAD_AMPS:.0f} A is the most that leads and fuses here bear.",
            "Use a larger resistance, or correct its value.",
        )
    try:
        meter = meter_of(reading)
    except ValueError as error:
        what, _, hint = str(error).partition("; ")
        return Remark(what, f"{hint[:1].upper()}{hint[1:]}.")
    margin = COVERAGE * meter.drop_uncertainty(reading.reference, reading.loaded)
    if reading.loaded > reading.reference + margin:
        return Remark(
            f"The loaded reading {reading.loaded:g} V is higher than the reference {reading.reference:g} V by more "
            f"than the meter explains ({margin:.3f} V).",
            "The two are probably swapped, or the source has changed. Take the reference again, then the loaded reading.",
        )
    return None


def _fittings(machine: Machine, reading: Reading) -> tuple[str | None, Load]:
    return reading.adapter, load_of(machine, reading)


def stale_reference(machine: Machine, readings: Sequence[Reading]) -> Remark | None:
    """Whether the last of the readings, in the order taken, uses a reference from before adapter or load was changed.

    That is when its reference is the very number taken with the fittings before, and not with the present ones. The
    same number can come up again by itself: then the reading says that its reference is fresh.
    """
    if len(readings) < 2 or readings[-1].fresh:
        return None
    last = readings[-1]
    same = [r for r in readings[:-1] if r.reference == last.reference]
    if not same or any(_fittings(machine, r) == _fittings(machine, last) for r in same):
        return None
    changed = "load" if load_of(machine, same[-1]) != load_of(machine, last) else "adapter"
    return Remark(
        f"The reference {last.reference:g} V was taken with another {changed}.",
        f"Take the reference again with the {changed} that is fitted now, then the loaded reading. If the meter "
        "shows the same number, add fresh=yes.",
    )


@dataclass(frozen=True)
class Closure:
    """Whether the sections of a run add up to the whole. `uncertainty` is expanded, about 95 %."""

    whole: Judged
    parts: tuple[Judged, ...]
    sum_volts: float
    difference_volts: float  # sum minus whole
    uncertainty: float
    closes: bool
    repeat: Judged | None  # the reading to take again when it does not close
    says: str


def _chain(whole: Judged, readings: Sequence[Judged]) -> tuple[Judged, ...] | None:
    """Readings of one circuit that lead end to end through the whole run; the latest reading of a run counts."""
    steps = {(j.start, j.end): j for j in readings if j.circuit == whole.circuit}
    steps.pop((whole.start, whole.end), None)
    paths: list[tuple[Judged, ...]] = [(j,) for j in steps.values() if j.start == whole.start]
    while paths:
        path = paths.pop(0)
        if path[-1].end == whole.end:
            return path
        paths += [(*path, j) for j in steps.values() if j.start == path[-1].end]
    return None


def _to_repeat(whole: Judged, parts: Sequence[Judged], difference: float) -> Judged:
    """The reading that, if it alone were wrong, leaves the fewest runs over their limit; the earliest of equals."""

    def over_limit(wrong: Judged) -> tuple[bool, int]:
        right = wrong.drop_volts + (difference if wrong is whole else -difference)
        drops = [(right if j is wrong else j.drop_volts, j.limit_volts) for j in (whole, *parts)]
        return right < 0, sum(drop > limit for drop, limit in drops)

    return min((whole, *parts), key=over_limit)


def closure(judged: Sequence[Judged]) -> tuple[Closure, ...]:
    """For each run that was read whole and in sections: do the drops of the sections add up to it?"""
    latest = {(j.circuit, j.start, j.end): j for j in judged}
    found = []
    for whole in latest.values():
        parts = _chain(whole, tuple(latest.values()))
        if parts is not None:
            found.append(_closure(whole, parts))
    return tuple(found)


def _closure(whole: Judged, parts: tuple[Judged, ...]) -> Closure:
    total = round(sum(p.drop_volts for p in parts), 9)
    difference = round(total - whole.drop_volts, 9)
    uncertainty = COVERAGE * combined(*(j.standard_uncertainty for j in (whole, *parts)))
    closes = abs(difference) <= uncertainty
    repeat = None if closes else _to_repeat(whole, parts, difference)
    rounded = any(parse_meter(j.meter).rounded(j.reference, j.loaded) for j in (whole, *parts))
    source = "meter " + " and ".join(dict.fromkeys(j.meter for j in (whole, *parts)))
    source += ", numbers written to a tenth of a volt or coarser" if rounded else ""
    sums = " + ".join(f"{p.drop_volts:.2f}" for p in parts)
    says = (
        f"The sections of {whole.run} add up to {sums} = {total:.2f} V against {whole.drop_volts:.2f} V for the whole. "
        f"The uncertainty of that difference is {uncertainty:.2f} V ({source}; about 95 %), so the readings "
    )
    if repeat is None:
        says += "agree."
    else:
        says += f"do not agree. Repeat the reading of {repeat.run}; a joint that comes and goes can do this too."
    return Closure(whole, parts, total, difference, uncertainty, closes, repeat, says)


@dataclass(frozen=True)
class Outlier:
    """A circuit that reads away from its siblings over the same run."""

    judged: Judged
    median_volts: float
    score: float  # modified score: distance from the median in units of the MAD scaled to a standard deviation


def _siblings(judged: Sequence[Judged]) -> dict[tuple[str, str], list[Judged]]:
    """The latest reading of every circuit, by run."""
    latest = {(j.circuit, j.start, j.end): j for j in judged}
    groups: dict[tuple[str, str], list[Judged]] = {}
    for one in latest.values():
        groups.setdefault((one.start, one.end), []).append(one)
    return groups


def outliers(judged: Sequence[Judged]) -> tuple[Outlier, ...]:
    """Circuits far from their siblings of the same run, by median and median absolute deviation (MAD).

    At least four siblings are needed. The spread is never taken as less than the uncertainty of a reading, so that
    siblings which agree by chance do not make an outlier of the next one.
    """
    found = []
    for group in _siblings(judged).values():
        if len(group) < 4:
            continue
        middle = median(j.drop_volts for j in group)
        spread = _MAD_TO_SD * median(abs(j.drop_volts - middle) for j in group)
        for one in group:
            score = (one.drop_volts - middle) / max(spread, one.standard_uncertainty)
            if abs(score) > OUTLIER_SCORE:
                found.append(Outlier(one, middle, score))
    return tuple(found)


def all_equally_high(machine: Machine, judged: Sequence[Judged]) -> Remark | None:
    """All circuits of a run over the limit by much the same: the test itself is at fault, not the harness.

    At least three circuits that share no element, none of them sound, and no outlier by more than a third.
    """
    for (start, end), group in _siblings(judged).items():
        if len(group) < 3 or any(j.verdict != "over" for j in group):
            continue
        sections = [machine.section(j.circuit, start, end) for j in group]
        if set.intersection(*(set(s.elements) for s in sections if s is not None)):
            continue
        drops = [j.drop_volts for j in group]
        if max(drops) - min(drops) <= max(median(drops) / 3, COVERAGE * group[0].standard_uncertainty):
            return Remark(
                f"All {len(group)} circuits from {start} to {end} read high by much the same, and they share nothing.",
                "Suspect the reference, the leads and adapters, or the load before the harness: take the reference "
                "again with the same leads and adapters, and repeat one reading.",
            )
    return None
