"""Asking for what closes a case, and for what opens it again."""

from __future__ import annotations

from typing import Any

from advisor.consultation.closing import NO_CAUSE, closing, confirmed, differs, proof_says
from advisor.consultation.consultation import Consultation
from advisor.consultation.situation import Situation
from advisor.model.case import Case, Closed, Reopened, fold
from advisor.model.knowledge import Knowledge
from advisor.model.question import Question
from advisor.session import typed
from advisor.session.after_repair import ask_machine_hours
from advisor.session.describe import describe
from advisor.session.picking import pick
from advisor.session.repairing import left_to_teach
from advisor.session.room import YES_OR_NO, Back, Paused, Room, Talk, ask, in_turn
from advisor.session.search import choose

NAMED = "Type a word of its title, such as close splice. Type close none where no cause was found."


def ask_closing(room: Room, consultation: Consultation, s: Situation, what: str) -> Talk[Closed]:
    """`close [CAUSE [PLACE]]`: says what will be confirmed, asks again where it is not proven, then who confirms it and why.

    Raises InputError for an unknown cause or place, Back when it stays open.
    """
    assessment = s.assessment
    name, place = typed.two(what)
    if name == NO_CAUSE:
        name = place = None
    elif name is None:
        name, place = confirmed(s)
    elif name not in consultation.knowledge.causes:
        titles = {r.cause: r.title for r in assessment.ranking if r.cause in consultation.knowledge.causes}
        name, place = (yield from choose(room, what, titles, "cause", NAMED)), None
        place = assessment.leading.place if name == assessment.leading.cause else None
    elif place is None and name == assessment.leading.cause:
        place = assessment.leading.place
    event = closing(consultation, s.case, name, place, "", "")
    room.say(describe(consultation, event), strong=True, hang=2)
    for text in lacking(consultation.knowledge, s):
        room.say(text, strong=True, hang=2)
    if proof_says(s) and not (yield from ask_sure(room)):
        raise Back
    other = differs(assessment, name, place)
    said: dict[str, Any] = {"reason": ""}

    def by() -> Talk[None]:
        room.say("Who confirms it? Enter alone: not said.", hang=2)
        said["by"] = yield from _text(
            room, "name", "who confirms it", "Who confirms it?", "The record names who stands for the result."
        )

    def reason() -> Talk[None]:
        room.say(f"First in the ranking: {other}, {assessment.leading.share:.0%}.", hang=2)
        room.say("Why not that one? Enter alone: not said.", hang=2)
        said["reason"] = yield from _text(
            room, "reason", "why not that one", "Why not that one?", "The next technician must be able to follow."
        )

    def hours() -> Talk[None]:
        said["machine_hours"] = yield from ask_machine_hours(room)

    yield from in_turn(*((by, reason, hours) if other else (by, hours)))
    return event.model_copy(update=said)


def lacking(knowledge: Knowledge, s: Situation) -> list[str]:
    """What is open when a case is closed now: a calibration, the proof."""
    left = left_to_teach(knowledge, fold(s.case))
    taught = f"Not calibrated again: {left[2].recalibrate}. The record will say so." if left is not None else ""
    return [text for text in (taught, proof_says(s)) if text]


def ask_sure(room: Room) -> Talk[bool]:
    """Asks once more before a case is closed without its proof."""
    room.say("Close it all the same?", strong=True)
    room.options(tuple((c.id, c.says) for c in YES_OR_NO))
    question = Question(
        kind="unproven", text="Close it all the same?", prompt="yes or no", choices=YES_OR_NO, example="no",
        why="A case that is closed without proof comes back as a warranty claim.",
    )  # fmt: skip
    return (yield from ask(room, question, lambda text: pick(text, question.pairs))) == "yes"


def _text(room: Room, kind: str, prompt: str, text: str, why: str) -> Talk[str]:
    """A line of free text; nothing typed stays empty."""
    question = Question(kind=kind, text=text, prompt=prompt, free=True, optional=True, why=why)
    return (yield from ask(room, question, str))


def ask_reopening(room: Room, consultation: Consultation, case: Case) -> Talk[Reopened | None]:
    """Why a closed case is opened again; None when it stays closed."""
    closed = fold(case).closed
    assert closed is not None
    when = f" ({closed.at:%Y-%m-%d %H:%M} UTC)" if closed.at else ""
    room.say(f"{describe(consultation, closed)}{when}", strong=True, hang=2)
    room.say("Why is it opened again? Enter alone leaves it closed.")
    try:
        reason = yield from _text(room, "reopen", "reason", "Why is it opened again?", "The record keeps the reason.")
    except (Back, Paused):
        reason = ""
    if not reason:
        room.say("It stays closed.")
        return None
    room.say("Open again.")
    return Reopened(reason=reason)
