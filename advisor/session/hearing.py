"""The facts in what somebody said: the phrases of the knowledge found in it, each with the words it was found in.

A phrase is found where its words stand near each other, in any order and misspelt. A word that negates, in the same part of the
sentence and no part of a phrase, takes it away.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from advisor.model.knowledge import Knowledge
from advisor.model.phrase import Phrase
from advisor.session.pattern import Half, Span, compiled, half_in, halves_in, stood
from advisor.session.spoken import Word, spoken, words_in

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
        """Every fact told, in the order of the text; the same fact once."""
        words = spoken(text, self._known, self._wanted)
        places = stood(words, range(len(words)))
        found = [_Found(p, span) for p, halves in self._said for span in halves_in(halves, words, places, p.between)]
        found = [f for f in found if not self._taken_away(f, words)]
        sure = [f for f in found if not _denied(f, words, ())]
        found = [f for f in found if not _denied(f, words, sure)]
        kept = [f for f in found if not _overruled(f, found, words)]
        facts: dict[tuple[str, str], Heard] = {}
        for f in sorted(kept, key=lambda f: (f.span[0], -len(f.span))):
            for question, answer in ((q, a) for q, given in f.phrase.means.items() for a in given):
                heard = Heard(question, answer, _quote(text, words, f.span), f.span[0], f.phrase.id)
                facts.setdefault((question, answer), heard)
        return tuple(facts.values())

    def _taken_away(self, found: _Found, words: Sequence[Word]) -> bool:
        """Whether words beside the phrase, in the same part of the sentence, say that something else is meant."""
        near = stood(words, [i for i in _beside(found, words) if i not in found.span])
        return any(next(half_in(half, words, near), None) is not None for half in self._unless[found.phrase.id])


def _texts(knowledge: Knowledge) -> list[str]:
    """Texts of the trade, whose words are spelt right."""
    found = [text for c in knowledge.checks.values() for text in (c.title, c.question, c.purpose, *c.steps)]
    found += [text for c in knowledge.causes.values() for text in (c.title, c.mechanism, c.told_because, *c.tell_tales)]
    found += [c.asks for c in knowledge.complaints.values()]
    results = [r for c in knowledge.checks.values() for r in c.results] + [r for q in knowledge.intake.values() for r in q.results]
    return [*found, *(r.says for r in results)]


def _beside(found: _Found, words: Sequence[Word]) -> Iterator[int]:
    """The words of those parts of sentences in which a phrase stands."""
    parts = {words[i].part for i in found.span}
    return (i for i, word in enumerate(words) if word.part in parts)


def _denied(found: _Found, words: Sequence[Word], others: Sequence[_Found]) -> bool:
    """Whether a word that negates stands beside a phrase, and belongs neither to it nor to another one of other words."""
    own = set(found.span)
    free = own.union(*(f.span for f in others if not own & set(f.span)))
    return any(words[i].negates and i not in free and _reaches(i, found, words) for i in _beside(found, words))


def _reaches(at: int, found: _Found, words: Sequence[Word]) -> bool:
    """Whether a word that negates denies what stands at these words."""
    if at + 1 < len(words) and (words[at].text, words[at + 1].text) in NO_DENIAL:
        return False
    return not words[at].negates_next or any(0 < i - at <= SOON for i in found.span)


def _overruled(found: _Found, others: Sequence[_Found], words: Sequence[Word]) -> bool:
    """Whether another entry is meant in the same sentence."""
    sentences = {words[i].sentence for i in found.span}
    return any(found.phrase.id in o.phrase.instead_of and sentences & {words[i].sentence for i in o.span} for o in others)


def _quote(text: str, words: Sequence[Word], span: Span) -> str:
    """The words from the first to the last of a phrase; what is too long is left out in the middle."""
    whole = text[words[span[0]].start : words[span[-1]].end].replace("\n", " ")
    if len(whole) <= QUOTED:
        return whole
    head = whole[: QUOTED // 2].rsplit(" ", 1)[0]
    return f"{head} ... {whole[-QUOTED // 2 :].split(' ', 1)[-1]}"
