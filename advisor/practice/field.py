"""Field cases played: the program's own advice is followed on a machine that was described from outside.

The consultation is the real one: the same questions, rules, holds, preparations and harness arithmetic as in a case.
Minutes are the program's own prices, up to the beginning of the right repair; the path of a master technician is priced
by the same prices.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from advisor.consultation.answers import LOAD_TEST
from advisor.consultation.consultation import Consultation
from advisor.consultation.next_step import prepared
from advisor.consultation.scenario import opening
from advisor.consultation.this_machine import for_machine
from advisor.model.case import Answered, Case, Event, Ran, Repaired, Retested, SetupChanged, Skipped, fold
from advisor.model.field_case import FieldCase, MasterStep
from advisor.model.finding import Step
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.model.scenario import Scenario
from advisor.practice.field_machine import FieldMachine

MOST_STEPS = 70
MOST_SKIPS = 400  # of steps that cannot be done on the machine, one after the other
BACK_AFTER_HOURS = 8.0  # of running after a repair in vain, where nobody said how often the fault comes


@dataclass(frozen=True)
class PlayedStep:
    """One step of a play, with what led the ranking when it was advised."""

    kind: str
    id: str
    place: str | None
    minutes: float
    result: str
    leading: str
    share: float


@dataclass
class Played:
    """How one field case went."""

    file: str
    complaint: str
    cause: str
    minutes: float = 0.0
    master_minutes: float = 0.0
    solved: bool = False
    first_right: bool = False
    wrong_repairs: int = 0
    unsafe: int = 0
    steps: list[PlayedStep] = field(default_factory=list)

    @property
    def ratio(self) -> float:
        return self.minutes / max(self.master_minutes, 1e-9)


@dataclass
class Play:
    """One field case being played."""

    consultation: Consultation
    machine: FieldMachine
    case: Case

    def add(self, *events: Event) -> None:
        for event in events:
            self.case = self.case.then(event)

    def arrive(self, step: Step) -> None:
        """Brings the machine into the state that a step asks for."""
        self.add(*(SetupChanged(setup=s, entered=False) for s in step.leaves))
        self.add(*(SetupChanged(setup=s, entered=True) for s in step.setups))

    def answer(self, step: Step) -> tuple[Event, str]:
        """The event of a check or a load test as the machine answers it, and its result in a word."""
        if step.circuit is not None:
            reading = self.machine.load_test(step.circuit, step.start or "", step.end or "")
            verdict = "over" if reading.reference - reading.loaded > 0 else ""
            return reading, verdict
        check = self.consultation.knowledge.checks[step.id]
        result = self.machine.result(check, step.place)
        return Answered(check=step.id, result=result, place=step.place), result


def begin(knowledge: Knowledge, case: FieldCase, menu: frozenset[str] | None, seed: int) -> Play:
    """A field case as it stands before the first step."""
    layout = case.machine or generic_machine()
    consultation = Consultation(for_machine(knowledge, layout), layout)
    told = Scenario(
        title=case.title, machine=case.machine, complaint=case.complaint, codes=case.codes, intake=case.intake,
        unavailable=tuple(u for u in case.unavailable if u != "second-person"), alone="second-person" in case.unavailable,
    )  # fmt: skip
    return Play(consultation, FieldMachine(case, consultation.knowledge, layout, menu, seed), Case((opening(knowledge, told),)))


def play(knowledge: Knowledge, file: str, case: FieldCase, menu: frozenset[str] | None, seed: int = 0) -> Played:
    """Follows the program's first advice until the right repair begins, or the steps are used up."""
    game = begin(knowledge, case, menu, seed)
    told = Played(file, case.complaint, case.fault.cause)
    told.master_minutes = price_of_master(begin(knowledge, case, menu, seed), case)
    skips = 0
    while len(told.steps) < MOST_STEPS and skips < MOST_SKIPS:
        assessment = game.consultation.assess(game.case)
        step = assessment.next
        assert step is not None
        leading = assessment.leading

        def note(minutes: float, result: str, step: Step = step, cause: str = leading.cause, share: float = leading.share) -> None:
            told.steps.append(PlayedStep(step.kind, step.id, step.place, minutes, result, cause, share))
            told.minutes += minutes

        if step.kind in ("check", "reading") and not game.machine.can(step.id):
            skips += 1
            game.add(Skipped(check=step.id, place=step.place))
        elif step.kind in ("check", "reading"):
            event, result = game.answer(step)
            game.arrive(step)
            game.add(event)
            note(step.minutes, result)
        elif step.kind == "repair":
            if game.machine.cures(step.id, step.place):
                told.solved, told.first_right = True, told.wrong_repairs == 0
                break
            told.wrong_repairs += 1
            game.arrive(step)
            game.add(Repaired(cause=step.id, place=step.place))
            note(step.minutes, "not cured")
        elif step.kind == "retest":
            if not game.machine.can(step.id):
                skips += 1
                game.add(Skipped(check=step.id, place=step.place))
                continue
            event, result = game.answer(step)
            game.arrive(step)
            game.add(Retested(by=event))  # type: ignore[arg-type]
            note(step.minutes, result)
        elif step.kind == "run":
            game.arrive(replace(step, leaves=fold(game.case).setups[::-1]))
            game.add(Ran(hours=_hours(case), recurrences=1))
            note(0.0, "came back")
        else:
            break
    return told


def _hours(case: FieldCase) -> float:
    intake = case.intake
    return BACK_AFTER_HOURS if not intake.occurrences or not intake.hours else intake.hours / intake.occurrences


def price_of_master(game: Play, case: FieldCase) -> float:
    """Minutes of the written path, by the program's own prices, up to the beginning of its last repair."""
    total = 0.0
    for step in case.master[:-1]:
        if step.check is None:
            continue
        todo = prepared(game.consultation, fold(game.case), _as_step(game.consultation, step))
        event, _ = game.answer(todo)
        game.arrive(todo)
        game.add(event)
        total += todo.minutes
    return total


def _as_step(consultation: Consultation, step: MasterStep) -> Step:
    assert step.check is not None, "a repair is no check"
    entry = consultation.knowledge.checks[step.check]
    if step.check == LOAD_TEST:
        words = step.place or f"{step.circuit} {step.start}-{step.end}"
        circuit, start, end = run_named(consultation.machine, words)
        return Step("reading", step.check, entry.title, circuit=circuit, start=start, end=end, minutes=3.0)
    return Step("check", step.check, entry.title, step.place if entry.at is not None else None, minutes=entry.minutes)


def run_named(machine: Machine, words: str) -> tuple[str, str, str]:
    """The run of a load test written as 'CIRCUIT' or 'CIRCUIT START-END'."""
    circuit, _, ends = words.partition(" ")
    points = machine.circuit_points(circuit)
    start, _, end = ends.partition("-")
    return circuit, start or points[0], end or points[-1]
