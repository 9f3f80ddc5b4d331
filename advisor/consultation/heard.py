"""Answers that were found in the operator's words and confirmed: where they go into the case, and as what."""

from __future__ import annotations

from advisor.model.case import HEARD, Answered, State, Told
from advisor.model.knowledge import Check, Intake, Knowledge
from advisor.model.machine import Machine


def open_questions(knowledge: Knowledge, machine: Machine, state: State) -> dict[str, Intake | Check]:
    """The questions that the words may answer: nothing that the machine file tells, and nothing that was told before."""
    told = state.opened.intake if state.opened is not None else {}
    done = {a.check for a in state.answers.values()}
    found: dict[str, Intake | Check] = {q.id: q for q in knowledge.intake.values() if q.id not in told or q.id in state.told}
    for check in knowledge.checks.values():
        by_file = check.machine is not None and getattr(machine, check.machine, None) is not None
        if check.stage == "ask" and not by_file and check.id not in done:
            found[check.id] = check
    return found


def told_by(knowledge: Knowledge, question: str, given: tuple[str, ...]) -> Told:
    """The event of an answer that was found and confirmed, of the intake or of a question to the operator."""
    return Told(question=question if question in knowledge.intake else f"{HEARD}{question}", words=given)


def heard_answers(knowledge: Knowledge, machine: Machine, state: State) -> tuple[Answered, ...]:
    """The answers to questions to the operator that were confirmed in his words and are not in the case yet. Raises InputError."""
    from advisor.consultation import answers

    heard = state.opened.heard if state.opened is not None else {}
    done = {a.check for a in state.answers.values()}
    return tuple(
        answers.answer(knowledge, machine, check, given[0], None, given[1:]) for check, given in heard.items() if check not in done
    )
