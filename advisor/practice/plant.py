"""A machine that answers in place of a technician's hands and eyes: a simulated one, or one described by a field case."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from advisor.consultation.answers import normal_result
from advisor.consultation.situation import Situation
from advisor.consultation.tries import in_vain
from advisor.model.case import Answered, Reading
from advisor.model.finding import NOT_LISTED, Step, Suspect
from advisor.model.knowledge import Check
from advisor.practice.field import hours_until_back
from advisor.practice.field_machine import FieldMachine
from advisor.practice.simulated import SimulatedMachine, simulate

QUIET_HOURS = 40.0  # run without the fault after the right repair; long enough to be told apart from luck in most cases


class Plant(Protocol):
    """What a machine shows. Nothing but its answers is known of it."""

    @property
    def cured(self) -> bool:
        """Whether the right repair was done."""
        ...

    def can(self, check: str) -> bool:
        """Whether a check can be done on this machine."""
        ...

    def told(self, check: Check) -> tuple[str, ...]:
        """What the operator answers; nothing where that is not known."""
        ...

    def shows(self, s: Situation, check: Check, place: str | None) -> Answered:
        """What a check shows at a place."""
        ...

    def load_test(self, circuit: str, start: str, end: str) -> Reading:
        """The volts of one run under load."""
        ...

    def mend(self, cause: str, place: str | None) -> None:
        """A repair."""
        ...

    def vain_minutes(self, s: Situation) -> float:
        """What a repair in vain costs beside its own minutes and its retest."""
        ...

    def hours(self) -> float:
        """How long the machine runs until the fault is back, or long enough without it."""
        ...


@dataclass
class FieldPlant:
    """A machine of a field case."""

    machine: FieldMachine
    cured: bool = False

    def can(self, check: str) -> bool:
        return self.machine.can(check)

    def told(self, check: Check) -> tuple[str, ...]:
        return self.machine.told(check.id)

    def shows(self, s: Situation, check: Check, place: str | None) -> Answered:
        if self.cured:
            return Answered(check=check.id, result=normal_result(check), place=place)
        return self.machine.shows(check, place)

    def load_test(self, circuit: str, start: str, end: str) -> Reading:
        return self.machine.load_test(circuit, start, end, sound=self.cured)

    def mend(self, cause: str, place: str | None) -> None:
        if self.machine.cures(cause, place):
            self.cured = True
        else:
            self.machine.mend(cause, place)

    def vain_minutes(self, s: Situation) -> float:
        return 0.0

    def hours(self) -> float:
        return QUIET_HOURS if self.cured else hours_until_back(self.machine.case)


@dataclass
class SimulatedPlant:
    """A simulated machine."""

    machine: SimulatedMachine
    cured: bool = False
    _times: dict[tuple[str, str | None], int] = field(default_factory=dict)

    def can(self, check: str) -> bool:
        return True

    def told(self, check: Check) -> tuple[str, ...]:
        return self.machine.told(check)

    def shows(self, s: Situation, check: Check, place: str | None) -> Answered:
        if self.cured:
            return Answered(check=check.id, result=normal_result(check), place=place)
        times = self._times.get((check.id, place), 0)
        self._times[check.id, place] = times + 1
        return self.machine.shows(check, place, times, s.showing(check))

    def load_test(self, circuit: str, start: str, end: str) -> Reading:
        section = self.machine.world.machine.section(circuit, start, end)
        assert section is not None, "a load test is of a run of the layout"
        machine = self.machine
        if self.cured:
            machine = simulate(machine.world, machine.complaint, Suspect(NOT_LISTED), machine.draw("sound"))
        return machine.readings[section]

    def mend(self, cause: str, place: str | None) -> None:
        hidden = self.machine.hidden
        self.cured = self.cured or (cause, place) == (hidden.cause, hidden.place)

    def vain_minutes(self, s: Situation) -> float:
        return in_vain(s)

    def hours(self) -> float:
        return QUIET_HOURS if self.cured else 1.0


def answer_events(plant: Plant, s: Situation, step: Step) -> tuple[Answered, ...]:
    """What a check shows at its place, or at every place of an open plug."""
    check = s.knowledge.checks[step.id]
    return tuple(plant.shows(s, check, p) for p in step.places or (step.place,))
