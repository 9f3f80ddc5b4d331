"""An answer of the intake in words."""

from __future__ import annotations

from typing import Final

from advisor.model.case import CODES, HOURS, LAYOUT, OCCURRENCES, Told
from advisor.model.knowledge import Knowledge
from advisor.model.machine import GENERIC_LAYOUTS

_TITLES: Final = {
    CODES: "Fault codes", OCCURRENCES: "How many times it happened", HOURS: "In how many working hours",
    LAYOUT: "Generic layout",
}  # fmt: skip
NOT_KNOWN: Final = "not known"


def told_title(knowledge: Knowledge, told: Told) -> str:
    """What was asked."""
    entry = knowledge.intake.get(told.question)
    return entry.title if entry else _TITLES.get(told.question, told.question)


def told_says(knowledge: Knowledge, told: Told) -> str:
    """What was told."""
    if told.number is not None:
        return f"{told.number:g}"
    if told.question == LAYOUT:
        return next((words for name, words in GENERIC_LAYOUTS.items() if name in told.words), NOT_KNOWN)
    entry = knowledge.intake.get(told.question)
    words = {r.id: r.says for r in entry.results} if entry else {}
    none = "none" if told.question == CODES else NOT_KNOWN
    return "; ".join(words.get(w, w) for w in told.words) or none
