"""Asked after a result: where it is, on which side, at which of several places, and how long a fault stayed away."""

from __future__ import annotations

from advisor.consultation.answers import asks_side, asks_where
from advisor.consultation.consultation import Consultation
from advisor.errors import InputError
from advisor.model.case import STAYED_GOOD, Answered, Corrected, Event, Retested
from advisor.model.knowledge import Check
from advisor.model.machine import Machine
from advisor.model.place_words import SIDES, place_says
from advisor.model.question import Question
from advisor.session.picking import pick
from advisor.session.room import Room, Talk, ask, choices, in_turn, taken_as

NOT_SURE = "not-sure"
_NOT_SURE = (NOT_SURE, "Not sure")
WHERE = {"wire": "Which wire is it?", "plug": "Which plug is it?", "anywhere": "Where on the harness is it?"}


def located(room: Room, consultation: Consultation, event: Event) -> Talk[Event]:
    """An answer with where on the harness it is and on which side, asked where that tells something."""
    by = event.by if isinstance(event, Retested | Corrected) else event
    if not isinstance(by, Answered):
        return event
    by = yield from ask_spot(room, consultation.machine, consultation.knowledge.checks[by.check], by)
    return event.model_copy(update={"by": by}) if isinstance(event, Retested | Corrected) else by


def ask_spot(room: Room, machine: Machine, check: Check, answered: Answered) -> Talk[Answered]:
    """An answer with where and on which side, for a check that asks it. Enter alone stands for not sure."""
    told: dict[str, str | None] = {"where": None, "side": None}

    def where() -> Talk[None]:
        told["where"] = yield from _where(room, machine, check)

    def side() -> Talk[None]:
        why = "One side alone fits other causes than both."
        told["side"] = yield from _one(room, "side", "On which side?", tuple(SIDES.items()), why)

    asked = [where] if asks_where(check, answered.result) else []
    yield from in_turn(*asked, *([side] if asks_side(check, answered.result) else []))
    return answered.model_copy(update=told) if any(told.values()) else answered


def _where(room: Room, machine: Machine, check: Check) -> Talk[str | None]:
    from advisor.evidence.spots import spots

    assert check.where is not None, "only a check that can react somewhere is asked"
    pairs = tuple((s.id, s.says) for s in spots(machine, check.where))
    return (yield from _one(room, "where", WHERE[check.where], pairs, "The place tells which plug or wire it is.", machine))


def _one(
    room: Room, kind: str, text: str, known: tuple[tuple[str, str], ...], why: str, machine: Machine | None = None
) -> Talk[str | None]:
    """One of several; with a machine, any element of its layout by name as well."""
    pairs = (*known, _NOT_SURE)

    def parse(typed: str) -> str | None:
        if machine is not None and typed in machine.elements:
            return typed
        found = pick(typed, pairs) if typed else NOT_SURE
        taken_as(room, typed, (found,), pairs)
        return None if found == NOT_SURE else found

    room.say(f"{text} (Enter alone: not sure)", strong=True)
    room.options(pairs)
    question = Question(kind=kind, text=text, prompt=kind, optional=True, choices=choices(pairs), example="1", why=why)
    return (yield from ask(room, question, parse))


def ask_stayed(room: Room) -> Talk[str | None]:
    """How long the fault stayed away after a repair: one that never left is another fact than one that came back later."""
    check = room.knowledge.checks.get(STAYED_GOOD)
    if check is None:
        return None
    pairs = tuple((r.id, r.says) for r in check.results)
    text = "How long did it stay good after the repair?"
    return (yield from _one(room, "stayed", text, pairs, check.purpose))


def ask_which(room: Room, machine: Machine, places: tuple[str, ...]) -> Talk[tuple[str, ...]]:
    """At which of several places that were looked at together."""
    pairs = tuple((p, place_says(machine, p)) for p in places)
    text = "At which of them? (several numbers are allowed)"
    room.say(text, strong=True)
    room.options(pairs)
    question = Question(
        kind="places", text=text, prompt="which of them", choices=choices(pairs), several=True, example="1",
        why="The others are written down as normal.",
    )  # fmt: skip

    def parse(typed: str) -> tuple[str, ...]:
        if not typed:
            raise InputError("no place was named", "Type its number; back when it is at none of them.")
        return tuple(dict.fromkeys(pick(word, pairs) for word in typed.replace(",", " ").split()))

    return (yield from ask(room, question, parse))
