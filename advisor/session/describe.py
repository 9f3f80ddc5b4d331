"""Events of a case in one line each."""

from __future__ import annotations

from advisor.consultation.consultation import Consultation
from advisor.consultation.intake_words import told_says, told_title
from advisor.model.case import (
    STAYED_GOOD,
    Answered,
    Closed,
    Corrected,
    Event,
    KnowledgeChanged,
    Limited,
    MachineChanged,
    Moved,
    Noted,
    Overridden,
    Ran,
    Reading,
    Reopened,
    Repaired,
    Retested,
    SetupChanged,
    Skipped,
    Taught,
    Told,
    Undone,
)  # fmt: skip
from advisor.model.knowledge import Check
from advisor.model.place_words import spot_says
from advisor.session.wording import in_a_line
from advisor.session.wording import says as says_of


def says_of_answer(check: Check, answer: Answered) -> str:
    """The results of an answer in the words of the check."""
    words = {r.id: r.says for r in check.results}
    return "; ".join(words.get(r, r) for r in (answer.result, *answer.also))


def describe(consultation: Consultation, event: Event) -> str:
    """An event in one line."""
    k = consultation.knowledge
    match event:
        case Told():
            return f"{told_title(k, event)}: {told_says(k, event)}"
        case Answered():
            check = k.checks[event.check]
            value = f"{event.read}: " if event.read else ""
            spot = spot_says(consultation.machine, event.where, event.side)
            return f"{check.title}{_place(consultation, event.place)}: {value}{says_of_answer(check, event)}{spot}"
        case Reading():
            return f"Load test {event.circuit} {event.start} to {event.end}: {event.reference:.2f} V, loaded {event.loaded:.2f} V"
        case Skipped():
            why = f": {event.why}" if event.why else ""
            return f"Left out: {k.checks[event.check].title}{_place(consultation, event.place)}{why}"
        case Undone():
            return f"Taken back: number {event.number}"
        case Corrected():
            return f"Corrected number {event.number}: {describe(consultation, event.by)}"
    return _work(consultation, event)


def _place(consultation: Consultation, name: str | None) -> str:
    return f" ({consultation.machine.told(name)})" if name else ""


def _work(consultation: Consultation, event: Event) -> str:
    """Everything that is no test and no answer."""
    k = consultation.knowledge
    match event:
        case Taught():
            return f"Calibrated again: {event.taught.replace('-', ' ')}"
        case Noted():
            return f"Note: {event.text}"
        case Moved():
            if event.move in k.moves:
                return f"{k.moves[event.move].title}{_place(consultation, event.point)}"
            return "Now: " + "; ".join(says_of(k, n, v) for n, v in event.to.items())
        case SetupChanged():
            return f"{'Prepared' if event.entered else 'Undone'}: {event.setup.replace('-', ' ')}"
        case Limited():
            return f"{'Here again' if event.available else 'Not here'}: {event.what}"
        case Repaired():
            return f"Repaired: {k.causes[event.cause].title}{_place(consultation, event.place)}"
        case Retested():
            return f"Retest: {describe(consultation, event.by)}"
        case Ran():
            stayed = {r.id: r.says for r in k.checks[STAYED_GOOD].results} if STAYED_GOOD in k.checks else {}
            held = f". It stayed good: {stayed.get(event.stayed, event.stayed).lower()}" if event.stayed else ""
            back = {0: "did not come back", 1: "came back once"}.get(event.recurrences, f"came back {event.recurrences} times")
            return f"Run {event.hours:g} hours, the fault {back}{held}"
        case Overridden():
            return f"Did {event.check} although it should wait: {event.hold}"
        case Closed():
            cause = (
                k.causes[event.cause].title + _place(consultation, event.place)
                if event.cause in k.causes
                else event.cause or "no cause found"
            )
            by = f", confirmed by {event.by}" if event.by else ""
            return f"Closed: {cause}{by}" + (f". {event.reason}" if event.reason else "")
        case KnowledgeChanged():
            before = f" Before: {in_a_line(event.before)}." if event.before else ""
            return f"From here on with newer knowledge.{before}"
        case MachineChanged():
            return f"Another machine file: {event.machine.get('title', 'without a title')}"
        case Reopened():
            return f"Opened again: {event.reason}"
    return event.event
