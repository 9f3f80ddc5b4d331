"""What the session says between two questions, as values: a front end shows each in its own way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from advisor.model.case import Case
from advisor.model.finding import Assessment, Because, Share, Step
from advisor.model.machine import Machine

if TYPE_CHECKING:
    from advisor.consultation.situation import Situation


@dataclass(frozen=True)
class Line:
    """One sentence or paragraph. `strong` asks for attention; `indent` and `hang` are in columns."""

    text: str = ""
    strong: bool = False
    indent: int = 0
    hang: int = 0


@dataclass(frozen=True)
class Heading:
    """A title of what follows."""

    title: str


@dataclass(frozen=True)
class Options:
    """Answers with their numbers."""

    choices: Sequence[tuple[str, str]]


@dataclass(frozen=True)
class RankingShown:
    """The ranking, and the one before where there was one."""

    now: tuple[Share, ...]
    before: tuple[Share, ...] = ()
    machine: Machine | None = None  # whose cavities are told with what they carry


@dataclass(frozen=True)
class News:
    """Findings, advice and messages of `now` that `before` had not."""

    before: Assessment
    now: Assessment


@dataclass(frozen=True)
class Meant:
    """What the last answer meant: what fired on it."""

    new: tuple[Because, ...]


@dataclass(frozen=True)
class Presented:
    """A step with its cautions: those to be told in full, and those told lately. Moves told lately are only named.

    `tools` and `stood` are the tools and the standing of the machine that the step before told. Tools `named` in full lately have
    short names now; of a check that is `familiar` the same work was told in one of the last few steps.
    """

    situation: Situation
    step: Step
    new: tuple[str, ...]
    standing: tuple[str, ...]
    moves: frozenset[str] = frozenset()
    tools: frozenset[str] = frozenset()
    stood: frozenset[tuple[str, str]] = frozenset()
    named: frozenset[str] = frozenset()
    familiar: bool = False


@dataclass(frozen=True)
class AskedAgain:
    """The question of a step alone, after a word. `whole`: with its answers, even where they stand near above."""

    situation: Situation
    step: Step
    whole: bool = False


@dataclass(frozen=True)
class More:
    """What a short screen leaves out of a step. `familiar`: its work too."""

    situation: Situation
    step: Step
    familiar: bool = False


@dataclass(frozen=True)
class Cautions:
    """The cautions in force, in full."""

    ids: tuple[str, ...]


@dataclass(frozen=True)
class Why:
    """The reason of a step. `whole`: all of it, with what the other steps tell and what waits."""

    situation: Situation
    step: Step
    assessment: Assessment
    whole: bool = False


@dataclass(frozen=True)
class WholeCase:
    """Everything so far: ranking, harness, events."""

    case: Case
    assessment: Assessment


Said = Line | Heading | Options | RankingShown | News | Meant | Presented | AskedAgain | More | Cautions | Why | WholeCase


def plain(item: Said) -> list[str]:
    """An item as sentences, for a front end that gets the rest as data; empty for what the question itself holds."""
    match item:
        case Line(text=text):
            return [text] if text else []
        case Heading(title=title):
            return [title]
        case News(before=before, now=now):
            return [
                text
                for name in ("findings", "advice", "messages")
                for text in getattr(now, name)
                if text not in getattr(before, name)
            ]
        case Why(step=step):
            return [*step.reason, *(f"{o.chance:.0%}: {o.says}" for o in step.outcomes)]
    return []
