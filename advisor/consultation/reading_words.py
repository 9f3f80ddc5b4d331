"""What load-test readings mean, in sentences for the technician."""

from __future__ import annotations

from advisor.consultation.consultation import Consultation
from advisor.model.case import State


def reading_lines(consultation: Consultation, state: State) -> tuple[str, ...]:
    """The newest reading judged, then what it says together with the others, then what it does to the sensor."""
    from advisor.electrical.sensor import effect_sentence, function_of
    from advisor.reasoning.readings import closure, outliers

    if not state.readings:
        return ()
    machine = consultation.machine
    judged = consultation.judged(state)
    newest = judged[-1]
    expected = (
        "" if newest.expected_volts is None else f"; the wire and its contacts alone would drop about {newest.expected_volts:.2f} V"
    )
    words = {"over": "over the limit", "within": "within the limit", "unsure": "too close to call"}
    lines = [
        f"{newest.reference:.2f} V - {newest.loaded:.2f} V = {newest.drop_volts:.2f} V dropped, "
        f"{newest.limit_volts:.2f} V allowed{expected}.",
        f"It is {words[newest.verdict]}: {newest.probability_over:.0%} sure to be over, with "
        f"{2 * newest.standard_uncertainty:.2f} V of meter uncertainty (about 95 %).",
    ]
    if newest.advice:
        lines.append(newest.advice)
    if newest.verdict == "over" and newest.excess_ohms > 0:
        lines.append(
            f"That is {newest.excess_ohms:.2f} ohm too much (between {newest.excess_low:.2f} and {newest.excess_high:.2f} ohm)."
        )
        lines.append(effect_sentence(machine.sensor, newest.excess_ohms, function_of(newest.circuit)))
    lines += [c.says for c in closure(judged) if newest in (c.whole, *c.parts)]
    for outlier in outliers(judged):
        if outlier.judged is newest:
            lines.append(
                f"It stands out from its sister circuits over the same run, which read about {outlier.median_volts:.2f} V."
            )
    return tuple(lines)
