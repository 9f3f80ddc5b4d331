"""Is every word of the glossary a word that the technician meets, and is it told in words that are easy?"""

from __future__ import annotations

from collections.abc import Iterator

from advisor.library.lints.lint import Issue, Lint
from advisor.library.lints.wording import texts
from advisor.model.knowledge import Knowledge


def words_nobody_meets(k: Knowledge) -> Iterator[Issue]:
    """A word that stands in no text needs no page."""
    titles = [e.title for entries in (k.causes, k.checks, k.tools) for e in entries.values()]
    met = " ".join((*titles, *(t for _, said in texts(k) for t in said))).lower().replace("-", " ")
    for term in k.glossary.values():
        if not any(w.replace("-", " ") in met for w in term.words):
            yield Issue("unused-word", f"no text of the knowledge uses the word '{term.id}' of the glossary")


def words_told_twice(k: Knowledge) -> Iterator[Issue]:
    """One word leads to one page."""
    told: dict[str, str] = {}
    for term in k.glossary.values():
        for word in dict.fromkeys(term.words):
            if told.setdefault(word, term.id) != term.id:
                yield Issue("word-twice", f"the word '{word}' leads to '{told[word]}' and to '{term.id}'")


LINTS: tuple[Lint, ...] = (words_nobody_meets, words_told_twice)
