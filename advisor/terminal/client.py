"""A session at the terminal: shows what was said and the question, reads what is typed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from advisor.errors import EndOfInput
from advisor.model.knowledge import Knowledge
from advisor.model.question import Question
from advisor.session.said import (
    AskedAgain,
    Cautions,
    Heading,
    Line,
    Meant,
    More,
    News,
    Options,
    Presented,
    RankingShown,
    Said,
    WholeCase,
    Why,
)
from advisor.session.session import Session
from advisor.terminal import views
from advisor.terminal.environment import Terminal


class Answerer(Protocol):
    """Where answers come from."""

    def answer(self, prompt: Question) -> str:
        """The text typed. Raises EndOfInput when there is no more."""
        ...


@dataclass
class Person:
    """Somebody at the keyboard, or lines from a pipe."""

    terminal: Terminal

    def answer(self, prompt: Question) -> str:
        return self.terminal.read(self.terminal.prompt(prompt.prompt))


@dataclass
class Echoed:
    """Answers that nobody types here: each stands after its prompt in the log."""

    terminal: Terminal
    answerer: Answerer

    def answer(self, prompt: Question) -> str:
        text = self.answerer.answer(prompt)
        self.terminal.verbatim(self.terminal.prompt(prompt.prompt) + text)
        return text


def play(terminal: Terminal, answerer: Answerer, session: Session) -> None:
    """A session to its end; when the answers end, it pauses."""
    while True:
        for item in session.take():
            show(terminal, session, item)
        question = session.question
        if question is None:
            return
        try:
            text = answerer.answer(question)
        except EndOfInput:
            session.pause()
        except KeyboardInterrupt:
            session.pause()  # what was said of a question that has more of them is kept
            raise
        else:
            session.answer(text)


def show(terminal: Terminal, session: Session, item: Said) -> None:
    """One thing that was said."""
    knowledge = session.conversation.consultation.knowledge if session.conversation else session.room.knowledge
    match item:
        case Line():
            terminal.line(item.text, "bold" if item.strong else "", indent=item.indent, hang=item.hang)
        case Heading():
            terminal.rule(item.title)
        case Options():
            views.options(terminal, item.choices)
        case RankingShown():
            views.ranking(terminal, item.now, item.before, machine=item.machine)
        case Meant():
            views.meaning(terminal, item.new, knowledge)
        case Cautions():
            views.cautions(terminal, knowledge, item.ids)
        case _:
            _show_step(terminal, session, item, knowledge)


def _show_step(terminal: Terminal, session: Session, item: Said, knowledge: Knowledge) -> None:
    """What is said of a step; it takes all of the reasoning, which the first questions do without."""
    from advisor.terminal import stage

    match item:
        case News():
            stage.news(terminal, item.before, item.now)
        case Presented():
            stage.present(terminal, item)
        case AskedAgain():
            stage.again(terminal, item.situation, item.step, whole=item.whole)
        case More():
            stage.more(terminal, item.situation, item.step, familiar=item.familiar)
        case Why():
            stage.why(terminal, item, knowledge)
        case WholeCase() if session.conversation is not None:
            stage.show(terminal, session.conversation.consultation, item.case, item.assessment)


def refused(terminal: Terminal, what: str, hint: str) -> None:
    """One line that says what is wrong, one that says what to do."""
    terminal.line(f"Not taken: {what}.", "bold", hang=2)
    if hint:
        terminal.line(hint, hang=2)
