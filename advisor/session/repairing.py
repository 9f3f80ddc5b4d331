"""Asking of a repair what was found, what was fitted and kept, what is good work, and whether it was taught again."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Any, Final

from advisor.model.case import Case, Noted, Repaired, State, Taught, TaughtWord, fold
from advisor.model.knowledge import Knowledge, Repair
from advisor.model.question import Question
from advisor.session import typed
from advisor.session.own_words import own_words
from advisor.session.picking import pick
from advisor.session.room import YES_OR_NO, Paused, Room, T, Talk, ask, choices, in_turn, keeping

NO_RECALIBRATION: Final = "none"
TAUGHT: Final[tuple[tuple[TaughtWord, str], ...]] = (
    ("yes", "Yes"), ("no", "Not yet"), ("not-needed", "This machine does not need it")
)  # fmt: skip


def begun_before(case: Case, cause: str, place: str | None) -> Repaired | None:
    """What was said of the same repair before it was taken back; None where nothing was."""
    withdrawn = fold(case).withdrawn
    told = [
        e for n, e in enumerate(case.events) if n in withdrawn and isinstance(e, Repaired) and (e.cause, e.place) == (cause, place)
    ]
    return told[-1] if told else None


def ask_repair(room: Room, title: str, repair: Repair, before: Repaired | None = None) -> Talk[dict[str, Any]]:
    """What was found, fitted and kept, the points of good work, the calibration and the minutes, as fields of the event.

    `back` asks the question before again. Who pauses in the middle finds what was said so far in a note. What was said `before`
    of a repair that was taken back stays where Enter alone is typed.
    """
    then = before or Repaired(cause="")

    def again(talk: Talk[T], told: str, value: T) -> Talk[T]:
        return keeping(room, talk, told, value) if told else talk

    said: dict[str, Any] = {}
    points: dict[str, bool] = {}

    def found() -> Talk[None]:
        before = then.model_copy(update={n: said[n] for n in ("found", "found_words") if n in said})
        kept = {"found": before.found, "found_words": before.found_words}
        told = yield from again(_what_was_found(room, repair), _found_before(repair, before), kept)
        said.update({"found": (), "found_words": ""} | told)

    def fitted() -> Talk[None]:
        room.say("Parts of this repair: " + "; ".join(repair.parts) + ".", hang=2)
        why = "The next technician must know what is new."
        asked = _words(room, "fitted", "What was fitted? Enter alone: nothing, or not said.", why)
        before = said.get("fitted", then.fitted)
        said["fitted"] = yield from again(asked, before, before)

    def kept() -> Talk[None]:
        room.say("To keep: " + "; ".join(repair.keep) + ".", hang=2)
        why = "Warranty asks for them, and so does the next case."
        asked = _words(room, "kept", "Which photographs, numbers or parts were kept, and where?", why)
        before = said.get("kept", then.kept)
        said["kept"] = yield from again(asked, before, before)

    def point(text: str) -> Talk[None]:
        if text == repair.workmanship[0]:
            room.say("Tick off the work:", strong=True)
        ticked = points.get(text, then.points.get(text))
        told = "" if ticked is None else "yes" if ticked else "no"
        points[text] = yield from again(_ticked(room, text), told, bool(ticked))

    def taught() -> Talk[None]:
        before = said.get("taught", then.taught)
        told = next((says for word, says in TAUGHT if word == before), "")
        said["taught"] = yield from again(ask_taught(room, repair), told, before)

    def minutes() -> Talk[None]:
        told = "" if then.minutes is None else f"{then.minutes:g} min"
        said["minutes"] = yield from again(_minutes(room), told, then.minutes)

    parts: list[Callable[[], Talk[None]]] = [found]
    parts += [fitted] if repair.parts else []
    parts += [kept] if repair.keep else []
    parts += [partial(point, text) for text in repair.workmanship]
    parts += [taught] if repair.recalibrate != NO_RECALIBRATION else []
    try:
        yield from in_turn(*parts, minutes)
    except Paused:
        _keep(room, title, repair, said, points)
        raise
    return {"taught": None, **said, "points": points}


def _found_before(repair: Repair, before: Repaired) -> str:
    """What was said to be found, in words."""
    words = {f.id: f.says for f in repair.found}
    return "; ".join([*(words.get(name, name) for name in before.found), *([before.found_words] if before.found_words else [])])


def _keep(room: Room, title: str, repair: Repair, said: dict[str, Any], points: dict[str, bool]) -> None:
    """A note of what was said of a repair that was not finished."""
    words = {f.id: f.says for f in repair.found}
    seen = [*(words[name] for name in said.get("found", ())), said.get("found_words", "")]
    told = {
        "Found": "; ".join(s for s in seen if s), "Fitted": said.get("fitted"), "Kept": said.get("kept"),
        "Done": "; ".join(text for text, done in points.items() if done),
    }  # fmt: skip
    texts = [f"{name}: {text}" for name, text in told.items() if text]
    if texts:
        room.store(Noted(text=f"Repair begun, not finished: {title}. {'. '.join(texts)}"))
        room.say("What you said of this repair is kept as a note.", hang=2)


def _minutes(room: Room) -> Talk[float | None]:
    took = Question(
        kind="minutes", text="How many minutes did it take?", prompt="minutes it took", optional=True,
        units=("min", "h"), example="50 min", why="The record shows the time of the job.",
    )  # fmt: skip
    room.say(f"{took.text} Enter alone: not known.", hang=2)
    return (yield from ask(room, took, typed.minutes))


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
    ids = {i for i, _ in pairs}
    whole = [i for i, says in pairs if says.lower() == head.strip().lower().rstrip(".")]
    words = whole or [w for w in re.split(r"[\s,.+&]+", head) if w and w.lower() != "and"]
    if words and pairs and all((w.isascii() and w.isdigit()) or w in ids for w in words):
        return {"found": tuple(dict.fromkeys(pick(w, pairs) for w in words)), "found_words": own.strip()}
    return {"found_words": own_words(text, "what was found")}


def _words(room: Room, kind: str, text: str, why: str) -> Talk[str]:
    room.say(text, strong=True)
    question = Question(kind=kind, text=text, prompt=kind, free=True, optional=True, why=why)
    asked = {"fitted": "what was fitted", "kept": "what was kept"}[kind]
    return (yield from ask(room, question, lambda typed: own_words(typed, asked)))


def _ticked(room: Room, point: str) -> Talk[bool]:
    """Whether one point of good work was done."""
    room.say(f"- {point}", indent=2, hang=2)
    ticked = Question(
        kind="point", text=point, prompt="yes or no", choices=YES_OR_NO, example="yes",
        why="The record lists what was not done under Open points.",
    )  # fmt: skip
    return (yield from ask(room, ticked, _yes_or_no)) == "yes"


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
        why="After a part is moved or renewed, the stored values do not fit it.",
    )  # fmt: skip
    return (yield from ask(room, question, lambda text: _taught(pick(text, TAUGHT)) if text else None))


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
