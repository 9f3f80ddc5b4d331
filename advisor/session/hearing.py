"""The facts in what somebody said: the phrases of the knowledge found in it, each with the words it was found in.

A phrase is found where its words stand near each other, in any order and misspelt. A word that negates, in the same part of the
sentence and no part of a phrase, takes it away.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.model.knowledge import Knowledge
from advisor.model.phrase import Phrase
from advisor.session.pattern import Half, Span, compiled, half_in, halves_in, stood
from advisor.session.spoken import Word, spoken, words_in

MOST_LETTERS = 3000  # of a text in which facts are looked for
QUOTED = 60  # letters of the words shown beside a fact
SOON = 5  # words within which "no" and "without" deny what follows; a judgement, no source
NO_DENIAL = (("not", "only"), ("no", "matter"), ("no", "doubt"), ("not", "sure"), ("nothing", "but"))  # they take nothing away


@dataclass(frozen=True)
class Heard:
    """A fact: the answer to a question, and the words it was found in."""

    question: str
    answer: str
    words: str
    at: int  # the number of its first word
    phrase: str


@dataclass(frozen=True)
class _Found:
    """A phrase and the words that it was found in."""

    phrase: Phrase
    span: Span


class Ear:
    """The phrases of some knowledge, ready to be listened for."""

    def __init__(self, knowledge: Knowledge) -> None:
        groups = {name: group.words for name, group in knowledge.word_groups.items()}
        phrases = knowledge.phrases.values()
        self._said = [(p, compiled(text, groups)) for p in phrases for text in p.said]
        self._unless: dict[str, list[Half]] = {p.id: [compiled(text, groups)[0] for text in p.unless] for p in phrases}
        said = [*itertools.chain(*groups.values()), *(text for p in phrases for text in (*p.said, *p.unless))]
        self._wanted = sorted(set(words_in(said)))
        self._known = {*self._wanted, *words_in(_texts(knowledge))}

    def hear(self, text: str) -> tuple[Heard, ...]:
        """Every fact told, in the order of the text; the same fact once. Of a longer text only so many letters are heard."""
        text = text[:MOST_LETTERS]
        words = spoken(text, self._known, self._wanted)
        places, parts = stood(words, range(len(words))), _Parts(words)
        found = [_Found(p, span) for p, halves in self._said for span in halves_in(halves, words, places, p.between)]
        found = [f for f in found if not self._taken_away(f, parts)]
        sure = [f for f in found if not _denied(f, words, parts, {})]
        standing: dict[int, list[_Found]] = {}
        for f in sure:
            for i in f.span:
                standing.setdefault(i, []).append(f)
        found = [f for f in found if not _denied(f, words, parts, standing)]
        meant = _meant_instead(found, words)
        kept = [f for f in found if not any((f.phrase.id, words[i].sentence) in meant for i in f.span)]
        facts: dict[tuple[str, str], Heard] = {}
        for f in sorted(kept, key=lambda f: (f.span[0], -len(f.span))):
            for question, answer in ((q, a) for q, given in f.phrase.means.items() for a in given):
                heard = Heard(question, answer, _quote(text, words, f.span), f.span[0], f.phrase.id)
                facts.setdefault((question, answer), heard)
        return tuple(facts.values())

    def _taken_away(self, found: _Found, parts: _Parts) -> bool:
        """Whether words beside the phrase, in the same part of the sentence, say that something else is meant."""
        own = set(found.span)
        return any(own.isdisjoint(span) for half in self._unless[found.phrase.id] for span in parts.spans(half, found))


class _Parts:
    """The words of a text by the part of a sentence in which they stand; what is found in a part is found once."""

    def __init__(self, words: Sequence[Word]) -> None:
        self._words = words
        self._of: dict[int, list[int]] = {}
        self._negating: dict[int, list[int]] = {}
        self._spans: dict[tuple[Half, frozenset[int]], list[Span]] = {}
        for i, word in enumerate(words):
            self._of.setdefault(word.part, []).append(i)
            if word.negates:
                self._negating.setdefault(word.part, []).append(i)

    def _parts(self, found: _Found) -> frozenset[int]:
        return frozenset(self._words[i].part for i in found.span)

    def negating(self, found: _Found) -> list[int]:
        """The words that negate in those parts of sentences in which a phrase stands."""
        return [i for part in self._parts(found) for i in self._negating.get(part, ())]

    def spans(self, half: Half, found: _Found) -> list[Span]:
        """Where half of a phrase stands in the parts in which another phrase does."""
        key = half, self._parts(found)
        if key not in self._spans:
            near = stood(self._words, sorted(i for part in key[1] for i in self._of[part]))
            self._spans[key] = list(half_in(half, self._words, near))
        return self._spans[key]


def _texts(knowledge: Knowledge) -> list[str]:
    """Texts of the trade, whose words are spelt right."""
    found = [text for c in knowledge.checks.values() for text in (c.title, c.question, c.purpose, *c.steps)]
    found += [text for c in knowledge.causes.values() for text in (c.title, c.mechanism, c.told_because, *c.tell_tales)]
    found += [c.asks for c in knowledge.complaints.values()]
    results = [r for c in knowledge.checks.values() for r in c.results] + [r for q in knowledge.intake.values() for r in q.results]
    return [*found, *(r.says for r in results)]


def _denied(found: _Found, words: Sequence[Word], parts: _Parts, others: Mapping[int, Sequence[_Found]]) -> bool:
    """Whether a word that negates stands beside a phrase, and belongs neither to it nor to another one of other words.

    `others` are those other phrases, by each of their words.
    """
    own = set(found.span)
    return any(
        i not in own and _reaches(i, found, words) and all(own.intersection(f.span) for f in others.get(i, ()))
        for i in parts.negating(found)
    )


def _reaches(at: int, found: _Found, words: Sequence[Word]) -> bool:
    """Whether a word that negates denies what stands at these words."""
    if at + 1 < len(words) and (words[at].text, words[at + 1].text) in NO_DENIAL:
        return False
    return not words[at].negates_next or any(0 < i - at <= SOON for i in found.span)


def _meant_instead(found: Sequence[_Found], words: Sequence[Word]) -> set[tuple[str, int]]:
    """The phrases, each with a sentence, in whose place another entry is meant there."""
    return {(other, words[i].sentence) for f in found for other in f.phrase.instead_of for i in f.span}


def _quote(text: str, words: Sequence[Word], span: Span) -> str:
    """The words from the first to the last of a phrase; what is too long is left out in the middle."""
    whole = text[words[span[0]].start : words[span[-1]].end].replace("\n", " ")
    if len(whole) <= QUOTED:
        return whole
    head = whole[: QUOTED // 2].rsplit(" ", 1)[0]
    return f"{head} ... {whole[-QUOTED // 2 :].split(' ', 1)[-1]}"
