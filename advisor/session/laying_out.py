"""Asking which generic layout stands in where no machine file was given, and exchanging it later."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.consultation.scenario import laid_out
from advisor.errors import InputError
from advisor.model.case import State
from advisor.model.machine import GENERIC_LAYOUTS, GenericLayout, Machine
from advisor.model.question import Question
from advisor.session.picking import pick
from advisor.session.room import Room, Talk, ask, choices

_SENDS = (
    ("two-tracks", "By voltage, two tracks"),
    ("one-track", "By voltage, one track"),
    ("bus-sensor", "Over the bus"),
)
_SHARES = (("supply", "The supply: one wire feeds both"), ("ground", "The ground: one wire brings both back"))
_SHARED: dict[str, GenericLayout] = {"supply": "two-tracks-shared-supply", "ground": "two-tracks-shared-ground"}


def ask_layout(room: Room) -> Talk[GenericLayout | None]:
    """Two questions, the second only where two tracks share a wire. Enter alone: not known, and the first layout stands in."""
    room.heading("The sensor's wiring")
    room.say("No machine file was given, so a generic layout stands in. Its names may differ from those of your machine.", hang=2)
    sends = yield from _one_of(
        room,
        "layout:signal",
        "How does the position sensor give its value?",
        _SENDS,
        "The kind of sensor decides which wires there are.",
    )
    if sends == "two-tracks":
        shared = yield from _one_of(
            room, "layout:shared", "Which wire at the controller do both tracks share?", _SHARES,
            "A fault in what both tracks share shows in both.",
        )  # fmt: skip
        found: GenericLayout | None = _SHARED.get(shared or "supply")
    else:
        found = next((name for name in GENERIC_LAYOUTS if name == sends), None)
    room.say(f"Layout: {GENERIC_LAYOUTS[found or 'two-tracks-shared-supply']}. Type layout at any step for another.", hang=2)
    return found


def _one_of(room: Room, kind: str, text: str, pairs: tuple[tuple[str, str], ...], why: str) -> Talk[str | None]:
    room.say(text, strong=True)
    room.options(pairs)
    question = Question(kind=kind, text=text, prompt="wiring", choices=choices(pairs), optional=True, example="1", why=why)
    return (yield from ask(room, question, lambda typed: pick(typed, pairs) if typed else None))


def exchanged(state: State, layout: str | None) -> Machine:
    """The layout that takes the place of the one before. Raises InputError where an answer names what it has not."""
    machine = laid_out(layout)
    for place in _named(state):
        if place not in machine.elements and place not in machine.points and place not in machine.circuits:
            raise InputError(
                f"an answer of this case names {place}, which that layout has not",
                "Take that answer back first, or begin another case.",
            )
    return machine


def _named(state: State) -> Iterator[str]:
    """Places and circuits that answers of the case name."""
    told = (*state.answers.values(), *state.skipped.values(), *state.repairs.values(), *(r.by for r in state.retests.values()))
    yield from (place for event in told if (place := getattr(event, "place", None)) is not None)
    readings = (*state.readings.values(), *(r.by for r in state.retests.values()))
    yield from (circuit for event in readings if (circuit := getattr(event, "circuit", None)) is not None)
