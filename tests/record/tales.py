"""Cases that the tests of the record tell, on the small knowledge and the small machine."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from typing import Any

from builders import stamped, told

from advisor.consultation.consultation import Consultation
from advisor.model.case import Case, Event
from advisor.record.view import RecordView, build

NOW = datetime(2031, 3, 4, 16, 5, tzinfo=timezone(timedelta(hours=2)))
CASE_ID = "20310304-0730-splice"
START: dict[str, Any] = {
    "codes": ["SPN 520211 FMI 2 OC 6"],
    "intake": {"temperature": "hot", "recent-work": ["harness-repair"], "occurrences": 5, "hours": 12},
}


def load(circuit: str, end: str, reference: float, loaded: float, kind: str = "reading") -> dict[str, Any]:
    """A load test from the controller on, with 20 ohm so that sound wire stays far below the limit."""
    keys = {"from": "controller", "to": end, "load_ohms": 20, "reference": reference, "loaded": loaded}
    return {kind: "load-test", "circuit": circuit, **keys}


FOUND: tuple[dict[str, Any], ...] = (
    {"check": "confirm-complaint", "result": "shows"},
    {"check": "watch-wheel-against-reading", "result": "frame-moves"},
    {"correct": "watch-wheel-against-reading", "result": "only-reading"},
    {"note": "Began after the machine was washed."},
    {"check": "wiggle-harness", "result": "quiet"},
    {"reading": "supply-at-sensor-loaded", "value": 4.41, "unit": "V"},
    load("supply-a", "sensor", 24.61, 23.78),
    load("supply-a", "bulkhead", 24.61, 23.85),
    load("supply-b", "sensor", 24.61, 23.80),
    load("signal-a", "sensor", 24.61, 24.41),
    {"skip": "output-sweep", "why": "nobody to steer"},
)
REPAIRED = (*FOUND, {"repair": "high-resistance-splice", "place": "splice-7", "minutes": 50})
RETESTED = (*REPAIRED, load("supply-a", "sensor", 24.60, 24.45, "retest"))
FINISHED = (*RETESTED, {"run": 4.5})


def record(*lines: dict[str, Any], details: dict[str, str] | None = None, **keys: Any) -> RecordView:
    """The record of a case told by lines."""
    consultation, case = told(*lines, **(keys or START))
    return build(consultation, case, CASE_ID, NOW, details)


def record_of(lines: tuple[dict[str, Any], ...], *events: Event) -> RecordView:
    """The record of a case told by lines and then by events that no line can tell."""
    consultation, case = with_events(lines, *events)
    return build(consultation, case, CASE_ID, NOW)


def with_events(lines: tuple[dict[str, Any], ...], *events: Event) -> tuple[Consultation, Case]:
    consultation, case = told(*lines, **START)
    return consultation, stamped([*case.events, *events])
