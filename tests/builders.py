"""What many tests need: the small hand-made knowledge, a small machine, and cases told as lines of a scenario."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from advisor.consultation.consultation import Consultation
from advisor.consultation.intake_told import machine_of
from advisor.consultation.scenario import events_of, opening
from advisor.consultation.this_machine import for_machine
from advisor.library.files import read_scenario
from advisor.library.parser import load
from advisor.model.case import Case, Event
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.model.scenario import Scenario

SMALL = Path(__file__).parent / "small-knowledge"
MORNING = datetime(2031, 3, 4, 7, 30, tzinfo=UTC)

MACHINE: dict[str, Any] = {
    "title": "Tracked dumper with hinge (invented)",
    "nominal_volts": 24,
    "sensor": {"title": "Hinge angle sensor", "supply_milliamps": 9},
    "load_test": {"load_ohms": 9.0, "limit_volts_per_section": 0.15},
    "points": ["controller", "bulkhead", "sensor"],
    "circuits": {
        "supply-a": [
            {"terminal": "controller:21"}, {"wire": "feed", "mm2": 1.0, "metres": 1.7}, {"splice": "splice-7"},
            {"wire": "supply-a-upper", "mm2": 1.0, "metres": 1.1}, {"terminal": "bulkhead:2"},
            {"wire": "supply-a-lower", "mm2": 1.0, "metres": 2.6}, {"terminal": "sensor:1"},
        ],
        "supply-b": [
            {"terminal": "controller:21"}, {"wire": "feed"}, {"splice": "splice-7"},
            {"wire": "supply-b-upper", "mm2": 1.0, "metres": 1.1}, {"terminal": "bulkhead:3"},
            {"wire": "supply-b-lower", "mm2": 1.0, "metres": 2.6}, {"terminal": "sensor:4"},
        ],
        "signal-a": [
            {"terminal": "controller:30"}, {"wire": "signal-a-upper", "mm2": 0.5, "metres": 2.8}, {"terminal": "bulkhead:5"},
            {"wire": "signal-a-lower", "mm2": 0.5, "metres": 2.6}, {"terminal": "sensor:2"},
        ],
        "ground-a": [
            {"terminal": "controller:34"}, {"wire": "ground-a-upper", "mm2": 1.0, "metres": 2.8}, {"terminal": "bulkhead:6"},
            {"wire": "ground-a-lower", "mm2": 1.0, "metres": 2.6}, {"terminal": "sensor:3"},
        ],
    },
}  # fmt: skip


@cache
def small_knowledge() -> Knowledge:
    """The knowledge of tests/small-knowledge; loaded once."""
    return load(SMALL)


def small_machine() -> Machine:
    return Machine.model_validate(MACHINE)


def scenario(*lines: dict[str, Any], **keys: Any) -> Scenario:
    """A scenario on the small machine; `machine=None` gives the generic layout."""
    whole = {"title": "Told by a test", "machine": MACHINE, "complaint": "motion-without-steering", "answers": lines, **keys}
    return Scenario.model_validate(whole)


def stamped(events: list[Event]) -> Case:
    """A case of these events, one every four minutes from a fixed morning on; a time that is given stays."""
    times = (MORNING + timedelta(minutes=4 * i) for i in range(len(events)))
    return Case(tuple(e if e.at else e.model_copy(update={"at": at}) for e, at in zip(events, times, strict=True)))


def told(*lines: dict[str, Any], **keys: Any) -> tuple[Consultation, Case]:
    """A consultation and the case that these lines of answers make with the small knowledge."""
    knowledge = small_knowledge()
    told_of = scenario(*lines, **keys)
    events: list[Event] = [opening(knowledge, told_of), *(event for _, event, _ in events_of(knowledge, told_of))]
    return Consultation(knowledge, told_of.machine) if told_of.machine else Consultation(knowledge), stamped(events)


@cache
def trade_knowledge() -> Knowledge:
    """The knowledge that the program ships with; loaded once."""
    return load(Path(__file__).parent.parent / "knowledge")


@cache
def whole_case(file: Path) -> tuple[Consultation, Case]:
    """The case that a scenario file tells with the shipped knowledge, without judging it at every step."""
    knowledge, told_of = trade_knowledge(), read_scenario(file)
    events: list[Event] = [opening(knowledge, told_of), *(event for _, event, _ in events_of(knowledge, told_of))]
    machine = machine_of(events[0])
    return Consultation(for_machine(knowledge, machine), machine), stamped(events)
