"""Asking which generic layout stands in where no machine file was given."""

from __future__ import annotations

from advisor.model.machine import GENERIC_LAYOUTS, GenericLayout
from advisor.model.question import Question
from advisor.session.picking import pick
from advisor.session.room import Room, Talk, ask, choices, in_turn

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
    found: GenericLayout | None = None
    two_tracks = False

    def sends() -> Talk[None]:
        nonlocal found, two_tracks
        told = yield from _one_of(
            room,
            "layout:signal",
            "How does the position sensor give its value?",
            _SENDS,
            "The kind of sensor decides which wires there are.",
        )
        two_tracks = told == "two-tracks"
        found = next((name for name in GENERIC_LAYOUTS if name == told), None)

    def shares() -> Talk[None]:
        nonlocal found
        if two_tracks:
            told = yield from _one_of(
                room, "layout:shared", "Which wire at the controller do both tracks share?", _SHARES,
                "A fault in what both tracks share shows in both.",
            )  # fmt: skip
            found = _SHARED.get(told or "supply")

    yield from in_turn(sends, shares)
    room.say(f"Layout: {GENERIC_LAYOUTS[found or 'two-tracks-shared-supply']}. Type layout at any step for another.", hang=2)
    room.say("Type machine FILE at any step for a machine file.", hang=2)
    return found


def _one_of(room: Room, kind: str, text: str, pairs: tuple[tuple[str, str], ...], why: str) -> Talk[str | None]:
    room.say(text, strong=True)
    room.options(pairs)
    question = Question(kind=kind, text=text, prompt="wiring", choices=choices(pairs), optional=True, example="1", why=why)
    return (yield from ask(room, question, lambda typed: pick(typed, pairs) if typed else None))
