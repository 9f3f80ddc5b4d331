"""A phrase as a pattern of words, and the places in a text where it stands."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from advisor.session.spoken import Word, stem, words_in

BETWEEN = 3  # other words that may stand among those of a phrase, where it says nothing else; a judgement, no source
FAR = 30  # words from one half of a phrase to the other; a judgement, no source
FAR_SIGN, ORDER_SIGN, EXACT_SIGN = "...", ">", "="

Span = tuple[int, ...]  # the numbers of the words that a phrase was found in
Places = Mapping[str, list[int]]  # where each stem, and each exact word after the sign, stands


@dataclass(frozen=True)
class Slot:
    """One word of a phrase: what may stand for it, each of one word or more; `after`: it comes after the slot before."""

    alternatives: tuple[tuple[str, ...], ...]
    after: bool


Half = tuple[Slot, ...]


def compiled(text: str, groups: Mapping[str, Sequence[str]]) -> tuple[Half, ...]:
    """The halves of a phrase, in their order."""
    return tuple(_half(half, groups) for half in text.split(FAR_SIGN))


def _half(text: str, groups: Mapping[str, Sequence[str]]) -> Half:
    slots, after = [], False
    for word in text.split():
        if word == ORDER_SIGN:
            after = True
            continue
        alternatives: list[tuple[str, ...]] = []
        for one in word.split("/"):
            named = groups.get(one[1:-1], ()) if one.startswith("<") and one.endswith(">") else (one,)
            alternatives += [_run(a) for a in named]
        slots.append(Slot(tuple(dict.fromkeys(alternatives)), after))
        after = False
    return tuple(slots)


def _run(text: str) -> tuple[str, ...]:
    """Words that follow each other, as stems or, after the sign, in just this form."""
    if text.startswith(EXACT_SIGN):
        return tuple(EXACT_SIGN + w for w in words_in([text]))
    return tuple(stem(w) for w in words_in([text]))


def stood(words: Sequence[Word], numbers: Iterable[int]) -> Places:
    """Where the stem and the exact form of each of these words stand."""
    found: dict[str, list[int]] = {}
    for i in numbers:
        found.setdefault(words[i].stem, []).append(i)
        found.setdefault(EXACT_SIGN + words[i].text, []).append(i)
    return found


def halves_in(halves: Sequence[Half], words: Sequence[Word], places: Places, between: int) -> Iterator[Span]:
    """Every place where all halves stand in their order."""
    each = [list(half_in(half, words, places, between)) for half in halves]
    for chosen in itertools.product(*each):
        if all(_follows(words, before, after) for before, after in itertools.pairwise(chosen)):
            yield tuple(i for span in chosen for i in span)


def _follows(words: Sequence[Word], before: Span, after: Span) -> bool:
    gap = after[0] - before[-1]
    return 0 < gap <= FAR and words[after[0]].sentence - words[before[-1]].sentence <= 1


def half_in(half: Half, words: Sequence[Word], places: Places, between: int = BETWEEN) -> Iterator[Span]:
    """The places where a word for each slot stands in one sentence, with few other words among them."""
    options = [[run for alternative in slot.alternatives for run in _runs(alternative, words, places)] for slot in half]
    if not all(options):
        return
    seen = set()
    for chosen in _combined(half, options, between, ()):
        span = tuple(sorted(i for run in chosen for i in run))
        if span not in seen and words[span[0]].sentence == words[span[-1]].sentence:
            seen.add(span)
            yield span


def _combined(half: Half, options: list[list[Span]], between: int, chosen: tuple[Span, ...]) -> Iterator[tuple[Span, ...]]:
    """One place for each slot, no word twice, and no more than `between` words that belong to none."""
    at = len(chosen)
    if at == len(options):
        yield chosen
        return
    left = sum(min(len(r) for r in option) for option in options[at + 1 :])
    for run in options[at]:
        if half[at].after and at and run[0] <= chosen[-1][-1]:
            continue
        every = [i for other in (*chosen, run) for i in other]
        if len(set(every)) == len(every) and max(every) - min(every) + 1 <= len(every) + left + between:
            yield from _combined(half, options, between, (*chosen, run))


def _runs(stems: tuple[str, ...], words: Sequence[Word], places: Places) -> Iterator[Span]:
    """Where these words follow each other."""
    for first in places.get(stems[0], ()) if stems else ():
        run = tuple(range(first, first + len(stems)))
        if run[-1] < len(words) and all(_is(words[i], s) for i, s in zip(run, stems, strict=True)):
            yield run


def _is(word: Word, wanted: str) -> bool:
    return word.text == wanted[1:] if wanted.startswith(EXACT_SIGN) else word.stem == wanted
