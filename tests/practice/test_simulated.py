"""A simulated machine does what the knowledge says that its hidden fault does, whoever asks and in whatever order."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from builders import small_knowledge, small_machine

from advisor.model.finding import NOT_LISTED, Suspect
from advisor.practice.simulated import a_word_off, draw_suspect, simulate
from advisor.reasoning.likelihoods import Space, space
from advisor.reasoning.ranking import WORDS

COMPLAINT = "motion-without-steering"
SPLICE = Suspect("high-resistance-splice", "splice-7")


def world() -> Space:
    return space(small_knowledge(), small_machine(), COMPLAINT)


def test_faults_are_drawn_by_their_prior_shares() -> None:
    """Over many draws each suspect comes up about as often as its share says."""
    drawn, here = np.random.default_rng(8), world()
    found = Counter(draw_suspect(here, drawn) for _ in range(4000))
    for suspect, share in zip(here.suspects, here.prior, strict=True):
        assert found[suspect] / 4000 == pytest.approx(share, abs=4 * (share * (1 - share) / 4000) ** 0.5 + 1e-3)


def test_a_named_cause_is_drawn_at_one_of_its_places() -> None:
    """Only the places are left to chance, and a cause that cannot bring the complaint is refused."""
    drawn = np.random.default_rng(8)
    assert {draw_suspect(world(), drawn, "poor-terminal-contact").cause for _ in range(20)} == {"poor-terminal-contact"}
    with pytest.raises(ValueError, match="no suspect"):
        draw_suspect(world(), drawn, "magnet-displaced")


@pytest.mark.parametrize("hidden", [SPLICE, Suspect(NOT_LISTED)])
def test_answers_come_as_often_as_the_knowledge_says(hidden: Suspect) -> None:
    """Over many machines with one fault each result of a check has the frequency of its table."""
    here, drawn = world(), np.random.default_rng(4)
    machines = [simulate(here, COMPLAINT, hidden, drawn) for _ in range(400)]
    for check in ("wiggle-harness", "output-sweep"):
        results = [r.id for r in here.knowledge.checks[check].results]
        chances = here.table(check, None)[:, here.suspects.index(hidden)]
        found = Counter(m.result(here.knowledge.checks[check], None, 0, 1.0) for m in machines)
        for result, chance in zip(results, chances, strict=True):
            assert found[result] / 400 == pytest.approx(chance, abs=0.1)


def test_load_tests_read_high_through_the_bad_splice_only() -> None:
    """The runs through a bad splice drop more than those past it, on average over many machines."""
    here, drawn = world(), np.random.default_rng(2)
    through, past = [], []
    for _ in range(60):
        machine = simulate(here, COMPLAINT, SPLICE, drawn)
        for section, reading in machine.readings.items():
            (through if SPLICE.place in section.elements else past).append(reading.reference - reading.loaded)
            assert 0 <= reading.loaded <= reading.reference
    assert np.mean(through) > 3 * np.mean(past)


def test_the_same_stream_makes_the_same_machine() -> None:
    """Two machines from equal random streams are equal in every answer and reading."""
    first, second = (simulate(world(), COMPLAINT, SPLICE, np.random.default_rng(31)) for _ in range(2))
    assert first == second


def test_words_move_by_one_band_or_not_at_all() -> None:
    """With chance 0 no word moves, with chance 1 every word moves by just one band."""
    knowledge = small_knowledge()
    assert a_word_off(knowledge, np.random.default_rng(1), 0.0) == knowledge
    moved = a_word_off(knowledge, np.random.default_rng(1), 1.0)
    for name, check in knowledge.checks.items():
        for cause, words in check.evidence.items():
            for result, word in words.items():
                there = moved.checks[name].evidence[cause][result]
                assert abs(WORDS.index(there) - WORDS.index(word)) == 1


def test_about_as_many_words_move_as_asked() -> None:
    """With chance 0.3 about three words in ten have moved."""
    knowledge = small_knowledge()
    moved = a_word_off(knowledge, np.random.default_rng(5), 0.3)
    pairs = [
        (word, moved.checks[name].evidence[cause][result])
        for name, check in knowledge.checks.items()
        for cause, words in check.evidence.items()
        for result, word in words.items()
    ]
    assert np.mean([a != b for a, b in pairs]) == pytest.approx(0.3, abs=0.15)
