"""What of a case speaks of the fault as it stands now: answers, load tests, and repairs that did not cure it."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.consultation.episodes import Episode
from advisor.model.case import Answered, Reading, Retested, State
from advisor.model.machine import Machine

MOST_TAKES = 2  # of one check or reading: a fault that comes and goes may show the second time


def answered(state: State, told: Sequence[Episode]) -> tuple[Answered, ...]:
    """The answers in force, in order. A check done twice has two answers: a fault that comes and goes may show once only.

    After a repair the machine is another: what is found then takes the place of what was found before, and so does a retest.
    A retest that failed is an answer, for the fault was seen again. One that passed speaks of the repaired machine, and is an
    answer only where the fault came back in the run: then it tells that this cause is gone and the fault is not.
    """
    found: dict[tuple[str, str | None], list[tuple[int, Answered]]] = {}
    counts = {n for e in told for n in e.retests if n not in e.good or e.came_back}
    events: dict[int, Answered | Retested] = {**state.answers, **state.retests}
    for number, event in sorted(events.items()):
        if isinstance(event, Answered):
            since = max((n for n in state.repairs if n < number), default=-1) if state.repairs else -1
            same = found.setdefault((event.check, event.place), [])
            same[:] = [(n, a) for n, a in same if n > since]
            same.append((number, event))
        elif isinstance(event.by, Answered) and number in counts:
            found[event.by.check, event.by.place] = [(number, event.by)]
    return tuple(a for same in found.values() for _, a in same)


def readings_in_force(state: State, machine: Machine, told: Sequence[Episode]) -> dict[int, Reading]:
    """The load tests in force, by event number; with the retests that say something of a fault that is still there.

    Those through a place that was then repaired in vain are left out: the joint they speak of is no more.
    """
    found = dict(state.readings)
    for episode in told:
        for number, retest in episode.retests.items():
            if isinstance(retest.by, Reading) and (number not in episode.good or episode.came_back):
                found[number] = retest.by
    for episode in failed(told):
        repaired, place = episode.number, episode.repair.place
        found = {n: r for n, r in found.items() if n > repaired or not _through(machine, r, place)}
    return found


def failed(told: Sequence[Episode]) -> tuple[Episode, ...]:
    """Repairs after which the fault was seen again: by a retest that was not normal, or by a recurrence in the run.

    A repair that itself failed is none: its place is not as good as new.
    """
    return tuple(e for e in told if e.standing == "failed" and not e.botched)


def _through(machine: Machine, reading: Reading, place: str | None) -> bool:
    section = machine.section(reading.circuit, reading.start, reading.end)
    return place is not None and section is not None and place in section.elements
