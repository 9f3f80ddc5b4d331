"""After a repair: how long the machine has run, how often the fault came back in that time, and how."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, Protocol

from advisor.consultation import counts, quantities
from advisor.consultation.consultation import Consultation
from advisor.consultation.situation import Situation
from advisor.consultation.steps import back_to_work, moved
from advisor.model.case import Event, Noted, Ran, fold
from advisor.model.finding import Step
from advisor.model.question import Question
from advisor.session import typed
from advisor.session.after_repair import ask_conditions
from advisor.session.picking import pick
from advisor.session.repairing import teach
from advisor.session.room import YES_OR_NO, Back, Room, Talk, ask, in_turn
from advisor.session.spot_talk import ask_stayed


class Going(Protocol):
    """What is needed of a case that goes on."""

    room: Room
    consultation: Consultation

    @property
    def situation(self) -> Situation: ...

    @property
    def next(self) -> Step: ...

    def event(self, **values: Any) -> Event:
        """The event of one line of answers."""
        ...

    def store(self, *events: Event) -> None:
        """Stores events and says what they changed."""
        ...


class _Run(NamedTuple):
    """Hours that a machine ran, and how they were understood."""

    hours: float
    says: str


def ran(c: Going, text: str, step: Step) -> Talk[None]:
    """`run HOURS`, then how often the fault came back. A calibration that is left is asked for first."""
    hours = counts.run_hours(*quantities.number(text))
    yield from teach(c.room, c.consultation.knowledge, fold(c.room.case))
    yield from _how_often(c, _Run(hours, counts.hours_say(hours, text)), step, typed.times)


def came_back(c: Going) -> Talk[None]:
    """Asks of a case that is open again whether the fault came back, after how many hours, how and how often."""
    if not fold(c.room.case).repairs:
        return
    back = Question(
        kind="came-back", text="Did the fault come back?", prompt="yes or no", choices=YES_OR_NO, example="yes",
        why="If the fault came back, the repair did not cure it. The search goes on.",
    )  # fmt: skip
    while True:
        c.room.say(back.text, strong=True)
        c.room.options(back.pairs)
        if (yield from ask(c.room, back, lambda text: pick(text, back.pairs))) == "no":
            return
        try:
            yield from _when_it_came(c)
        except Back:
            continue
        return


def _when_it_came(c: Going) -> Talk[None]:
    """After how many hours it came back, under which conditions, and how often. Raises Back at the first."""
    told: dict[str, Any] = {}
    when = Question(
        kind="hours-run", text="After how many hours of work did it come back? Count from the hours typed last.",
        prompt="hours", units=("h", "min"),
        example="6.5 h", why="It tells how often the fault comes now, and how long the next run must be.",
    )  # fmt: skip

    def run(text: str) -> _Run:
        hours = counts.run_hours(*quantities.number(text))
        return _Run(hours, counts.hours_say(hours, text))

    def hours() -> Talk[None]:
        c.room.say(when.text)
        told["run"] = yield from ask(c.room, when, run)

    def how() -> Talk[None]:
        told["how"] = yield from ask_conditions(c.room)

    def often() -> Talk[None]:
        yield from _how_often(c, told["run"], c.next, typed.times_back, told["how"])

    yield from in_turn(hours, how, often)


def _how_often(c: Going, run: _Run, step: Step, count: Callable[[str], int], said: str | None = None) -> Talk[None]:
    """Hours run, with how often the fault came back in them, and how, where that was not `said` before."""
    event = c.event(run=run.hours)
    assert isinstance(event, Ran)
    c.room.say(run.says)
    asked = Question(
        kind="recurrences", text="How often did the fault come back?", prompt="times",
        units=("times",), example="0" if count is typed.times else "1",
        why="The hours count only when you say how often the fault came back.",
    )  # fmt: skip
    told: dict[str, Any] = {}

    def often() -> Talk[None]:
        c.room.say(asked.text + (" Type 0 when it did not." if count is typed.times else ""), hang=2)
        told["recurrences"] = yield from ask(c.room, asked, count)

    def stayed() -> Talk[None]:
        repaired = bool(fold(c.room.case).repairs)
        told["stayed"] = (yield from ask_stayed(c.room)) if told["recurrences"] and repaired else None

    yield from in_turn(often, stayed)
    # A machine that has run stands as at work: the way back is part of the run.
    before, _ = moved(step if step.kind == "run" else back_to_work(c.situation, step))
    how = () if not said else (Noted(text=f"It came back: {said}"),)
    c.store(*before, event.model_copy(update=told), *how)
    if told["recurrences"] and said is None and (said := (yield from _conditions(c))):
        c.room.store(Noted(text=f"It came back: {said}"))


def _conditions(c: Going) -> Talk[str]:
    """How it came back, after the hours are stored: `back` leaves it open."""
    try:
        return (yield from ask_conditions(c.room))
    except Back:
        return ""
