"""Every event of a case held once more to what may be answered: for a file that was edited, or knowledge that changed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

from pydantic import ValidationError

from advisor.consultation import answers
from advisor.consultation.counts import counted
from advisor.consultation.ground import limits
from advisor.consultation.intake_told import intake_answers, laid_out, machine_of
from advisor.consultation.scenario import repair, run, stayed
from advisor.errors import InputError, nearest
from advisor.model.case import (
    CODES,
    COMPLAINT,
    HEARD,
    HOURS,
    LAYOUT,
    OCCURRENCES,
    OPERATOR_WORDS,
    Answered,
    Case,
    Closed,
    Corrected,
    Event,
    KnowledgeChanged,
    Limited,
    MachineChanged,
    Moved,
    Opened,
    Overridden,
    Ran,
    Reading,
    Reopened,
    Repaired,
    Retested,
    SetupChanged,
    Skipped,
    State,
    Taught,
    Told,
    Undone,
    folds,
)
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.model.trouble_code import parse_code

COUNTED = ("answers", "readings", "skipped", "repairs", "retests", "runs")


def first_unfit(knowledge: Knowledge, case: Case, *, names_only: bool = False) -> tuple[int, InputError] | None:
    """The first event that could not be answered so with this knowledge: its number and why; None when every one could.

    `names_only`: a number that would be judged otherwise today is let pass, for the answer stands as it was given.
    """
    machine: Machine | None = None
    for number, (event, before) in enumerate(zip(case.events, chain((State(),), folds(case)), strict=False)):
        try:
            if isinstance(event, Opened):
                machine = _opening(knowledge, event)
            else:
                assert machine is not None  # the first event opens the case
                assert before.opened is not None
                if isinstance(event, MachineChanged):
                    machine = _usable(before.opened.model_copy(update={"machine": event.machine}))
                elif machine.generic:  # it can have been exchanged
                    machine = machine_of(before.opened)
                _fits(knowledge, machine, before, event, number, case.events, names_only=names_only)
        except InputError as error:
            return number, error
    return None


def machine_differs(one: Machine, other: Machine) -> tuple[str, ...]:
    """The parts of a machine file in which two machines differ; circuits by name."""
    a, b = (m.model_dump(mode="json", by_alias=True, exclude_none=True) for m in (one, other))
    circuits = a.pop("circuits", {}), b.pop("circuits", {})
    found = [key.replace("_", " ") for key in sorted(a.keys() | b.keys()) if a.get(key) != b.get(key)]
    names = sorted(circuits[0].keys() | circuits[1].keys())
    return (*found, *(f"circuit {n}" for n in names if circuits[0].get(n) != circuits[1].get(n)))


def _opening(knowledge: Knowledge, opened: Opened) -> Machine:
    _known(opened.complaint, "complaint", knowledge.complaints)
    for question, given in opened.intake.items():
        intake_answers(knowledge, question, given)
    for code in opened.codes:
        parse_code(code)
    counted(OCCURRENCES, opened.occurrences)
    counted(HOURS, opened.hours)
    for question, given in opened.heard.items():
        _heard(knowledge, question, given)
    return _usable(opened)


def _usable(opened: Opened) -> Machine:
    """The machine in a case. Raises InputError where it cannot be used."""
    try:
        return machine_of(opened)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(map(str, first["loc"]))
        raise InputError(
            f"the machine in this case cannot be used ({place}: {first['msg']})", "Keep the file and copy it."
        ) from None


def _known(name: str, kind: str, known: object) -> None:
    names = list(known) if isinstance(known, dict | tuple | list) else []
    if name not in names:
        raise InputError(f"no {kind} '{name}'", nearest(name, names))


def _fits(
    knowledge: Knowledge, machine: Machine, state: State, event: Event, number: int, events: Sequence[Event], *, names_only: bool
) -> None:
    """Raises InputError for an event that could not be answered so in this state."""
    match event:
        case Told():
            _told(knowledge, event)
        case Answered() | Reading():
            _outcome(knowledge, machine, event, tuple(state.readings.values()), names_only)
        case Retested():
            _outcome(knowledge, machine, event.by, (), names_only)
        case Corrected():
            _counts(state, event.number)
            _outcome(knowledge, machine, event.by, (), names_only)
        case Undone():
            if not (0 <= event.number < number and isinstance(events[event.number], Moved)):  # a move goes with its step
                _counts(state, event.number)
        case Skipped():
            answers.skipped(knowledge, machine, event.check, event.place, event.why)
        case Moved():
            if event.move is not None:
                _known(event.move, "move", knowledge.moves)
        case SetupChanged():
            _known(event.setup, "setup", knowledge.retired.setups)
        case Limited():
            _known(event.what, "tool or state", limits(knowledge))
        case KnowledgeChanged():
            if not all(0 <= share <= 1 for share in event.before.values()):
                raise InputError(
                    "the ranking before a change of knowledge holds a value that is no share", "Keep the file and copy it."
                )
        case Overridden():
            answers.find_check(knowledge, event.check)
        case Repaired():
            repair(knowledge, machine, event.cause, event.place, event.minutes)
        case Taught():
            if event.number not in state.repairs:
                raise InputError(
                    f"event {event.number} is no repair that could be followed by a calibration", "Keep the file and copy it."
                )
        case Ran():
            stayed(knowledge, run(event.hours, event.recurrences), event.stayed)
        case Closed():
            if event.cause is not None:
                repair(knowledge, machine, event.cause, event.place, None)
        case Reopened():
            if state.closed is None:
                raise InputError("the case was reopened and had not been closed", "Keep the file and copy it.")


def _told(knowledge: Knowledge, told: Told) -> None:
    if told.question == CODES:
        for code in told.words:
            parse_code(code)
    elif told.question in (OCCURRENCES, HOURS):
        counted(told.question, told.number)
    elif told.question == LAYOUT:
        laid_out(next(iter(told.words), None))
    elif told.question == COMPLAINT:
        for name in told.words:
            _known(name, "complaint", knowledge.complaints)
    elif told.question.startswith(HEARD):
        _heard(knowledge, told.question.removeprefix(HEARD), told.words)
    elif told.question != OPERATOR_WORDS:
        intake_answers(knowledge, told.question, told.words)


def _heard(knowledge: Knowledge, check: str, given: tuple[str, ...]) -> None:
    """Answers to a question to the operator that were found in his words."""
    known = [r.id for r in answers.find_check(knowledge, check).results]
    for answer in given:
        _known(answer, f"answer to {check}", known)


def _outcome(
    knowledge: Knowledge, machine: Machine, by: Answered | Reading, earlier: tuple[Reading, ...], names_only: bool
) -> None:
    if isinstance(by, Reading):
        if names_only:
            answers.possible(machine, by)
        else:
            answers.load_test(machine, by.model_dump(by_alias=True, exclude_none=True, exclude={"event", "at"}), earlier)
        return
    answers.known_spot(machine, answers.find_check(knowledge, by.check), by.where)
    if not by.read or names_only:
        answers.answer(knowledge, machine, by.check, by.result, by.place)
        return
    if by.value is None:
        found = answers.both_ends(knowledge, machine, by.check, by.values, by.unit, by.supply, by.place)
    else:
        found = answers.measured(knowledge, machine, by.check, by.value, by.unit, by.place)
    if found.result != by.result:
        what = f"{by.read} of {by.check} is '{found.result}', and the case says '{by.result}'"
        raise InputError(what, "The limits of this check have changed, or the line was edited.")


def _counts(state: State, number: int) -> None:
    """Only what counts can be taken back or corrected."""
    if not any(number in getattr(state, name) for name in COUNTED):
        raise InputError(f"event {number} is taken back or corrected, and there is none that counts", "Keep the file and copy it.")
