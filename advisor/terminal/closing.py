"""Asking for what closes a case, and for what opens it again."""

from __future__ import annotations

from advisor.consultation.closing import NO_CAUSE, closing, confirmed, differs, proof_says
from advisor.consultation.consultation import Consultation
from advisor.consultation.situation import Situation
from advisor.model.case import Case, Closed, Reopened, fold
from advisor.terminal import typed
from advisor.terminal.describe import describe
from advisor.terminal.environment import EndOfInput, Terminal
from advisor.terminal.questions import Answerer, Prompt


def ask_closing(terminal: Terminal, answerer: Answerer, consultation: Consultation, s: Situation, what: str) -> Closed:
    """`close [CAUSE [PLACE]]`: says what will be confirmed, then asks who confirms it and, where it is due, why.

    Raises InputError for an unknown cause or place.
    """
    assessment = s.assessment
    name, place = typed.two(what)
    if name == NO_CAUSE:
        name = place = None
    elif name is None:
        name, place = confirmed(s)
    elif place is None and name == assessment.leading.cause:
        place = assessment.leading.place
    event = closing(consultation, s.case, name, place, "", "")
    terminal.line(describe(consultation, event), "bold", hang=2)
    lacks = proof_says(s)
    if lacks:
        terminal.line(lacks, "bold", hang=2)
    by = answerer.answer(Prompt("name", "who confirms it"))
    other = differs(assessment, name, place)
    if other:
        terminal.line(f"The ranking is led by: {other}, {assessment.leading.share:.0%}.", hang=2)
    reason = answerer.answer(Prompt("reason", "why not that one")) if other else ""
    return event.model_copy(update={"by": by, "reason": reason})


def ask_reopening(terminal: Terminal, answerer: Answerer, consultation: Consultation, case: Case) -> Reopened | None:
    """Why a closed case is opened again; None when it stays closed."""
    closed = fold(case).closed
    assert closed is not None
    when = f" ({closed.at:%Y-%m-%d %H:%M} UTC)" if closed.at else ""
    terminal.line(f"{describe(consultation, closed)}{when}", "bold", hang=2)
    terminal.line("Why is it opened again? Enter alone leaves it closed.")
    try:
        reason = answerer.answer(Prompt("reopen", "reason"))
    except EndOfInput:
        reason = ""
    if not reason:
        terminal.line("It stays closed.")
        return None
    terminal.line("Open again. If the fault came back: type run HOURS, and then how often.", hang=2)
    return Reopened(reason=reason)
