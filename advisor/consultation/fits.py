"""Whether what a case says can be said of a machine: the places, circuits and runs that it names."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from advisor.consultation import answers
from advisor.errors import InputError
from advisor.model.case import COLLECTIONS, Answered, Event, Reading, Repaired, Retested, Skipped, State
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine


def counted(state: State) -> dict[int, Event]:
    """Every event that counts, by its number."""
    return {n: event for name in COLLECTIONS.values() for n, event in getattr(state, name).items()}


def fits(knowledge: Knowledge, machine: Machine, event: Event) -> bool:
    """Whether an event that counts could be so on a machine, whatever its limits are."""
    try:
        match event:
            case Retested():
                return fits(knowledge, machine, event.by)
            case Reading():
                answers.possible(machine, event)
            case Answered():
                answers.known_spot(machine, answers.find_check(knowledge, event.check), event.where)
                answers.answer(knowledge, machine, event.check, event.result, event.place)
            case Skipped():
                answers.skipped(knowledge, machine, event.check, event.place, event.why)
            case Repaired():
                return event.place is None or event.place in machine.elements
    except InputError:
        return False
    return True


def fitting(knowledge: Knowledge, machine: Machine, state: State) -> State:
    """A state of the case before its machine was exchanged, without what does not fit the machine of now."""
    left = {n for n, event in counted(state).items() if not fits(knowledge, machine, event)}
    if not left:
        return state
    kept: dict[str, Any] = {name: {n: e for n, e in getattr(state, name).items() if n not in left} for name in COLLECTIONS.values()}
    return replace(state, **kept)
