"""Episodes: a repair with its retests and its runs until the next repair, and how it stands."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from advisor.consultation.answers import LOAD_TEST, normal_result
from advisor.model.case import Answered, Ran, Reading, Repaired, Retested, State
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine, Section
from advisor.reasoning.likelihoods import check_places, place_for

Standing = Literal["untested", "passed", "failed", "cured"]


@dataclass(frozen=True)
class Episode:
    """One repair, and what followed it before the next one; by the numbers of their events."""

    number: int
    repair: Repaired
    retests: dict[int, Retested]
    runs: dict[int, Ran]
    proving: frozenset[int]  # the retests that can show this repair: a test named for it, at the repaired place
    good: frozenset[int]  # the retests that came out normal
    botched: bool = False  # a direct proof at the repaired place shows the cause again: the repair itself failed

    @cached_property
    def standing(self) -> Standing:
        """Not retested; passed its retest; failed it or the fault came back; or quiet for hours with a passed retest."""
        if self.botched or any(r.recurrences for r in self.runs.values()):
            return "failed"
        done = sorted(self.proving)
        if not done:
            return "untested"
        if done[-1] not in self.good:
            return "failed"
        return "cured" if any(r.hours > 0 for r in self.runs.values()) else "passed"

    @property
    def came_back(self) -> bool:
        """Whether the fault came back in a run."""
        return any(r.recurrences for r in self.runs.values())

    @property
    def hours(self) -> float:
        return sum(r.hours for r in self.runs.values())

    @property
    def last_good(self) -> Retested | None:
        """The newest retest that can show the repair and passed."""
        return next((self.retests[n] for n in sorted(self.proving & self.good, reverse=True)), None)


def episodes(knowledge: Knowledge, machine: Machine, state: State) -> tuple[Episode, ...]:
    """Every repair of a case with what followed it, in order."""
    numbers = sorted(state.repairs)
    found = []
    for number, end in itertools.zip_longest(numbers, numbers[1:]):
        retests = {n: r for n, r in sorted(state.retests.items()) if n > number and (end is None or n < end)}
        runs = {n: r for n, r in sorted(state.runs.items()) if n > number and (end is None or n < end)}
        repair = state.repairs[number]
        proving = frozenset(n for n, r in retests.items() if proves(knowledge, machine, state, repair, r))
        good = frozenset(n for n, r in retests.items() if passed(knowledge, machine, r))
        botched = shown_again(knowledge, state, repair, number, end)
        found.append(Episode(number, repair, retests, runs, proving, good, botched))
    return tuple(found)


def shown_again(knowledge: Knowledge, state: State, repair: Repaired, number: int, end: int | None) -> bool:
    """Whether the last look by a direct proof at the repaired place, before the next repair, shows the cause once more."""
    proof = knowledge.causes[repair.cause].proof
    looks: dict[str, str] = {}
    seen: dict[int, Answered | Reading] = {**state.answers, **{n: r.by for n, r in state.retests.items()}}
    for n, by in sorted(seen.items()):
        if n > number and (end is None or n < end) and isinstance(by, Answered) and by.check in proof and by.place == repair.place:
            looks[by.check] = by.result
    return any(proof[check] == result for check, result in looks.items())


def passed(knowledge: Knowledge, machine: Machine, retest: Retested) -> bool:
    """Whether a retest came out normal; a load test passes when its drop is within its limit."""
    by = retest.by
    if isinstance(by, Answered):
        return by.result == normal_result(knowledge.checks[by.check])
    return by.reference - by.loaded <= reading_limit(machine, by) + 1e-9


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
