"""A question of the session as a front end gets it, and the reply that it sends: data only, one JSON object each."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from advisor.model.entry import Entry
from advisor.model.finding import Step, StepKind


class Choice(Entry):
    """One answer that is offered by number."""

    id: str
    says: str


class Warned(Entry):
    """A caution with its reason."""

    id: str
    says: str
    why: str


class Asked(Entry):
    """The step that a question belongs to."""

    kind: StepKind
    id: str = Field(description="Check id; cause id for a repair.")
    title: str
    place: str | None = None
    places: tuple[str, ...] = ()
    circuit: str | None = None
    start: str | None = Field(default=None, alias="from")
    end: str | None = Field(default=None, alias="to")
    minutes: float = Field(default=0, description="With the way to it.")

    @classmethod
    def of(cls, step: Step) -> Asked:
        values = {name: getattr(step, name) for name in ("kind", "id", "title", "place", "places", "circuit", "start", "end")}
        return cls.model_validate({**values, "minutes": round(step.minutes, 1)})


class Leader(Entry):
    """A line of the ranking."""

    cause: str
    place: str | None
    title: str
    share: float


class Question(Entry):
    """What is asked. Cautions stand before the step: a front end shows the new ones in full before anything is done."""

    format: Literal[1] = 1
    kind: str = Field(description="complaint, code, intake:ID, occurrences, hours, step, place, point, minutes, recurrences, ...")
    text: str = Field(description="The question in words.")
    prompt: str = Field(default="answer", description="A short label for a command line.")
    choices: tuple[Choice, ...] = Field(default=(), description="Answers offered by number, from 1.")
    several: bool = Field(default=False, description="Several choices may be named at once.")
    optional: bool = Field(default=False, description="An empty answer stands for not known.")
    free: bool = Field(default=False, description="Any text is an answer.")
    units: tuple[str, ...] = ()
    example: str = Field(default="", description="What could be typed here.")
    why: str = Field(default="", description="Why it is asked.")
    step: Asked | None = None
    cautions_new: tuple[Warned, ...] = ()
    cautions_standing: tuple[Warned, ...] = Field(default=(), description="Told before and still in force.")
    stands: dict[str, str] = Field(default={}, description="How the machine stands: variables and values.")
    reasons: tuple[str, ...] = ()
    ranking: tuple[Leader, ...] = ()
    words: tuple[str, ...] = Field(default=(), description="Words that are understood beside an answer.")
    said: tuple[str, ...] = Field(default=(), description="What was said since the question before.")

    @property
    def pairs(self) -> tuple[tuple[str, str], ...]:
        """The choices as (id, words)."""
        return tuple((c.id, c.says) for c in self.choices)


class Ended(Entry):
    """The last object: nothing more is asked."""

    format: Literal[1] = 1
    kind: Literal["ended"] = "ended"
    case: str | None = None
    closed: bool = False
    said: tuple[str, ...] = ()


class Reply(Entry):
    """What a front end sends for each question: a number, the words of an answer, or one of the words."""

    answer: str
