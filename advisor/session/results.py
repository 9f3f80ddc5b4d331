"""A result of a check in a technician's own words: a number, its beginning, or words that say the same. Never a guess."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Sequence
from contextlib import suppress

from advisor.errors import InputError, short
from advisor.model.knowledge import Check, Result
from advisor.model.words import ResultWords
from advisor.session.picking import like, meant, numbered, pick
from advisor.session.spoken import Word, nearest, spoken, stem, words_in


def result_of(check: Check, text: str, words: ResultWords) -> str:
    """The id of the result that is meant. Raises InputError where none or more than one can be.

    A word that says that all is well is never taken for a result that says that something is wrong.
    """
    choices = [(r.id, r.says) for r in check.results]
    said = " ".join(words_in([text]))
    if text in {r.id for r in check.results} or not said or text.replace(" ", "").replace(",", "").isdigit():
        return pick(text, choices)
    if said in words.fine:
        return _all_well(check, text, words)
    try:
        found = [pick(text, choices)]
    except InputError:
        found = _alike(check, said, words.alike)
        if not found:
            raise _misspelt(check, text, words) from None
    well = all(w in words.well for w in said.split())
    if len(found) > 1 or (well and not _normal(check, found[0])):
        raise _which(text, found, choices)
    return found[0]


def _misspelt(check: Check, text: str, words: ResultWords) -> InputError:
    """The refusal of what is no answer, with the one that it is spelt nearly as."""
    choices = [(r.id, r.says) for r in check.results]
    known = [*(text for choice in choices for text in choice), *words.fine, *itertools.chain(*words.alike)]
    vocabulary = sorted(set(words_in(known)))
    typed = list(words_in([text]))
    spelt = [nearest(w, vocabulary) for w in typed]
    near: tuple[str, ...] = like(text, choices)
    if not near and spelt != typed:
        with suppress(InputError):
            near = (result_of(check, " ".join(spelt), words),)
    return InputError(f"'{short(text)}' is not one of the answers", meant(near, choices))


def several(text: str, choices: Sequence[tuple[str, str]]) -> list[str]:
    """The ids of several answers: the words of one, or numbers and words with commas or blanks between. Raises InputError."""
    if not any(c.isdigit() or c == "," for c in text):
        try:
            return [pick(text, choices)]
        except InputError:
            pass
    parts = text.split(",") if "," in text else text.split()
    found: list[str] = []
    for part in (p.strip() for p in parts):
        if not part:
            continue
        numbers = part.split() if all(p.isdigit() for p in part.split()) else [part]
        found += [pick(p, choices) for p in numbers]
    return list(dict.fromkeys(found))


def _normal(check: Check, name: str) -> bool:
    return any(r.normal and r.id == name for r in check.results)


def _all_well(check: Check, text: str, words: ResultWords) -> str:
    """The normal result, where it says that all is well; one that says 'no change' may mean either."""
    found = next((r for r in check.results if r.normal), None)
    if found is None or found.id not in words.fine_results:
        hint = f"Type a number from 1 to {len(check.results)}, or the first words of an answer."
        raise InputError(f"'{short(text)}' does not tell which of the answers is meant", hint)
    return found.id


def _alike(check: Check, said: str, groups: Sequence[Collection[str]]) -> list[str]:
    """The results that hold a word of the same meaning, not denied there."""
    runs = [tuple(stem(w) for w in other.split()) for group in groups if said in group for other in group]
    return [r.id for r in check.results if any(_says(r, run) for run in runs)]


def _says(result: Result, run: tuple[str, ...]) -> bool:
    """Whether a result says these words, in its id or, not denied, in its text."""
    if tuple(stem(w) for w in words_in([result.id])) == run:
        return True
    text = spoken(result.says, (), ())
    places = [i for i in range(len(text)) if tuple(w.stem for w in text[i : i + len(run)]) == run]
    return any(not _denied(text, range(i, i + len(run))) for i in places)


def _denied(text: Sequence[Word], run: range) -> bool:
    return any(w.negates and i not in run and w.part == text[run[0]].part for i, w in enumerate(text))


def _which(text: str, found: Sequence[str], choices: Sequence[tuple[str, str]]) -> InputError:
    """The refusal that names what can be meant."""
    numbers = numbered(found, choices)
    if len(found) > 1:
        return InputError(f"'{short(text)}' fits more than one answer: {numbers}", "Type one of these numbers.")
    says = dict(choices)[found[0]]
    return InputError(f"'{short(text)}' can mean something else than answer {numbers}: {says}", f"Type {numbers} if it is meant.")
