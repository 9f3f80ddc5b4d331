"""An answer of the intake in words."""

from __future__ import annotations

from typing import Final

from advisor.model.case import CODES, COMPLAINT, HEARD, HOURS, LAYOUT, OCCURRENCES, OPERATOR_WORDS, Told
from advisor.model.knowledge import Check, Intake, Knowledge
from advisor.model.machine import GENERIC_LAYOUTS

_TITLES: Final = {
    COMPLAINT: "Complaint", OPERATOR_WORDS: "In the operator's own words", CODES: "Fault codes",
    OCCURRENCES: "How many times it happened", HOURS: "In how many working hours", LAYOUT: "Generic layout",
}  # fmt: skip
NOT_KNOWN: Final = "not known"


def asked(knowledge: Knowledge, question: str) -> Intake | Check | None:
    """The question of the intake, or the question to the operator that his words answered."""
    return knowledge.intake.get(question) or knowledge.checks.get(question.removeprefix(HEARD))


def told_title(knowledge: Knowledge, told: Told) -> str:
    """What was asked."""
    entry = asked(knowledge, told.question)
    return entry.title if entry else _TITLES.get(told.question, told.question)


def told_says(knowledge: Knowledge, told: Told) -> str:
    """What was told."""
    if told.number is not None:
        return f"{told.number:g}"
    if told.question == LAYOUT:
        return next((words for name, words in GENERIC_LAYOUTS.items() if name in told.words), NOT_KNOWN)
    entry = asked(knowledge, told.question)
    words = {r.id: r.says for r in entry.results} if entry else {c.id: c.title for c in knowledge.complaints.values()}
    none = "none" if told.question == CODES else NOT_KNOWN
    return "; ".join(words.get(w, w) for w in told.words) or none
