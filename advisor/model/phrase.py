"""What operators say, and what it tells: phrases.yaml and word-groups.yaml."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, StringConstraints

from advisor.model.entry import Entry, Id, Ids, Text

COMPLAINT = "complaint"
Word = Annotated[str, StringConstraints(strip_whitespace=True, to_lower=True, min_length=1, max_length=40)]


class WordGroup(Entry):
    """Words that say the same in a phrase; `<id>` in a phrase stands for any of them."""

    id: Id
    words: tuple[Word, ...] = Field(min_length=1, description="One word or a few; other endings of a word are found too.")


class Phrase(Entry):
    """Ways to say one thing, and the answers that it gives."""

    id: Id
    means: dict[Id, Ids] = Field(
        min_length=1,
        description="A question to the operator or of the intake, or `complaint`, and the answer or answers that are told.",
    )
    said: tuple[Text, ...] = Field(
        min_length=1,
        description="Words that stand near each other, in any order. a/b: one of these. a-b: right after each other. "
        "<group>: a word of that group. =a: in just this form. a > b: in this order. "
        "a ... b: the one long before the other, a sentence at most.",
    )
    unless: tuple[Text, ...] = Field(default=(), description="Words in the same part of the sentence that take it away.")
    instead_of: Ids = Field(default=(), description="Entries that are not meant where this one is found in the same sentence.")
    between: int = Field(default=3, ge=0, le=15, description="How many other words may stand among them.")
