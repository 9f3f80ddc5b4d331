"""What of a case speaks of the fault as it stands now: answers, load tests, and repairs that did not cure it."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.consultation.after_repair import passed, reading_limit, standing
from advisor.model.case import Answered, Reading, Repaired, Retested, State
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine

MOST_TAKES = 2  # of one check or reading: a fault that comes and goes may show the second time


def answered(knowledge: Knowledge, state: State) -> tuple[Answered, ...]:
    """The answers in force, in order. A check done twice has two answers: a fault that comes and goes may show once only.

    After a repair the machine is another: what is found then takes the place of what was found before, and so does a retest.
    A retest that failed is an answer, for the fault was seen again. One that passed speaks of the repaired machine, and is an
    answer only where the fault came back in the run: then it tells that this cause is gone and the fault is not.
    """
    found: dict[tuple[str, str | None], list[tuple[int, Answered]]] = {}
    events: dict[int, Answered | Retested] = {**state.answers, **state.retests}
    for number, event in sorted(events.items()):
        if isinstance(event, Answered):
            since = max((n for n in state.repairs if n < number), default=-1)
            same = [(n, a) for n, a in found.get((event.check, event.place), []) if n > since]
            found[event.check, event.place] = [*same, (number, event)]
        elif isinstance(event.by, Answered) and (not passed(knowledge, event) or _came_back(state, number)):
            found[event.by.check, event.by.place] = [(number, event.by)]
    return tuple(a for same in found.values() for _, a in same)


def readings_in_force(knowledge: Knowledge, state: State, machine: Machine) -> dict[int, Reading]:
    """The load tests in force, by event number; with the retests that say something of a fault that is still there.

    Those through a place that was then repaired in vain are left out: the joint they speak of is no more.
    """
    found = dict(state.readings)
    for number, retest in state.retests.items():
        if isinstance(retest.by, Reading):
            within = passed(knowledge, retest, reading_limit(machine, retest.by))
            if not within or _came_back(state, number):
                found[number] = retest.by
    for repaired, repair in _failed(knowledge, state, machine):
        found = {n: r for n, r in found.items() if n > repaired or not _through(machine, r, repair.place)}
    return found


def failed_repairs(knowledge: Knowledge, state: State, machine: Machine) -> tuple[Repaired, ...]:
    """Repairs after which the fault was seen again: by a retest that was not normal, or by a recurrence in the run."""
    return tuple(repair for _, repair in _failed(knowledge, state, machine))


def _failed(knowledge: Knowledge, state: State, machine: Machine) -> Iterator[tuple[int, Repaired]]:
    for number, repair in sorted(state.repairs.items()):
        if standing(knowledge, state, number, machine) == "failed":
            yield number, repair


def _through(machine: Machine, reading: Reading, place: str | None) -> bool:
    section = machine.section(reading.circuit, reading.start, reading.end)
    return place is not None and section is not None and place in section.elements


def _came_back(state: State, number: int) -> bool:
    """Whether the fault came back in a run after this event and before the next repair."""
    later = min((n for n in state.repairs if n > number), default=None)
    return any(run.recurrences and n > number and (later is None or n < later) for n, run in state.runs.items())
