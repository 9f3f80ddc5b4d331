"""Random dialogues on a case that lies on the disk, in this process: what a technician might type, drawn from a seed."""

from __future__ import annotations

import io
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from builders import MACHINE, small_knowledge

from advisor.commands.keeping import Keeping
from advisor.commands.stored import consultation_of, named_now
from advisor.model.case import Case, Event, Opened
from advisor.model.knowledge import Knowledge
from advisor.model.question import Question
from advisor.session.session import Session
from advisor.store.folder import CaseStore
from advisor.store.open_case import StoredCase
from advisor.terminal.environment import Terminal

LONG = 36  # replies of a dialogue
WORDS = (
    "why", "more", "show", "cautions", "help", "back", "skip", "skip why no time", "other", "stands", "missing load-resistor",
    "have load-resistor", "missing second-person", "correct", "run 6.5", "pause-not", "note it rained \u0416 \N{SNOWMAN}", "note",
    "retest load-test supply-a controller sensor", "other load-test supply-a controller bulkhead", "close none", "", "99", "-1",
)  # fmt: skip


def drawn(question: Question, dice: random.Random, knowledge: Knowledge) -> str:
    """A reply that fits the question as a rule, and now and then a word, another step or nonsense."""
    chance = dice.random()
    if question.kind == "step":
        if chance < 0.25:
            return dice.choice(WORDS)
        if chance < 0.32:
            return f"other {dice.choice(sorted(knowledge.checks))}"
        if chance < 0.38:
            return f"repair {dice.choice(sorted(knowledge.causes))}"
        if chance < 0.40:
            return f"close {dice.choice(sorted(knowledge.causes))}"
    elif chance < 0.12:
        return dice.choice(("back", "why", "help", "note seen twice", "skip", "x", ""))
    if question.choices:
        return dice.choice(question.choices).id
    if question.kind == "step" and question.step is not None and question.step.circuit is not None:
        return f"23.{dice.randint(50, 99)} 23.{dice.randint(0, 49):02}"
    return question.example or "words of my own"


Standing = tuple[Any, ...]


def standing(session: Session) -> Standing:
    """The ranking, how the machine stands and what comes next, to the last bit."""
    talk = session.conversation
    if talk is None or talk._situation is None:
        return ()
    step = None if session.over else talk.assessment.next  # what was next before a case was closed is no more
    shares = tuple((s.cause, s.place, s.share.hex()) for s in talk.assessment.ranking)
    every = tuple((str(a), b, c.hex()) for a, b, c in talk.assessment.suspects)
    return shares, every, tuple(talk.situation.stand), None if step is None else (step.kind, step.key, step.minutes)


def plain_events(case: Case) -> list[str]:
    """The events without their times, which the clock gives."""
    return [e.model_copy(update={"at": None}).model_dump_json(by_alias=True) for e in case.events]


@dataclass
class Talked:
    """A dialogue after one of its replies: the events, and where it stands."""

    events: list[str]
    standing: Standing


def talk(folder: Path, seed: int, length: int = LONG) -> Iterator[Talked]:
    """A whole dialogue of this seed on a new case in this folder. Each value is given once the next question is out."""
    dice, knowledge = random.Random(seed), small_knowledge()
    store = CaseStore(folder)
    silent = Terminal(output=io.StringIO(), source=io.StringIO())
    begun: list[Keeping] = []

    def begin(name: str) -> tuple[Opened, Callable[..., None]]:
        from advisor.commands.shared import now

        opened = Opened(complaint=name, machine=MACHINE, asks=True)
        begun.append(Keeping(silent, store, store.create(opened, knowledge.digest, now()), asks=False))
        return opened, begun[0].append

    session = Session.fresh(knowledge, begin)
    while (question := session.question) is not None and length:
        length -= 1
        session.answer(drawn(question, dice, knowledge))
        session.take()
        _ = session.question
        yield Talked(plain_events(session.room.case) if begun else [], standing(session))
    if begun:
        begun[0].close()


def resumed(stored: StoredCase) -> Standing:
    """Where a case that is read from its file stands."""
    knowledge = small_knowledge()
    told = named_now(knowledge, stored)
    session = Session.going_on(knowledge, told.case, lambda *events: None, consultation=consultation_of(knowledge, told))
    _ = session.question
    return standing(session)


def only_events(events: tuple[Event, ...]) -> list[str]:
    return plain_events(Case(events))
