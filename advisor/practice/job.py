"""A technician's work on one simulated machine: a case like any other, whose answers the machine gives.

Every way of searching works on such a job. All are charged alike and reason about the same situation: the same questions,
rules, holds and states of the machine as in a real case. A repair is charged with its retest and, in vain, with the visit
until one would know. It cures when it is the right one. Putting the machine back at the end is not charged, for it is the
same for all who found the fault.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

from advisor.consultation.answers import LOAD_TEST, normal_result
from advisor.consultation.consultation import Consultation
from advisor.consultation.episodes import retest_of
from advisor.consultation.situation import Situation
from advisor.consultation.steps import moved, prepared
from advisor.consultation.tries import in_vain, repairing
from advisor.model.case import Answered, Case, Event, Ran, Reading, Repaired, Retested
from advisor.model.finding import NOT_LISTED, Step
from advisor.model.stage import ASK
from advisor.practice.simulated import SimulatedMachine
from advisor.reasoning.planning import ready

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Done:
    """One thing done: a check with its result, a load test with its verdict, or a repair; minutes with the moves to it."""

    kind: str  # "check", "reading", "repair" or "done"
    key: tuple[str, ...]
    result: str
    minutes: float


@dataclass
class Job:
    """The work on one machine so far."""

    consultation: Consultation
    machine: SimulatedMachine
    case: Case = field(default_factory=Case)
    done: list[Done] = field(default_factory=list)
    cured: bool = False
    given_up: bool = False  # help was asked for, and the fault is on the list
    _situation: Situation | None = None

    def __post_init__(self) -> None:
        if not self.case.events:
            self.case = Case((self.machine.opened(),))

    @property
    def over(self) -> bool:
        return self.cured or self.given_up

    @property
    def minutes(self) -> float:
        return sum(d.minutes for d in self.done)

    @property
    def situation(self) -> Situation:
        """The case as it stands; deduced once after each event."""
        if self._situation is None:
            self._situation = self.consultation.situation(self.case)
        return self._situation

    @property
    def shares(self) -> Floats:
        return self.situation.shares

    @property
    def costs(self) -> Floats:
        """About the minutes to repair each suspect and to retest it from here."""
        import numpy as np

        s = self.situation
        unlisted = s.knowledge.words.unlisted_minutes
        found = []
        for suspect in s.space.suspects:
            minutes, errand = (unlisted, ()) if suspect.cause == NOT_LISTED else repairing(s, suspect.cause, suspect.place)
            found.append(minutes + ready(s.open_ground, errand, s.stand))
        return np.array(found)

    @cached_property
    def hidden(self) -> tuple[str, str | None]:
        return self.machine.hidden.cause, self.machine.hidden.place

    def _add(self, *events: Event) -> None:
        for event in events:
            self.case = self.case.then(event)
        self._situation = None

    def do(self, step: Step) -> Done:
        """Does a step and takes in what the machine shows."""
        match step.kind:
            case "check":
                done = self._check(step)
            case "reading":
                done = self._read(step)
            case "repair":
                done = self._repair(step)
            case _:
                self.cured = self.machine.hidden.cause == NOT_LISTED
                self.given_up = not self.cured
                done = Done("done", step.key, "help asked for", self.situation.knowledge.words.unlisted_minutes)
        self.done.append(done)
        return done

    def _check(self, step: Step) -> Done:
        s = self.situation
        check = s.knowledge.checks[step.id]
        before, after = moved(step)
        found = []
        for place in step.places or (step.place,):
            if check.stage == ASK:
                given = self.machine.told(check)
                found.append(Answered(check=check.id, result=given[0], also=given[1:]))
            else:
                times = sum(a.check == check.id and a.place == place for a in s.state.answers.values())
                found.append(self.machine.shows(check, place, times, s.showing(check)))
        self._add(*before, *found, *after)
        return Done("check", step.key, "+".join(dict.fromkeys(a.result for a in found)), step.minutes)

    def _read(self, step: Step) -> Done:
        from advisor.reasoning.readings import judge

        before, after = moved(step)
        reading = self._reading(step)
        self._add(*before, reading, *after)
        return Done("reading", step.key, judge(self.consultation.machine, reading).verdict, step.minutes)

    def _reading(self, step: Step) -> Reading:
        section = self.consultation.machine.section(step.circuit or "", step.start or "", step.end or "")
        assert section is not None, "a load test is of a run of the layout"
        return self.machine.readings[section]

    def _repair(self, step: Step) -> Done:
        """Repairs and retests; in vain the machine goes out and comes back."""
        self.cured = (step.id, step.place) == self.hidden
        before, after = moved(step)
        self._add(*before, Repaired(cause=step.id, place=step.place), *after)
        s = self.situation
        check, place, reading = retest_of(s.knowledge, s.machine, s.state, s.state.repairs[max(s.state.repairs)])
        entry = s.knowledge.checks[check]
        test = Step("retest", check, entry.title, place, minutes=entry.minutes)
        if reading is not None:
            test = replace(test, circuit=reading.circuit, start=reading.start, end=reading.end)
        test = prepared(s, test)
        minutes = step.minutes + test.minutes
        if not self.cured:
            minutes += in_vain(s)
            way, left = moved(test)
            by: Answered | Reading
            if reading is not None:
                by = self._reading(test)
            else:
                times = sum(a.check == check for a in s.state.answers.values())
                by = self.machine.shows(entry, place, times, s.showing(entry))
            self._add(*way, Retested(by=by), *left, Ran(hours=1.0, recurrences=1))
        return Done("repair", (step.id, step.place or ""), "cured" if self.cured else "not cured", minutes)

    def abnormal(self, done: Done) -> bool:
        """Whether what was found is not normal; a load test is only when it is surely over its limit."""
        if done.kind == "reading":
            return done.result == "over"
        check = self.consultation.knowledge.checks[done.key[0]]
        return check.stage != ASK and done.result != normal_result(check)


def is_load_test(step: Step) -> bool:
    """Whether a step is a load test of a run."""
    return step.id == LOAD_TEST
