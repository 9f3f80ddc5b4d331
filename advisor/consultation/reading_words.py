"""What load-test readings mean, in sentences for the technician."""

from __future__ import annotations

import math

from advisor.consultation.answers import ENDS, WIRE_OHMS
from advisor.consultation.consultation import Consultation
from advisor.consultation.retest_words import verdict
from advisor.model.case import Answered, Corrected, Event, Reading, Retested, State


def meaning(consultation: Consultation, state: State, event: Event) -> tuple[str, ...]:
    """What the numbers of the newest event mean; nothing for an event without numbers."""
    if isinstance(event, Retested):
        own = read_lines(consultation, event.by) if isinstance(event.by, Answered) else ()
        return (*own, *verdict(consultation.knowledge, consultation.machine, state, event))
    said = event.by if isinstance(event, Corrected) else event
    if isinstance(said, Answered):
        return read_lines(consultation, said)
    return reading_lines(consultation, state) if isinstance(event, Reading) else ()


def reading_lines(consultation: Consultation, state: State) -> tuple[str, ...]:
    """The newest reading judged, then what it says together with the others, then what it does to the sensor."""
    from advisor.electrical.sensor import effect_sentence, function_of
    from advisor.reasoning.readings import closure, outliers

    if not state.readings:
        return ()
    machine = consultation.machine
    judged = consultation.judged(state)
    newest = judged[-1]
    expected = "" if newest.expected_volts is None else f". Good wire and contacts drop about {newest.expected_volts:.2f} V"
    words = {"over": "over the limit", "within": "within the limit", "unsure": "too close to call"}
    lines = [
        f"{newest.reference:.2f} V - {newest.loaded:.2f} V = {newest.drop_volts:.2f} V dropped, "
        f"{newest.limit_volts:.2f} V allowed{expected}.",
        f"{words[newest.verdict].capitalize()}; {per_cent_sure(newest.probability_over)} chance that it is over. "
        f"The meter can be {2 * newest.standard_uncertainty:.2f} V off (about 95 %).",
    ]
    if newest.expected_volts is not None and newest.expected_volts > newest.limit_volts:
        lines.append("With this load good wire alone drops more than the limit. Use a lighter load, or the maker's limit.")
    if newest.advice:
        lines.append(newest.advice)
    if newest.verdict == "over" and newest.excess_ohms > 0:
        lines.append(excess_says(newest.excess_ohms, newest.excess_low, newest.excess_high))
        lines.append(effect_sentence(machine.sensor, newest.excess_ohms, function_of(newest.circuit)))
    lines += [c.says for c in closure(judged) if newest in (c.whole, *c.parts)]
    for outlier in outliers(judged):
        if outlier.judged is newest:
            lines.append(f"The other circuits over the same run read about {outlier.median_volts:.2f} V. This one stands out.")
    return tuple(lines)


def read_lines(consultation: Consultation, answered: Answered) -> tuple[str, ...]:
    """What numbers typed for a check come to beyond its result; nothing for an answer in words."""
    from advisor.electrical.drop import Load
    from advisor.electrical.ends import judge_ends
    from advisor.electrical.ohmmeter import ohmmeter_sentence

    machine, check = consultation.machine, consultation.knowledge.checks.get(answered.check)
    if check is None or check.measure is None:
        return ()
    if check.measure.of == ENDS and answered.values:
        return judge_ends(machine.sensor, answered.values, answered.supply).says
    if check.measure.of == WIRE_OHMS and answered.value is not None:
        test = machine.load_test
        amps = Load(test.load_ohms, test.load_amps).current(machine.nominal_volts)
        broken = not next(r.normal for r in check.results if r.id == answered.result)
        return (ohmmeter_sentence(answered.value, broken, test.limit_volts_per_section, amps),)
    return ()


def excess_says(ohms: float, low: float, high: float) -> str:
    """Ohms too much, with their bounds where there are any: an open run has no upper one."""
    if not math.isfinite(ohms):
        return f"Nothing arrives at the load: the run is open, or has more than {low:.0f} ohm."
    if not math.isfinite(high):
        return f"That is about {ohms:.2f} ohm too much ({low:.2f} ohm at least; it can be open)."
    return f"That is {ohms:.2f} ohm too much (between {low:.2f} and {high:.2f} ohm)."


def per_cent_sure(probability: float) -> str:
    """A probability in per cent that never reads as certain: no reading is."""
    if not 0.001 <= probability <= 0.999:
        return "less than 0.1%" if probability < 0.5 else "more than 99.9%"
    return f"{probability:.0%}" if 0.005 <= probability < 0.995 else f"{probability:.1%}"
