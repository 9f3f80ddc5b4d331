"""What a technician says, turned into an event or refused with what would be right: pure, no terminal, no files."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from pydantic import ValidationError

from advisor.consultation.quantities import unit_words
from advisor.consultation.this_machine import check_for
from advisor.errors import InputError, nearest, short
from advisor.model.case import NORMAL, Answered, Reading, Skipped, State
from advisor.model.knowledge import Check, Knowledge, Result
from advisor.model.machine import Machine
from advisor.model.place_words import SIDES
from advisor.model.stage import ASK
from advisor.reasoning.likelihoods import check_places

LOAD_TEST = "load-test"
ENDS = "sensor-ends"  # what a check of the output at both ends of travel measures
WIRE_OHMS = "wire-ohms"  # what an ohmmeter on a wire measures
SUPPLY_CHECK = "supply-at-sensor-loaded"
IMPOSSIBLE = 1e6  # volts, ohms and amperes from which on nothing here has a meaning
LEAST_SUPPLY = 0.5  # of the sensor's nominal supply: with less its output says nothing; common practice, no source

# How units that people write are turned into a check's own unit.
_FACTORS: dict[tuple[str, str], float] = {
    ("mV", "V"): 0.001, ("V", "mV"): 1000.0, ("ohm", "kohm"): 0.001, ("kohm", "ohm"): 1000.0, ("mA", "A"): 0.001,
    ("A", "mA"): 1000.0,
}  # fmt: skip


def find_check(knowledge: Knowledge, name: str) -> Check:
    """A check by id. Raises InputError with the nearest id."""
    check = knowledge.checks.get(name)
    if check is None:
        raise InputError(f"no check '{name}'", _sentence(nearest(name, knowledge.checks)))
    return check


def _sentence(hint: str) -> str:
    return hint[:1].upper() + hint[1:] + ("" if hint.endswith(("?", ".")) else ".") if hint else ""


def check_place(knowledge: Knowledge, machine: Machine, check: Check, place: str | None) -> str | None:
    """The place as the layout names it. Raises InputError when the check needs one, takes none, or there is no such place.

    A check done at a point may be asked without one: at some point, nobody said which.
    """
    known = [p for p in check_places(check, machine) if p is not None]
    if check.at is None or check.at == "section":
        if place is not None:
            raise InputError(f"{check.id} is not done at a place, but '{place}' was given", "Leave the place out.")
        return None
    if not known:
        if place is None:
            return None
        raise InputError(f"this layout has no {check.at}, so {check.id} has no place '{place}'", "Leave the place out.")
    if place is None and check.at == "point":
        return check.point
    if place is None:
        raise InputError(f"{check.id} is done at one {check.at}, and none was named", _sentence(nearest("", known)))
    if place not in known:
        raise InputError(f"no {check.at} '{place}' in this layout", _sentence(nearest(place, known)))
    return place


def normal_result(check: Check) -> str:
    return next(r.id for r in check.results if r.normal)


def asks_where(check: Check, result: str) -> bool:
    """Whether a result is of a place on the harness that the check does not name by itself."""
    return check.where is not None and any(r.id == result and not (r.normal or r.elsewhere) for r in check.results)


def asks_side(check: Check, result: str) -> bool:
    """Whether a result can be on one side only."""
    return check.sides and any(r.id == result and not r.normal for r in check.results)


def known_spot(machine: Machine, check: Check, where: Any) -> None:
    """Raises InputError for a place that this harness does not have."""
    if where is not None and check.where is not None:
        from advisor.evidence.spots import spot_named, spots

        if spot_named(machine, check.where, str(where)) is None:
            known = [s.id for s in spots(machine, check.where)]
            raise InputError(f"no place '{where}' on this harness", _sentence(nearest(str(where), known)))


def with_spot(machine: Machine, check: Check, answered: Answered, where: Any = None, side: Any = None) -> Answered:
    """An answer with where it reacted and on which side. Raises InputError for a place that is not there to be named."""
    if where is None and side is None:
        return answered
    if where is not None and not asks_where(check, answered.result):
        raise InputError(f"'{answered.result}' of {check.id} has no place on the harness", "Leave 'where' away.")
    if side is not None and not asks_side(check, answered.result):
        raise InputError(f"'{answered.result}' of {check.id} has no side", "Leave 'side' away.")
    known_spot(machine, check, where)
    if side is not None and side not in SIDES:
        raise InputError(f"'{side}' is no side", "Type left, right or both.")
    return answered.model_copy(update={"where": where, "side": side})


def answer(
    knowledge: Knowledge, machine: Machine, check_id: str, result: str, place: str | None = None, also: Sequence[str] = ()
) -> Answered:
    """An answer by result id; `normal` stands for the normal one. A question may take several. Raises InputError."""
    check = find_check(knowledge, check_id)
    spot = check_place(knowledge, machine, check, place)
    ids = [r.id for r in check.results]
    if result == NORMAL and NORMAL not in ids and check.stage != ASK:
        result = normal_result(check)
    for given in (result, *also):
        if given not in ids:
            raise InputError(f"'{given}' is no result of {check_id}", _sentence(nearest(given, ids)))
    if also and not check.many:
        raise InputError(f"{check.title} takes one answer, not {len(also) + 1}", "Choose the one that fits best.")
    return Answered(check=check_id, result=result, also=tuple(also), place=spot)


def band(check: Check, value: float) -> Result:
    """The result whose limits hold a value in the check's own unit."""
    for result in check.results:
        above = -math.inf if result.above is None else result.above
        below = math.inf if result.below is None else result.below
        if above <= value < below:
            return result
    return check.results[-1]


def measured(
    knowledge: Knowledge, machine: Machine, check_id: str, value: float, unit: str | None, place: str | None = None
) -> Answered:
    """An answer by a number that was read. Raises InputError for a bad unit or a value that cannot be."""
    check = check_for(find_check(knowledge, check_id), machine)
    measure = check.measure
    if measure is not None and measure.of == ENDS:
        return both_ends(knowledge, machine, check_id, (value,), unit, None, place)
    if measure is None:
        raise InputError(
            f"{check_id} is answered with a result, not with a number",
            _sentence(nearest("", [r.id for r in check.results])),
        )
    spot = check_place(knowledge, machine, check, place)
    own = _converted(check.title, value, unit or measure.unit, measure.unit)
    if not math.isfinite(own) or not measure.lowest <= own <= measure.highest:
        hint = f"Read it again: it must lie between {measure.lowest:.10g} and {measure.highest:.10g} {unit_words(measure.unit)}."
        raise InputError(f"{value:g} {unit or measure.unit} cannot be read here: {check.title.lower()}", hint)
    return Answered(check=check_id, result=band(check, own).id, place=spot, value=own, unit=measure.unit)


def supply_read(state: State) -> float | None:
    """Volts of the sensor's supply as read last at its plug; None while it was not, or not since the last repair."""
    since = max(state.repairs, default=-1)
    read = [a.value for n, a in sorted(state.answers.items()) if n > since and a.check == SUPPLY_CHECK and a.value is not None]
    return read[-1] if read else None


def both_ends(
    knowledge: Knowledge, machine: Machine, check_id: str, values: Sequence[float], unit: str | None, supply: float | None,
    place: str | None = None,
) -> Answered:  # fmt: skip
    """An answer by the output at both ends of travel. Raises InputError for what cannot be such a reading."""
    from advisor.electrical.ends import judge_ends
    from advisor.reasoning.readings import HIGHEST_REFERENCE

    check, sensor = find_check(knowledge, check_id), machine.sensor
    measure = check.measure
    if measure is None or measure.of != ENDS:
        raise InputError(f"{check_id} is not answered with several numbers", "Give one number, or a result.")
    spot = check_place(knowledge, machine, check, place)
    if len(values) not in (2, 4) or (len(values) == 4 and sensor.tracks == 1):
        tracks = "two voltages: the output at one end and at the other"
        hint = f"Type {tracks}, such as 0.52 4.46."
        if sensor.tracks == 2:
            hint = f"Type {tracks}; or four, the second track at the same two ends after the first."
        several, fitting = "s" if len(values) > 1 else "", "two or four" if sensor.tracks == 2 else "two"
        raise InputError(f"{len(values)} number{several} typed, but {fitting} belong here", hint)
    own = tuple(_converted(check.title, v, unit or measure.unit, measure.unit) for v in values)
    for volts in (*own, *(() if supply is None else (supply,))):
        if not math.isfinite(volts) or not measure.lowest <= volts <= min(
            measure.highest, HIGHEST_REFERENCE * machine.nominal_volts
        ):
            hint = "Type volts from sensor ground, such as 0.52; millivolts with their unit, such as 520mV."
            raise InputError(f"{volts:g} {measure.unit} cannot be read here: {check.title.lower()}", hint)
    if supply is not None and not supply >= LEAST_SUPPLY * sensor.supply_volts:
        hint = "Put the supply right first: the output is a share of it."
        raise InputError(f"a supply of {supply:g} V is less than half of {sensor.supply_volts:g} V", hint)
    found = judge_ends(sensor, own, supply)
    return Answered(check=check_id, result=found.result, place=spot, unit=measure.unit, values=own, supply=supply)


def _converted(title: str, value: float, unit: str, wanted: str) -> float:
    if unit == wanted:
        return value
    factor = _FACTORS.get((unit, wanted))
    if factor is None:
        raise InputError(
            f"{title} is read in {unit_words(wanted)}, not in {unit_words(unit)}", f"Give the number in {unit_words(wanted)}."
        )
    return value * factor


def skipped(knowledge: Knowledge, machine: Machine, check_id: str, place: str | None = None, why: str = "") -> Skipped:
    """A check that was left out. Without a place it is left out everywhere."""
    check = find_check(knowledge, check_id)
    if place is not None:
        place = check_place(knowledge, machine, check, place)
    return Skipped(check=check_id, place=place, why=why)


def load_test(machine: Machine, values: dict[str, Any], earlier: tuple[Reading, ...] = ()) -> Reading:
    """A load-test reading. Raises InputError when it cannot be what it says."""
    from advisor.reasoning.readings import refusal, stale_reference

    circuit = str(values.get("circuit"))
    if circuit not in machine.circuits:
        raise InputError(f"no circuit '{circuit}' in this layout", _sentence(nearest(circuit, machine.circuits)))
    try:
        reading = Reading.model_validate(values)
    except ValidationError as error:
        first = error.errors()[0]
        key = str(first["loc"][-1])
        raise InputError(f"'{first['input']}' is no {key.replace('_', ' ')}", f"Correct {key}, or leave it out.") from None
    refused = refusal(machine, reading) or stale_reference(machine, (*earlier, reading))
    if refused is not None:
        raise InputError(refused.what.rstrip("."), refused.hint)
    return reading


def possible(machine: Machine, reading: Reading) -> None:
    """Raises InputError for a load test that no arithmetic can use, whatever the limits of the day are."""
    if machine.section(reading.circuit, reading.start, reading.end) is None:
        raise InputError(
            f"this layout has no run of '{short(reading.circuit)}' from '{short(reading.start)}' to '{short(reading.end)}'",
            "Keep the file as it is and copy it.",
        )
    from advisor.electrical.wire import REFERENCE_CELSIUS, temperature_factor
    from advisor.reasoning.readings import meter_of

    loads = [v for v in (reading.load_ohms, reading.load_amps) if v is not None]
    celsius = REFERENCE_CELSIUS if reading.copper_celsius is None else reading.copper_celsius
    numbers = (reading.reference, reading.loaded, celsius, *loads)
    able = all(math.isfinite(v) and abs(v) < IMPOSSIBLE for v in numbers) and min(reading.reference, 1.0, *loads) > 0
    try:
        meter_of(reading)
    except ValueError:
        able = False
    if not able or len(loads) > 1 or temperature_factor(celsius) <= 0:
        raise InputError("a load test holds numbers that cannot have been read", "Keep the file as it is and copy it.")
