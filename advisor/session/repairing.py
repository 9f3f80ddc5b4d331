"""Asking of a repair what was found, what was fitted and kept, what is good work, and whether it was taught again."""

from __future__ import annotations

from typing import Any, Final

from advisor.errors import InputError
from advisor.model.case import Repaired, State, Taught, TaughtWord
from advisor.model.knowledge import Knowledge, Repair
from advisor.model.question import Question
from advisor.session.picking import pick
from advisor.session.room import YES_OR_NO, Room, Talk, ask, choices

NO_RECALIBRATION: Final = "none"
TAUGHT: Final[tuple[tuple[TaughtWord, str], ...]] = (
    ("yes", "Yes"), ("no", "Not yet"), ("not-needed", "This machine does not need it")
)  # fmt: skip


def ask_found(room: Room, repair: Repair) -> Talk[dict[str, Any]]:
    """What was found, fitted and kept, as fields of the event. Enter alone passes over each."""
    values = yield from _what_was_found(room, repair)
    if repair.parts:
        room.say("Parts of this repair: " + "; ".join(repair.parts) + ".", hang=2)
        values["fitted"] = yield from _words(
            room, "fitted", "What was fitted? Enter alone: nothing, or not said.", "The next technician must know what is new."
        )
    if repair.keep:
        room.say("To keep: " + "; ".join(repair.keep) + ".", hang=2)
        values["kept"] = yield from _words(
            room,
            "kept",
            "Which photographs, numbers or parts were kept, and where?",
            "Warranty asks for them, and so does the next case.",
        )
    return values


def _what_was_found(room: Room, repair: Repair) -> Talk[dict[str, Any]]:
    """Numbers choose among what the repair offers; anything else is taken down in the technician's own words."""
    pairs = tuple((f.id, f.says) for f in repair.found)
    room.say("What was found?", strong=True)
    room.options(pairs)
    offered = "Type numbers, your own words, or both with a semicolon between. " if pairs else ""
    room.say(f"{offered}Enter alone: not said.", hang=2)
    question = Question(
        kind="found", text="What was found?", prompt="found", choices=choices(pairs), several=True, free=True, optional=True,
        example="1" if pairs else "", why="What was seen is the best proof, and it tells what else to look at.",
    )  # fmt: skip
    return (yield from ask(room, question, lambda text: _found(text, pairs)))


def _found(text: str, pairs: tuple[tuple[str, str], ...]) -> dict[str, Any]:
    """Ids where numbers or ids were typed, with own words after a semicolon; else the words. Raises InputError."""
    head, _, own = text.partition(";")
    words = head.replace(",", " ").split()
    ids = {i for i, _ in pairs}
    if words and pairs and all((w.isascii() and w.isdigit()) or w in ids for w in words):
        return {"found": tuple(dict.fromkeys(pick(w, pairs) for w in words)), "found_words": own.strip()}
    if text.lower() in ("yes", "no"):
        raise InputError(f"'{text}' does not say what was found", "Type a number, a few words, or Enter alone.")
    return {"found_words": text}


def _words(room: Room, kind: str, text: str, why: str) -> Talk[str]:
    room.say(text, strong=True)
    question = Question(kind=kind, text=text, prompt=kind, free=True, optional=True, why=why)
    return (yield from ask(room, question, str))


def ask_points(room: Room, repair: Repair) -> Talk[dict[str, bool]]:
    """Each point of good work, ticked or not."""
    points = {}
    room.say("Tick off the work:", strong=True)
    for point in repair.workmanship:
        room.say(f"- {point}", indent=2, hang=2)
        ticked = Question(
            kind="point", text=point, prompt="yes or no", choices=YES_OR_NO, example="yes",
            why="The record lists what was not done under Open points.",
        )  # fmt: skip
        points[point] = (yield from ask(room, ticked, _yes_or_no)) == "yes"
    return points


def _yes_or_no(text: str) -> str:
    return pick(text, tuple((c.id, c.says) for c in YES_OR_NO))


def ask_taught(room: Room, repair: Repair) -> Talk[TaughtWord | None]:
    """Whether what the repair names was calibrated again; None where nothing is named or nothing was said."""
    if repair.recalibrate == NO_RECALIBRATION:
        return None
    text = f"Was this calibrated again: {repair.recalibrate}?"
    room.say(text, strong=True, hang=2)
    room.options(TAUGHT)
    question = Question(
        kind="taught", text=text, prompt="calibrated again", choices=choices(TAUGHT), optional=True, example="1",
        why="A part that was moved or renewed no longer stands as it was taught.",
    )  # fmt: skip
    return (yield from ask(room, question, lambda typed: _taught(pick(typed, TAUGHT)) if typed else None))


def _taught(chosen: str) -> TaughtWord:
    return next(word for word, _ in TAUGHT if word == chosen)


def left_to_teach(knowledge: Knowledge, state: State) -> tuple[int, Repaired, Repair] | None:
    """The last repair whose calibration was not said to be done: its number, its event and what the knowledge says of it."""
    for number, event in sorted(state.repairs.items(), reverse=True):
        cause = knowledge.causes.get(event.cause)
        if cause is not None and cause.repair.recalibrate != NO_RECALIBRATION and event.taught in (None, "no"):
            return number, event, cause.repair
        break
    return None


def teach(room: Room, knowledge: Knowledge, state: State) -> Talk[None]:
    """Before a run: asks once more for a calibration that is left, and writes down what is said."""
    left = left_to_teach(knowledge, state)
    if left is None:
        return
    number, event, repair = left
    said = yield from ask_taught(room, repair)
    if said is None or said == "no":
        room.say(f"Not calibrated again: {repair.recalibrate}. The record will say so.", strong=True, hang=2)
    if said is not None and said != event.taught:
        room.store(Taught(number=number, taught=said))
