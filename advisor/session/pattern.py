"""A phrase as a pattern of words, and the places in a text where it stands."""

from __future__ import annotations

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
    later = [_by_first(spans) for spans in each[1:]]
    for span in each[0] if all(each) else ():
        yield from _followed(span, span, later, words)


def _followed(whole: Span, before: Span, later: Sequence[Starts], words: Sequence[Word]) -> Iterator[Span]:
    """A first half with every other half that can follow it; `before` is the half found last."""
    if not later:
        yield whole
        return
    for after in _starting(later[0], before[-1] + 1, before[-1] + FAR):
        if words[after[0]].sentence - words[before[-1]].sentence <= 1:
            yield from _followed((*whole, *after), after, later[1:], words)


Starts = Mapping[int, list[tuple[int, Span]]]  # spans by their first word, each with its number among all of them


def _by_first(spans: Iterable[Span]) -> Starts:
    found: dict[int, list[tuple[int, Span]]] = {}
    for number, span in enumerate(spans):
        found.setdefault(span[0], []).append((number, span))
    return found


def _starting(spans: Starts, first: int, last: int) -> list[Span]:
    """The spans that begin between two words, in the order in which they were found. So a long text costs no more a word."""
    return [span for _, span in sorted(one for at in range(first, last + 1) for one in spans.get(at, ()))]


def half_in(half: Half, words: Sequence[Word], places: Places, between: int = BETWEEN) -> Iterator[Span]:
    """The places where a word for each slot stands in one sentence, with few other words among them."""
    options: list[list[Span]] = []
    for slot in half:
        options.append([run for alternative in slot.alternatives for run in _runs(alternative, words, places)])
        if not options[-1]:
            return
    slots = [
        _Choice(slot.after, runs, _by_first(runs), min(map(len, runs)), max(map(len, runs)))
        for slot, runs in zip(half, options, strict=True)
    ]
    seen = set()
    for chosen in _combined(slots, between, ()):
        span = tuple(sorted(i for run in chosen for i in run))
        if span not in seen and words[span[0]].sentence == words[span[-1]].sentence:
            seen.add(span)
            yield span


@dataclass(frozen=True)
class _Choice:
    """Where a word for one slot stands: every place, the same by first word, and the words of the shortest and the longest."""

    after: bool
    runs: Sequence[Span]
    starts: Starts
    shortest: int
    longest: int


def _combined(slots: Sequence[_Choice], between: int, chosen: tuple[Span, ...]) -> Iterator[tuple[Span, ...]]:
    """One place for each slot, no word twice, and no more than `between` words that belong to none."""
    at = len(chosen)
    if at == len(slots):
        yield chosen
        return
    slot, left = slots[at], sum(s.shortest for s in slots[at + 1 :])
    before = [i for run in chosen for i in run]
    room = len(before) + left + between  # words from the first to the last, beside those of this slot
    near = _starting(slot.starts, max(before) + 1 - room - slot.longest, min(before) + room) if before else slot.runs
    for run in near:
        if slot.after and at and run[0] <= chosen[-1][-1]:
            continue
        every = [*before, *run]
        if len(set(every)) == len(every) and max(every) - min(every) + 1 <= len(run) + room:
            yield from _combined(slots, between, (*chosen, run))


def _runs(stems: tuple[str, ...], words: Sequence[Word], places: Places) -> Iterator[Span]:
    """Where these words follow each other."""
    for first in places.get(stems[0], ()) if stems else ():
        run = tuple(range(first, first + len(stems)))
        if run[-1] < len(words) and all(_is(words[i], s) for i, s in zip(run, stems, strict=True)):
            yield run


def _is(word: Word, wanted: str) -> bool:
    return word.text == wanted[1:] if wanted.startswith(EXACT_SIGN) else word.stem == wanted
