"""The commands that close a case and open it again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from advisor.commands.case import renew
from advisor.commands.own import screen
from advisor.commands.shared import Layers, case_store, load_knowledge, now
from advisor.commands.stored import consultation_of, named_now
from advisor.errors import ExitCode, InputError, UsageError
from advisor.model.case import Reopened, fold

if TYPE_CHECKING:
    from advisor.model.case import Case
    from advisor.model.knowledge import Knowledge
    from advisor.terminal.environment import Terminal


def close(
    layers: Layers, data_dir: Path | None, case: str, cause: str | None, place: str | None, by: str, reason: str,
    *, yes: bool = False,
) -> ExitCode:  # fmt: skip
    """Closes a case with what is confirmed, and says what its record lacks; an unproven one only after a yes."""
    from advisor.consultation.closing import NO_CAUSE, closing, confirmed, differs, proof_says, refuse_closed
    from advisor.session.closing import lacking
    from advisor.session.describe import describe

    store = case_store(data_dir)
    knowledge = load_knowledge(layers)
    terminal = screen(plain=True)
    with store.open(store.resolve(case)) as open_case:
        refuse_closed(open_case.case)
        told = named_now(knowledge, open_case.stored)
        consultation = consultation_of(knowledge, told)
        situation = consultation.situation(told.case)
        assessment = situation.assessment
        if cause is None:
            cause, spot = confirmed(situation)
            place = place or spot
        elif cause == NO_CAUSE:
            cause = None
        event = closing(consultation, told.case, cause, place, by, reason)
        other = differs(assessment, cause, place)
        if other and not reason:
            leads = f"{other} is likeliest ({assessment.leading.share:.0%}), not the cause you confirm"
            raise UsageError(leads, "Say with --reason why it is not that one.")
        lacks = lacking(knowledge, situation)
        for text in lacks:
            terminal.line(text, "bold", hang=2)
        if proof_says(situation) and not yes and not _sure(terminal, knowledge, told.case, describe(consultation, event)):
            terminal.line("It stays open.", hang=2)
            return ExitCode.FAILURE
        renew(terminal, store, knowledge, open_case)
        open_case.append(event, now())
        terminal.line(f"Case {open_case.stored.case_id}. {describe(consultation, event)}.", hang=2)
    return ExitCode.OK


def _sure(terminal: Terminal, knowledge: Knowledge, case: Case, says: str) -> bool:
    """Asks once more, as the dialogue does. Raises UsageError where nobody says yes or no."""
    from advisor.session.session import Session
    from advisor.terminal.client import Person, play

    terminal.line(f"{says}.", hang=2)
    asked = Session.confirming(knowledge, case)
    play(terminal, Person(terminal), asked)
    if asked.agreed is None:
        raise UsageError("the case is not proven, and nobody said yes or no", "Add --yes to close it all the same.")
    return asked.agreed


def reopen(data_dir: Path | None, case: str, reason: str) -> ExitCode:
    """Opens a closed case again and says how to go on."""

    store = case_store(data_dir)
    name = store.resolve(case)
    if not reason.strip():
        raise UsageError("no reason is given", "Say with --reason why it is opened again.")
    with store.open(name) as open_case:
        if fold(open_case.case).closed is None:
            raise InputError(f"case {name} is not closed", f"Go on with: advisor resume {name}")
        open_case.append(Reopened(reason=reason.strip()), now())
    screen(plain=True).line(f"Case {name} is open again. Go on with: advisor resume {name}", hang=2)
    return ExitCode.OK
