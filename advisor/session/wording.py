"""Short phrases for states of the machine and for the head of a ranking."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.model.finding import Share
from advisor.model.knowledge import Knowledge

HEADS = 4  # suspects in a ranking told in one line
CHOSEN = "Chosen by the technician."  # the reason of a step that nobody advised
FAR, SEEN = 0.10, 0.005  # changes of a share that are far, and that are seen at all; a judgement, no source


def says(knowledge: Knowledge, name: str, value: str) -> str:
    """A variable of the machine with its value, in words."""
    variable, _, point = name.partition(":")
    entry = knowledge.variables.get(variable)
    words = next((v.says for v in entry.values if v.id == value), "") if entry is not None else ""
    if variable == "leads" and value != "off":
        words = f"load and meter leads from {value}"
    text = f"{point} {words}" if point else words
    return text[:1].lower() + text[1:]


STRONG, WEAK = 10.0, 3.0  # decibans: tenfold, and twofold; the words for them are a judgement, no source


def strength(decibans: float) -> str:
    """How much an answer says, as the word before for or against; empty in between. The number is in the record."""
    if abs(decibans) >= STRONG:
        return "strongly "
    return "weakly " if abs(decibans) < WEAK else ""


def movement(before: float, now: float) -> str:
    """How a share has moved, in words; empty where nobody would see it. The numbers are told by the word why."""
    change = now - before
    if abs(change) < SEEN:
        return ""
    return ("far " if abs(change) >= FAR else "") + ("up" if change > 0 else "down")


def in_a_line(shares: Mapping[str, float]) -> str:
    """The head of a ranking in one line."""
    return "; ".join(f"{share:.0%} {title[:1].lower() + title[1:]}" for title, share in shares.items())


def heads(now: Sequence[Share]) -> dict[str, float]:
    """The head of a ranking: titles with their places, and shares."""
    return {
        f"{s.title} ({s.place})" if s.place and s.place not in s.title else s.title: s.share
        for s in now[:HEADS]
        if s.share >= 0.005
    }
