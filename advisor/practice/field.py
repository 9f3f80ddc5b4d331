"""Field cases played: the program's own advice is followed on a machine that was described from outside.

The consultation is the real one: the same questions, rules, holds, preparations and harness arithmetic as in a case.
Minutes are the program's own prices, up to the beginning of the right repair; the path of a master technician is priced
by the same prices.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from advisor.consultation.actions import READING_MINUTES
from advisor.consultation.advice import advise
from advisor.consultation.answers import LOAD_TEST
from advisor.consultation.consultation import Consultation
from advisor.consultation.safety import broken
from advisor.consultation.scenario import opening
from advisor.consultation.situation import Situation
from advisor.consultation.steps import moved, prepared, work_of
from advisor.consultation.this_machine import for_machine
from advisor.model.case import Answered, Case, Event, Ran, Reading, Repaired, Retested, Skipped
from advisor.model.field_case import FieldCase, MasterStep
from advisor.model.finding import Step
from advisor.model.knowledge import SECOND_PERSON, Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.model.scenario import Scenario
from advisor.model.stage import ASK
from advisor.practice.field_machine import FieldMachine
from advisor.reasoning.readings import judge

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

    def arrive(self, step: Step, *done: Event) -> None:
        """Brings the machine to a step, does it, and leaves the machine as the step leaves it."""
        before, after = moved(step)
        self.add(*before, *done, *after)

    def answers(self, step: Step) -> tuple[list[Answered], str]:
        """What a check shows at its place, or at every place of an open plug, and its results in words."""
        check = self.consultation.knowledge.checks[step.id]
        places: tuple[str | None, ...] = step.places or (step.place,)
        found = [self.machine.shows(check, p) for p in places]
        return found, "+".join(dict.fromkeys(a.result for a in found))

    def answer(self, step: Step) -> tuple[Answered | Reading, str]:
        """The event of one check or load test as the machine answers it, and its result in a word."""
        if step.circuit is not None:
            reading = self.machine.load_test(step.circuit, step.start or "", step.end or "")
            return reading, judge(self.consultation.machine, reading).verdict
        found, said = self.answers(step)
        return found[0], said


def begin(knowledge: Knowledge, case: FieldCase, menu: frozenset[str] | None, seed: int) -> Play:
    """A field case as it stands before the first step."""
    layout = case.machine or generic_machine()
    consultation = Consultation(for_machine(knowledge, layout), layout)
    told = Scenario(
        title=case.title, machine=case.machine, complaint=case.complaint, codes=case.codes, intake=case.intake,
        unavailable=tuple(u for u in case.unavailable if u != SECOND_PERSON), alone=SECOND_PERSON in case.unavailable,
    )  # fmt: skip
    return Play(consultation, FieldMachine(case, consultation.knowledge, layout, menu, seed), Case((opening(knowledge, told),)))


def play(knowledge: Knowledge, file: str, case: FieldCase, menu: frozenset[str] | None, seed: int = 0) -> Played:
    """Follows the program's first advice until the right repair begins, or the steps are used up."""
    game = begin(knowledge, case, menu, seed)
    told = Played(file, case.complaint, case.fault.cause)
    told.master_minutes = price_of_master(begin(knowledge, case, menu, seed), case)
    skips = 0
    while len(told.steps) < MOST_STEPS and skips < MOST_SKIPS:
        s = game.consultation.situation(game.case)
        step = advise(s).next
        if step.kind in ("check", "reading", "retest") and not _asks(game, step) and not game.machine.can(step.id):
            skips += 1
            game.add(Skipped(check=step.id, place=step.place))
            continue
        if step.kind == "repair" and game.machine.cures(step.id, step.place):
            told.solved, told.first_right = True, told.wrong_repairs == 0
            break
        if step.kind == "done":
            break
        told.unsafe += _forbidden(s, step)
        minutes, result = _do(game, step, case)
        told.wrong_repairs += step.kind == "repair"
        leading = s.assessment.leading
        told.steps.append(PlayedStep(step.kind, step.id, step.place, minutes, result, leading.cause, leading.share))
        told.minutes += minutes
    return told


def _forbidden(s: Situation, step: Step) -> bool:
    """Whether a step, or a move to it, breaks a safety rule as the machine stands."""
    work = None if step.kind in ("run", "done") else work_of(s, step)
    return any(True for _ in broken(s.knowledge, s.machine, s.open_ground, s.stand, step, work))


def _asks(game: Play, step: Step) -> bool:
    return step.kind == "check" and game.consultation.knowledge.checks[step.id].stage == ASK


def _do(game: Play, step: Step, case: FieldCase) -> tuple[float, str]:
    """Does a step that the program advises: its minutes and its result in a word."""
    if _asks(game, step):
        given = game.machine.told(step.id)
        game.add(Answered(check=step.id, result=given[0], also=given[1:]) if given else Skipped(check=step.id, why="not known"))
        return game.consultation.knowledge.words.ask_minutes, "+".join(given) or "not known"
    match step.kind:
        case "check":
            found, said = game.answers(step)
            game.arrive(step, *found)
        case "reading":
            event, said = game.answer(step)
            game.arrive(step, event)
        case "repair":
            game.arrive(step, Repaired(cause=step.id, place=step.place))
            game.machine.mend(step.id, step.place)
            said = "not cured"
        case "retest":
            event, said = game.answer(step)
            game.arrive(step, Retested(by=event))
        case _:
            game.arrive(step, Ran(hours=hours_until_back(case), recurrences=1))
            return 0.0, "came back"
    return step.minutes, said


def hours_until_back(case: FieldCase) -> float:
    """How long the machine runs after a repair in vain until the fault is back."""
    intake = case.intake
    return BACK_AFTER_HOURS if not intake.occurrences or not intake.hours else intake.hours / intake.occurrences


def price_of_master(game: Play, case: FieldCase) -> float:
    """Minutes of the written path, by the program's own prices, up to the beginning of its last repair."""
    total = 0.0
    for step in case.master[:-1]:
        if step.check is None:
            continue
        todo = prepared(game.consultation.situation(game.case), _as_step(game.consultation, step))
        event, _ = game.answer(todo)
        game.arrive(todo, event)
        total += todo.minutes
    return total


def _as_step(consultation: Consultation, step: MasterStep) -> Step:
    assert step.check is not None, "a repair is no check"
    entry = consultation.knowledge.checks[step.check]
    if step.check == LOAD_TEST:
        circuit, start, end = run_of(consultation.machine, step)
        return Step("reading", step.check, entry.title, circuit=circuit, start=start, end=end, minutes=READING_MINUTES)
    return Step("check", step.check, entry.title, step.place if entry.at is not None else None, minutes=entry.minutes)


def run_of(machine: Machine, step: MasterStep) -> tuple[str, str, str]:
    """The run of a load test; without its ends the whole circuit."""
    circuit, start, end = step.run
    points = machine.circuit_points(circuit)
    return circuit, start or points[0], end or points[-1]
