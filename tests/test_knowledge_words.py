"""The knowledge is written in common words and in words that it tells itself."""

from __future__ import annotations

import statistics

import pytest
from folders import real_knowledge
from knowledge_words import lengths, stems, unknown

OFTEN = 15  # a word that stands so often must be on one of the two lists


def test_every_word_that_stands_often_is_common_or_told() -> None:
    """Who meets a word again and again finds it in the glossary, where it is not among the common words of English."""
    assert [word for word, times in unknown(real_knowledge()).items() if times >= OFTEN] == []


def test_sentences_of_the_knowledge_are_short_on_average() -> None:
    """Sixteen words at most."""
    assert statistics.mean(lengths(real_knowledge())) <= 16


@pytest.mark.parametrize(
    ("word", "stem"),
    [("tightened", "tighten"), ("plugging", "plug"), ("maker's", "maker"), ("wipes", "wipe"), ("dirtier", "dirty")],
)
def test_an_ending_makes_no_other_word(word: str, stem: str) -> None:
    """A word with an ending is known by the word without it."""
    assert stem in stems(word)


def test_a_word_that_is_on_neither_list_is_found() -> None:
    """A rare word in a text is counted, with how often it stands there."""
    k = real_knowledge()
    check = k.checks["coupling-grip"].model_copy(update={"purpose": "Shows a sesquipedalian drive, sesquipedalian or not."})
    found = unknown(k.model_copy(update={"checks": {**k.checks, check.id: check}}))
    assert found["sesquipedalian"] == 2
