"""What of a case speaks of the fault as it stands now: answers, load tests, and repairs that did not cure it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence

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
    events: dict[int, Answered | Retested] = {**state.answers, **retests_that_count(state, told)}
    return in_force(events, sorted(state.repairs))


def retests_that_count(state: State, told: Sequence[Episode]) -> dict[int, Retested]:
    """The retests that are answers, by the numbers of their events."""
    counts = {n for e in told for n in e.retests if n not in e.good or e.came_back}
    return {n: r for n, r in state.retests.items() if n in counts and isinstance(r.by, Answered)}


def in_force(events: Mapping[int, Answered | Retested], repairs: Sequence[int]) -> tuple[Answered, ...]:
    """The same of some answers, and retests that are answers, by number; the repairs are the sorted numbers of theirs."""
    found: dict[tuple[str, str | None], list[tuple[int, Answered]]] = {}
    for number, event in sorted(events.items()):
        if isinstance(event, Answered):
            same = found.setdefault((event.check, event.place), [])
            at = bisect_left(repairs, number)
            if at:
                same[:] = [(n, a) for n, a in same if n > repairs[at - 1]]
            same.append((number, event))
        elif isinstance(event.by, Answered):
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

    A repair that itself failed is none: its place is not as good as new. Done again and shown again, it is one: then something
    else brings what the proof shows, and nobody is sent to the same repair a third time.
    """
    found: list[Episode] = []
    before: set[tuple[str, str | None]] = set()
    for episode in told:
        if episode.standing != "failed":
            continue
        what = episode.repair.cause, episode.repair.place
        if not episode.botched or what in before:
            found.append(episode)
        before.add(what)
    return tuple(found)


def _through(machine: Machine, reading: Reading, place: str | None) -> bool:
    section = machine.section(reading.circuit, reading.start, reading.end)
    return place is not None and section is not None and place in section.elements
