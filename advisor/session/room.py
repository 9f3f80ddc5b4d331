"""What every talk shares: the case, what was said, and asking until an answer can be read, with the words of every prompt."""

from __future__ import annotations

import re
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import TypeVar

from advisor.errors import AdvisorError, InputError
from advisor.model.case import Case, Event, Noted, Opened
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.model.question import Choice, Question
from advisor.session.picking import pick
from advisor.session.said import Heading, Line, Options, Said

T = TypeVar("T")
Talk = Generator[Question, str, T]  # gives questions, gets what was typed

WORDS = ("why", "skip", "back", "note", "pause", "help")
NOT_KNOWN = ("not known", "unknown", "no idea", "don't know", "dont know", "i don't know", "not sure")
NEAR_WORD = 0.75  # likeness from 0 to 1 from which a word typed is one of the words; a judgement, no source
_FOR = re.compile(r"\d for: ")  # a hint that names a number already
OFTEN = 2  # refusals after which the list is offered


class Back(Exception):
    """The question before is wanted."""


class Paused(Exception):
    """The technician leaves; what was said so far is kept."""


def _no_files(name: str) -> Machine:
    raise InputError("machine files cannot be read here", "Begin the case with its machine.")


@dataclass
class Room:
    """The case of a talk. `append` stores any number of events, all or none, before anything is said of them."""

    knowledge: Knowledge
    case: Case = field(default_factory=Case)
    append: Callable[..., None] = lambda *events: None
    said: list[Said] = field(default_factory=list)
    meter: str = ""  # specification of the technician's voltmeter; empty: a usual one
    read_machine: Callable[[str], Machine] = _no_files  # a machine file by its name; raises InputError
    seen: Callable[[Case], tuple[str, ...]] = lambda case: ()  # what is told of past cases like this one

    @property
    def begun(self) -> bool:
        """Whether there is a case by now that what is stored goes to."""
        return bool(self.case.events) and isinstance(self.case.events[0], Opened)

    def say(self, text: str = "", *, strong: bool = False, indent: int = 0, hang: int = 0) -> None:
        self.said.append(Line(text, strong, indent, hang))

    def heading(self, title: str) -> None:
        self.said.append(Heading(title))

    def options(self, pairs: tuple[tuple[str, str], ...]) -> None:
        self.said.append(Options(pairs))

    def refuse(self, error: AdvisorError) -> None:
        """One line that says what is wrong, one that says what to do."""
        what = error.what if error.what[1:2].isupper() else error.what[:1].lower() + error.what[1:]
        self.say(f"Not taken: {what.rstrip('.')}.", strong=True, hang=2)
        if error.hint:
            self.say(error.hint, hang=2)

    def store(self, *events: Event) -> None:
        """Events that belong together. Raises InputError for those that could not be saved and were left out."""
        self.append(*events)
        for event in events:
            self.case = self.case.then(event)


def choices(pairs: tuple[tuple[str, str], ...]) -> tuple[Choice, ...]:
    """(id, words) as choices."""
    return tuple(Choice(id=i, says=says) for i, says in pairs)


YES_OR_NO = choices((("yes", "Yes"), ("no", "No")))


def taken_as(room: Room, text: str, found: Sequence[str], pairs: Sequence[tuple[str, str]]) -> None:
    """Says which answers were understood, where they were typed in other words than their own."""
    says = dict(pairs)
    if any(c.isalpha() for c in text) and not any(text.lower() in (name, says.get(name, "").lower()) for name in found):
        told = "; ".join(says[name] for name in found if name in says)
        if told:
            room.say(f"Taken as: {told}.", hang=2)


def ask(room: Room, question: Question, parse: Callable[[str], T]) -> Talk[T]:
    """Asks until `parse` takes the answer. Raises Back and Paused for those words."""
    question = question.model_copy(update={"words": WORDS})
    refused = 0
    while True:
        text = yield question
        try:
            given = yield from _words(room, question, text)
            if given is not None:
                return parse(given)
        except InputError as error:
            refused += 1
            room.refuse(error)
            near = get_close_matches(text.partition(" ")[0].lower(), WORDS, n=1, cutoff=NEAR_WORD) if text else []
            if near:
                room.say(f"The word {near[0]} is known here, if you mean it.", hang=2)
            elif question.example and question.example not in error.hint and not names_one(error.hint):
                room.say(f"Here you could type: {question.example}", hang=2)
            room.say(question.text, strong=True, hang=2)
            if refused % OFTEN == 0 and question.choices:
                room.options(question.pairs)


def keeping(room: Room, talk: Talk[T], told: str, kept: T) -> Talk[T]:
    """A talk whose first question was answered before, with what was `told`: Enter alone there leaves it, and gives `kept`."""
    try:
        first = asked = next(talk)
        out = "; skip takes it out" if first.optional else ""
        room.say(f"Told so far: {told}. Enter alone keeps it{out}.", hang=2)
        while True:
            text = yield asked
            if asked is first and not text:
                talk.close()
                room.say("Kept as it was.")
                return kept
            asked = talk.send(text)
    except StopIteration as end:
        found: T = end.value
        return found


def in_turn(*parts: Callable[[], Talk[None]]) -> Talk[None]:
    """Several questions that belong together: `back` at one asks the one before it again. Raises Back at the first."""
    at = 0
    while at < len(parts):
        try:
            yield from parts[at]()
            at += 1
        except Back:
            if at == 0:
                raise
            at -= 1


def names_one(hint: str) -> bool:
    """Whether a hint names a number already: an example of another number beside it would mislead."""
    return _FOR.search(hint) is not None


def _words(room: Room, question: Question, text: str) -> Talk[str | None]:
    """The answer in what was typed; None when it was a word and that is done."""
    word, _, rest = text.partition(" ")
    word = word.lower()
    if question.free and rest and word != "note":  # a sentence may begin with any other word
        return text
    match word:
        case "pause":
            raise Paused
        case "back":
            raise Back
        case "help" | "?":
            _help(room, question)
        case "why":
            room.say(question.why or "The answer goes into the record.", hang=2)
        case "note":
            yield from note(room, rest.strip())
        case _ if question.optional and not question.free and text.lower() in NOT_KNOWN and not _offered(question, text):
            return ""
        case "skip":
            if not question.optional:
                raise InputError("this question cannot be skipped", "Answer it, or type back or pause.")
            return ""
        case _:
            return text
    return None


def _offered(question: Question, text: str) -> bool:
    """Whether one of the answers is called just that."""
    return any(text.lower() == c.says.lower() for c in question.choices)


def _help(room: Room, question: Question) -> None:
    room.say(question.text, strong=True, hang=2)
    room.options(question.pairs)
    if question.example:
        room.say(f"You could type: {question.example}", hang=2)
    if question.optional:
        room.say("Enter alone, or skip: not known.")
    room.say("why: the reason. back: the question before. note TEXT: for the record.", hang=2)
    room.say("pause: save and leave; advisor resume goes on.", hang=2)


def note(room: Room, text: str) -> Talk[None]:
    """Writes something down for the record; asks what, where nothing was typed after the word."""
    text = text or (yield Question(kind="note", text="What do you want to write down?", prompt="note", free=True, optional=True))
    if text:
        room.store(Noted(text=text))
        room.say("Noted." if room.begun else "Noted. It is saved as soon as the complaint is chosen.", hang=2)


def ask_waiting(room: Room, notes: list[str]) -> Talk[None]:
    """Whether each note that was typed before a case was begun belongs to this one. Notes that were asked leave the list."""
    question = Question(
        kind="waiting-note", text="Does this note belong to this case?", prompt="yes or no", choices=YES_OR_NO, example="yes",
        why="Somebody typed it before a case was begun. Yes puts it into this record, no deletes it.",
    )  # fmt: skip
    while notes:
        room.say(f"A note waits from a start without a complaint: {notes[0]}", hang=2)
        room.say(question.text, strong=True)
        room.options(question.pairs)
        try:
            belongs = yield from ask(room, question, lambda typed: pick(typed, question.pairs))
        except Back:
            room.say("The case is begun. Answer this first; correct changes the complaint later.", hang=2)
            continue
        text = notes.pop(0)
        if belongs == "yes":
            room.store(Noted(text=text))
