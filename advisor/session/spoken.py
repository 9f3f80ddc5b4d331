"""What somebody said, as words with their place in the text: sentences, parts of sentences, stems and near spellings."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cache

# Words that turn what is said into its opposite, as stems would hide them.
DENIES_ALL = frozenset({  # the whole part of the sentence
    "not", "never", "nobody", "none", "nothing", "nowhere", "cannot", "hardly", "seldom", "rarely", "dont", "doesnt", "didnt",
    "isnt", "wasnt", "arent", "werent", "hasnt", "havent", "hadnt", "wont", "cant", "couldnt",
})  # fmt: skip
DENIES_NEXT = frozenset({"no", "without", "neither", "nor"})  # only what comes soon after it
NEGATIONS = DENIES_ALL | DENIES_NEXT
_WORD = re.compile(r"[^\W_]+(?:['\u2019][^\W_]+)*")
_SENTENCE = re.compile(r"[.!?\n]")
_PART = re.compile(r"[,;:()\u2013\u2014]|\s-\s")
_TURNS = frozenset({"but", "however", "though", "although", "because", "while", "whereas"})  # another part of the sentence begins
_SPELT_FROM = 5  # letters from which on a word may be misspelt; shorter ones have too many neighbours
_TWO_SLIPS_FROM = 9


@dataclass(frozen=True)
class Word:
    """One word: its stem, where it stands in the text, and in which sentence and part of a sentence."""

    text: str
    stem: str
    start: int
    end: int
    sentence: int
    part: int

    @property
    def negates(self) -> bool:
        return self.text in NEGATIONS or self.text.endswith("n't")

    @property
    def negates_next(self) -> bool:
        """Whether it denies only what comes soon after it."""
        return self.text in DENIES_NEXT


@cache
def stem(word: str) -> str:
    """A word without its ending: renewed, renews and renewing are one."""
    return _stemmer()(word)


@cache
def _stemmer() -> Callable[[str], str]:
    import snowballstemmer

    found: Callable[[str], str] = snowballstemmer.stemmer("english").stemWord
    return found


def spoken(text: str, known: Collection[str], wanted: Sequence[str]) -> tuple[Word, ...]:
    """The words of a text in order.

    `known` are words that are spelt right; any other is read as the nearest of `wanted` when it is near enough.
    """
    found = []
    sentence = part = 0
    last = 0
    for match in _WORD.finditer(text):
        between = text[last : match.start()]
        said = match.group().lower().replace("\u2019", "'")
        if last and _SENTENCE.search(between):
            sentence, part = sentence + 1, part + 1
        elif _PART.search(between) or said in _TURNS:
            part += 1
        last = match.end()
        spelt = said if said in known or said in NEGATIONS else nearest(said, wanted)
        found.append(Word(said if spelt == said else spelt, stem(spelt), match.start(), match.end(), sentence, part))
    return tuple(found)


def nearest(word: str, wanted: Sequence[str]) -> str:
    """The wanted word that a misspelt one stands for: the same first letter, one slip, or two in a long word."""
    if len(word) < _SPELT_FROM or word in wanted:
        return word
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    slips = 1 if len(word) < _TWO_SLIPS_FROM else 2
    near = [w for w in wanted if w[0] == word[0] and abs(len(w) - len(word)) <= slips and len(w) >= _SPELT_FROM - 1]
    best = process.extractOne(word, near, scorer=OSA.distance, score_cutoff=slips)
    return word if best is None else str(best[0])


def words_in(texts: Collection[str]) -> Iterator[str]:
    """Every word of some texts, in small letters."""
    for text in texts:
        for match in _WORD.finditer(text):
            yield match.group().lower()
