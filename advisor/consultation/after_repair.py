"""What follows a repair: the retest that belongs to it, whether it passed, and how the hours run stand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from advisor.consultation.answers import LOAD_TEST, normal_result
from advisor.model.case import Answered, Reading, Repaired, Retested, State
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine, Section
from advisor.reasoning.likelihoods import check_places, place_for

Standing = Literal["untested", "passed", "failed", "cured"]


def retests_of(state: State, number: int) -> tuple[Retested, ...]:
    """The retests done after a repair and before the next one, in order."""
    later = min((n for n in state.repairs if n > number), default=None)
    return tuple(r for n, r in sorted(state.retests.items()) if n > number and (later is None or n < later))


def passed(knowledge: Knowledge, retest: Retested, limit: float | None = None) -> bool:
    """Whether a retest came out normal; a load test passes when its drop is within `limit` volts."""
    if isinstance(retest.by, Answered):
        return retest.by.result == normal_result(knowledge.checks[retest.by.check])
    return limit is None or retest.by.reference - retest.by.loaded <= limit + 1e-9


def reading_limit(machine: Machine, reading: Reading) -> float:
    """The allowed drop of a reading's run, volts."""
    from advisor.reasoning.readings import judge

    return judge(machine, reading).limit_volts


def proves(knowledge: Knowledge, machine: Machine, state: State, repair: Repaired, retest: Retested) -> bool:
    """Whether a retest is one that can show this repair: a test named for it, at the repaired place."""
    by = retest.by
    if isinstance(by, Answered):
        return retest_fits(knowledge, machine, state, repair, by.check, by.place, None)
    return retest_fits(knowledge, machine, state, repair, LOAD_TEST, None, (by.circuit, by.start, by.end))


def retest_fits(
    knowledge: Knowledge, machine: Machine, state: State, repair: Repaired, check_id: str, place: str | None,
    run: tuple[str, str, str] | None,
) -> bool:  # fmt: skip
    """The same for a test yet to be done; `run` is circuit, start and end of a load test.

    A load test shows it over the run that was over its limit before; where none was, over any run through the place.
    """
    cause = knowledge.causes[repair.cause]
    named = (retest_of(knowledge, machine, state, repair)[0], *cause.retest)
    if check_id not in named:
        return False
    if run is None:
        spots = check_places(knowledge.checks[check_id], machine)
        wanted = place_for(knowledge.checks[check_id], machine, repair.place)
        return wanted not in spots or place in (None, wanted)
    section = machine.section(*run)
    if section is None or (repair.place is not None and repair.place not in section.elements):
        return False
    over = [s for s in _runs_over(machine, state) if repair.place is None or repair.place in s.elements]
    return not over or any(s.elements == section.elements for s in over)


def _runs_over(machine: Machine, state: State) -> Iterator[Section]:
    for reading in state.readings.values():
        section = machine.section(reading.circuit, reading.start, reading.end)
        if section is not None and reading.reference - reading.loaded > reading_limit(machine, reading):
            yield section


def standing(knowledge: Knowledge, state: State, number: int, machine: Machine) -> Standing:
    """How a repair stands: not retested, passed its retest, failed it, or quiet for hours with a passed retest."""
    later = min((n for n in state.repairs if n > number), default=None)
    runs = [r for n, r in state.runs.items() if n > number and (later is None or n < later)]
    if any(r.recurrences for r in runs):
        return "failed"
    done = [r for r in retests_of(state, number) if proves(knowledge, machine, state, state.repairs[number], r)]
    if not done:
        return "untested"
    last = done[-1]
    limit = reading_limit(machine, last.by) if isinstance(last.by, Reading) else None
    if not passed(knowledge, last, limit):
        return "failed"
    return "cured" if any(r.hours > 0 for r in runs) else "passed"


def retest_of(knowledge: Knowledge, machine: Machine, state: State, repair: Repaired) -> tuple[str, str | None, Reading | None]:
    """The test that belongs to a repair: (check, place, the reading to repeat).

    First the test that found the fault: an answer that is the cause's proof, or the worst load test through the place.
    Else the first retest that the knowledge names for the cause.
    """
    cause = knowledge.causes[repair.cause]
    for _, a in sorted(state.answers.items(), reverse=True):
        shown = cause.proof.get(a.check) == a.result and a.place in (None, repair.place)
        if shown and a.check in cause.retest:
            return a.check, a.place, None
    reading = worst_reading(machine, state, repair.place) if cause.adds_resistance else None
    if reading is not None:
        return LOAD_TEST, None, reading
    first = next((c for c in cause.retest if c != LOAD_TEST), cause.retest[0])
    return first, place_for(knowledge.checks[first], machine, repair.place), None


def worst_reading(machine: Machine, state: State, place: str | None) -> Reading | None:
    """The load test through a place with the largest drop, the longest run among equals."""
    through = []
    for reading in state.readings.values():
        section = machine.section(reading.circuit, reading.start, reading.end)
        if section is not None and (place is None or place in section.elements):
            through.append((reading.reference - reading.loaded, len(section.elements), reading))
    return max(through, key=lambda t: t[:2])[2] if through else None
