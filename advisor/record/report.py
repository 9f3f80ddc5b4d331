"""A case in numbers for other programs: the keys that `show --json` and `replay --json` print and the JSON record begins with."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from advisor.model.case import Case, Event, intake_events
from advisor.model.finding import Assessment, Judged, Step
from advisor.record.material import Material, gather

if TYPE_CHECKING:
    from advisor.consultation.consultation import Consultation

FORMAT = 1


def report(consultation: Consultation, case: Case) -> dict[str, Any]:
    """Suspects, next step, steps, readings, holds and cautions of a case. Raises InputError for a case without its opening.

    Minutes, volts and ohms; shares and probabilities from 0 to 1. `suspects` has one entry a cause, with the place that holds
    more than half of it; `places` has every cause at every place.
    """
    return numbers(gather(consultation, case, datetime.now(UTC)))


def numbers(m: Material) -> dict[str, Any]:
    """The same as `report` from what a record has gathered already."""
    final = m.final
    return {
        "format": FORMAT,
        "suspects": [{"cause": s.cause, "place": s.place, "title": s.title, "share": s.share} for s in final.ranking],
        "places": [{"cause": s.cause, "place": s.place, "share": share} for s, _, share in final.suspects],
        "next": _next(final.next),
        "steps": [_step(s.number, s.event, s.after) for s in m.trail[intake_events(m.case) :]],
        "readings": [_reading(j) for j in final.readings],
        "holds": [{"kind": h.kind, "target": h.target, "until": h.until, "rule": h.rule} for h in final.holds],
        "cautions": [{"id": c.id, "says": c.says, "why": c.why} for c in map(m.knowledge.cautions.__getitem__, cautions_now(m))],
        "advice": list(final.advice),
        "messages": list(final.messages),
        "robustness": final.robustness,
    }


def _next(step: Step | None) -> dict[str, Any] | None:
    if step is None:
        return None
    return {
        "kind": step.kind, "id": step.id, "title": step.title, "place": step.place, "circuit": step.circuit, "from": step.start,
        "to": step.end, "minutes": step.minutes, "places": list(step.places),
        "moves": [{"id": x.move, "point": x.point} for leg in step.legs for x in leg.moves],
        "minutes_to_the_end": step.to_the_end, "reason": " ".join(step.reason),
        "outcomes": [
            {"result": o.result, "says": o.says, "chance": o.chance, "leads_to": o.leads_to, "share": o.share}
            for o in step.outcomes
        ],
    }  # fmt: skip


def _step(number: int, event: Event, after: Assessment) -> dict[str, Any]:
    lead = after.leading
    return {
        "number": number, "event": event.model_dump(mode="json", by_alias=True, exclude_none=True), "leading": lead.cause,
        "leading_place": lead.place, "share": lead.share,
    }  # fmt: skip


def _reading(j: Judged) -> dict[str, Any]:
    return {
        "number": j.number, "circuit": j.circuit, "from": j.start, "to": j.end, "reference": j.reference, "loaded": j.loaded,
        "drop_volts": j.drop_volts, "limit_volts": j.limit_volts, "expected_volts": j.expected_volts,
        "probability_over": j.probability_over, "verdict": j.verdict,
        "excess_ohms": j.excess_ohms if math.isfinite(j.excess_ohms) else None,  # nothing arrived at the load: no number
    }  # fmt: skip


def cautions_now(m: Material) -> tuple[str, ...]:
    """Ids of the cautions in force: those that rules add, and those of the next step and the way to it."""
    from advisor.consultation.safety import cautions_of
    from advisor.consultation.steps import work_of

    found = list(m.final.cautions)
    step = m.final.next
    if step is not None:
        work = None if step.kind in ("run", "done") else work_of(m.situation, step)
        found += cautions_of(m.knowledge, m.machine, step, work)
    return tuple(dict.fromkeys(found))
