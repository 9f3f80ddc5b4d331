"""Every sentence that a user may see can be read by a tired person whose first language is another one."""

from __future__ import annotations

import statistics
from functools import cache

import pytest
from plain_words import LONGEST, Sentence, inverted, sentences


@cache
def found() -> tuple[Sentence, ...]:
    return tuple(sentences())


def test_all_three_kinds_of_text_are_read() -> None:
    """The program, its templates and the knowledge each have their sentences."""
    ends = {s.where.split(":")[0].rsplit(".", 1)[1] for s in found()}
    assert ends == {"py", "j2", "yaml"}
    assert len(found()) > 5000


def test_no_sentence_is_longer_than_twenty_words() -> None:
    """A part up to a full stop, a colon or a semicolon holds one thought; figures and units do not count."""
    assert [(s.where, s.text) for s in found() if len(s.words) > LONGEST] == []


def test_no_sentence_stands_the_wrong_way_round() -> None:
    """No inversion and no word of a riddle."""
    assert [(s.where, s.text) for s in found() if inverted(s)] == []


def test_sentences_are_short_on_average() -> None:
    """Ten words at most."""
    assert statistics.mean(len(s.words) for s in found()) <= 10


@pytest.mark.parametrize(
    "text", ["Were one word wrong, it would still lead.", "Whoever begins must know.", "Hours without it prove nothing."]
)
def test_an_inversion_is_seen(text: str) -> None:
    """What was hard to read before is found."""
    assert inverted(Sentence("here", text))


def test_figures_do_not_make_a_sentence_long() -> None:
    """A list of values has as many words as it has words."""
    assert Sentence("here", "It holds 36 N at AWG 22 and 58.5 N at AWG 20.").words == ["It", "holds", "at", "and", "at"]
