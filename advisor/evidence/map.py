"""Which checks separate which causes, in words: the same for the terminal and for the page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from advisor.evidence.covers import Apart, apart
from advisor.evidence.separation import Separation
from advisor.model.knowledge import Knowledge

MEANING = (
    "A check tells two causes apart when one result is at least four times as likely for one of them: 6 dB."
    " 10 dB is ten times, 20 dB a hundred times. Load tests, places and rules tell apart further and are not counted here."
)


@dataclass(frozen=True)
class Parting:
    """A check that tells a cause from others: from which, in words, and by how many decibans at least."""

    check: str
    told_from: str
    decibans: float


@dataclass(frozen=True)
class Row:
    """A cause, the checks that part it from the others, the cause it is hardest to tell from, and what stays together."""

    cause: str
    partings: tuple[Parting, ...]
    hardest: Parting | None
    together: tuple[str, ...]


@dataclass(frozen=True)
class Section:
    """One complaint of the map."""

    complaint: str
    title: str
    rows: tuple[Row, ...]


def separation_map(knowledge: Knowledge, complaints: Iterable[str]) -> tuple[Section, ...]:
    """A section for each complaint, every cause of it a row; all texts are titles of the knowledge."""
    separation = Separation(knowledge)
    return tuple(
        Section(c, knowledge.complaints[c].title, tuple(_row(knowledge, a) for a in apart(separation, c))) for c in complaints
    )


def _row(k: Knowledge, found: Apart) -> Row:
    partings = []
    for n, cover in enumerate(found.covers):
        if len(cover.others) == found.among:
            told_from = f"all {found.among} others" if found.among > 1 else k.causes[cover.others[0]].title
        else:
            told_from = f"{len(cover.others)} of {found.among} others" if n == 0 else _titles(k, cover.others)
        partings.append(Parting(k.checks[cover.check].title, told_from, cover.least))
    near = found.nearest
    hardest = Parting(k.checks[near.check].title, k.causes[near.other].title, near.decibans) if near else None
    return Row(k.causes[found.cause].title, tuple(partings), hardest, tuple(k.causes[c].title for c in found.together))


def _titles(k: Knowledge, causes: Iterable[str]) -> str:
    return "; ".join(k.causes[c].title for c in causes)
