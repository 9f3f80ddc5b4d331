"""Cross references of phrases: the questions and answers that they give, and the groups of words that they name."""

from __future__ import annotations

import re
from collections.abc import Iterator

from advisor.errors import Problem
from advisor.library.naming import Spot, known
from advisor.library.reader import Path_
from advisor.model.knowledge import Knowledge
from advisor.model.phrase import COMPLAINT, Phrase
from advisor.model.stage import ASK

_GROUP = re.compile(r"<([^<>]*)>")
_WORDS = re.compile(r"[^\W_]")


def questions(k: Knowledge) -> dict[str, tuple[str, ...]]:
    """Every question that words can answer, with its answers."""
    intake = {q.id: tuple(r.id for r in q.results) for q in k.intake.values()}
    asked = {c.id: tuple(r.id for r in c.results) for c in k.checks.values() if c.stage == ASK}
    return {COMPLAINT: tuple(k.complaints), **intake, **asked}


def phrase_problems(phrase: Phrase, spot: Spot, k: Knowledge) -> Iterator[Problem]:
    """What a phrase names and is not there, and what could never be found."""
    asked = questions(k)
    for question, given in phrase.means.items():
        yield from known(spot, ("means", question), question, "question to the operator", asked)
        for answer in given if question in asked else ():
            yield from known(spot, ("means", question), answer, f"answer to {question}", asked[question])
    for i, other in enumerate(phrase.instead_of):
        yield from known(spot, ("instead_of", i), other, "phrase", k.phrases)
    for field in ("said", "unless"):
        for i, text in enumerate(getattr(phrase, field)):
            yield from _text(spot, (field, i), text, k)


def _text(spot: Spot, at: Path_, text: str, k: Knowledge) -> Iterator[Problem]:
    for group in _GROUP.findall(text):
        yield from known(spot, at, group, "group of words", k.word_groups)
    if any(not _WORDS.search(half) for half in text.split("...")):
        yield spot.problem(at, f"'{text}' has a half without a word", "write words before and after the dots")
    elif any(not _WORDS.search(one) for word in text.split() if word not in ("...", ">") for one in word.split("/")):
        yield spot.problem(at, f"'{text}' has a part without a word", "write 'a/b' without a blank at the stroke")
    elif at[0] == "unless" and "..." in text:
        yield spot.problem(at, "'unless' takes no dots", "write the words alone")
