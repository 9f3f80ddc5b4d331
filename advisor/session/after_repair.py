"""What is asked of a repair: how warm the machine was at the retest, how the fault came back, and the machine hours at closing."""

from __future__ import annotations

from advisor.consultation.counts import hour_meter
from advisor.consultation.quantities import number
from advisor.consultation.retest_words import WARMTH, Like
from advisor.model.question import Question
from advisor.session.picking import pick
from advisor.session.room import Paused, Room, Talk, ask, choices

# What people say for it; each is one of the answers.
_ALIKE: dict[str, Like] = {
    "hot": "warmer", "hotter": "warmer", "warm": "warmer", "cold": "colder", "cool": "colder", "cooler": "colder",
    "same": "like", "the same": "like", "equal": "like", "as warm": "like",
}  # fmt: skip


def ask_warmth(room: Room) -> Talk[Like | None]:
    """How warm the machine is against the same test before the repair; None: not known."""
    question = Question(
        kind="warmth", text="How warm is the machine, against the same test before the repair?", prompt="warmth",
        choices=choices(tuple(WARMTH.items())), optional=True, example="1",
        why="Heat changes wires and contacts. Compare only tests with the machine equally warm.",
    )  # fmt: skip
    room.say(question.text + " Enter alone: not known.", strong=True, hang=2)
    room.options(question.pairs)

    def parse(text: str) -> Like | None:
        found = pick(_ALIKE.get(text.lower(), text), question.pairs) if text else None
        return next((like for like in WARMTH if like == found), None)

    return (yield from ask(room, question, parse))


def ask_conditions(room: Room) -> Talk[str]:
    """Under which conditions the fault came back; empty: not known. Raises Back."""
    how = Question(
        kind="conditions", text="In which work, on what ground, hot or cold, wet or dry?", prompt="how it came back", free=True,
        optional=True, why="The next test is done under the same conditions.",
    )  # fmt: skip
    room.say(how.text + " Enter alone: not known.", hang=2)
    return (yield from ask(room, how, str))


def ask_machine_hours(room: Room) -> Talk[float | None]:
    """What the machine's hour meter shows. It is the last question of a case: who pauses here has closed it all the same."""
    try:
        return (yield from _hours(room))
    except Paused:
        room.say("The machine hours stay open.")
        return None


def _hours(room: Room) -> Talk[float | None]:
    question = Question(
        kind="machine-hours", text="What does the hour meter of the machine show?", prompt="machine hours", optional=True,
        units=("h",), example="4321", why="The record tells at how many hours it was repaired.",
    )  # fmt: skip
    room.say(question.text + " Enter alone: not known.", hang=2)
    return (yield from ask(room, question, lambda text: hour_meter(*number(text)) if text else None))
