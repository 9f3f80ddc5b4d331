"""Checks, causes and tools are found by words, and answers of the intake are corrected at any time."""

from __future__ import annotations

import pytest
from builders import small_knowledge
from terminal.talk import talk

from advisor.model.case import Corrected, Limited, Skipped, Told, fold
from advisor.session.search import found

CHECKS = {
    "coupling-grip": "Grip of the coupling on the sensor stem",
    "wiggle-harness": "Move the harness while somebody watches",
    "visual-harness": "Look at the harness",
}


@pytest.mark.parametrize(
    ("typed", "names"),
    [
        ("coupling-grip", ("coupling-grip",)),
        ("coupling grip", ("coupling-grip",)),
        ("Grip of the coupling on the sensor stem", ("coupling-grip",)),
        ("stem coupl", ("coupling-grip",)),
        ("cupling gripp", ("coupling-grip",)),
        ("hydraulic oil", ()),
    ],
)
def test_an_entry_is_found_by_id_by_words_and_misspelt(typed: str, names: tuple[str, ...]) -> None:
    """Case, hyphens, order and a slip of the finger do not matter; what is nothing like it is not taken."""
    assert found(typed, CHECKS) == names


def test_what_can_mean_two_is_offered_and_not_guessed() -> None:
    """Both are named."""
    assert set(found("harness", CHECKS)) == {"wiggle-harness", "visual-harness"}


def test_other_chooses_from_a_numbered_list() -> None:
    """No id has to be known: a system by number, a check by number, and it is asked."""
    said = talk("other", "2", "1").printed
    assert "Which step instead?" in said
    assert "Type its number." in said


def test_other_finds_a_check_by_words() -> None:
    """The words of its title are enough."""
    said = talk("other grip coupling").printed
    assert said.rstrip().endswith("help]")
    assert small_knowledge().checks["coupling-grip"].title in said.rsplit("-- Next", 1)[1]


def test_a_tool_is_missing_in_words_without_its_hyphen() -> None:
    """`missing load resistor` is the tool `load-resistor`."""
    events = talk("missing load resistor").stored
    assert [e.what for e in events if isinstance(e, Limited)] == ["load-resistor"]


def test_skip_takes_words_and_a_reason() -> None:
    """Another check than the one asked is left out by its words."""
    events = talk("skip grip coupling why no time").stored
    assert [(e.check, e.why) for e in events if isinstance(e, Skipped)] == [("coupling-grip", "no time")]


def test_an_answer_of_the_intake_is_corrected_later() -> None:
    """It is asked again, written down, and the case counts with the new answer."""
    said = talk("correct how many times", "9", "note still here")
    assert [(e.question, e.number) for e in said.stored if isinstance(e, Told)] == [("occurrences", 9)]
    opened = fold(said.case).opened
    assert opened is not None
    assert opened.occurrences == 9


def test_correct_alone_lists_the_answers_and_asks_the_chosen_one_again() -> None:
    """First its number, then the right answer."""
    said = talk("other coupling-grip", "slips", "correct", "1", "tight")
    assert [e.by.result for e in said.stored if isinstance(e, Corrected) if e.by.event == "answered"] == ["tight"]


def test_back_returns_to_the_question_that_was_taken_back() -> None:
    """The next digit answers that one and no other."""
    said = talk("other coupling-grip", "slips", "back", "2")
    answers = fold(said.case).answers
    assert [(a.check, a.result) for a in answers.values()] == [("coupling-grip", "tight")]


@pytest.mark.parametrize("word", ["why", "help", "note seen in rain"])
def test_a_prompt_inside_a_step_knows_the_words_too(word: str) -> None:
    """At the count after a run each word is answered, and the count is asked again."""
    said = talk("run 6,5 hours", word, "0")
    assert [e.event for e in said.stored if e.event == "ran"] == ["ran"]


def test_back_inside_a_step_leaves_it_as_it_was() -> None:
    """Hours typed by mistake are not stored."""
    said = talk("run 65", "back", "note x")
    assert [e.event for e in said.stored] == ["opened", "noted"]


def test_hours_are_said_back_as_they_were_understood() -> None:
    """Two days count sixteen hours of work, and that is said before anything is built on it."""
    assert "Taken as 16 hours." in talk("run 2 days", "0").printed


def test_a_word_that_is_no_answer_asks_for_a_number_of_the_list() -> None:
    """No id of another answer is thrown at somebody who typed something else."""
    said = talk("other coupling-grip", "banana").printed
    assert "Type a number from 1 to 2" in said
    assert "Known:" not in said


def test_back_twice_takes_back_two_answers() -> None:
    """The second goes on from the first."""
    said = talk("other coupling-grip", "slips", "skip", "back", "back")
    state = fold(said.case)
    assert (state.answers, state.skipped) == ({}, {})


def test_the_complaint_is_corrected_later_and_what_comes_first_with_it_is_said() -> None:
    """The case goes on with the other complaint; back leaves it as it was."""
    knowledge = small_knowledge()
    other = list(knowledge.complaints)[-1]
    said = talk("correct complaint", other)
    opened = fold(said.case).opened
    assert opened is not None
    assert opened.complaint == other
    assert knowledge.complaints[other].first.split(".")[0] in " ".join(said.printed.split())
    kept = fold(talk("correct complaint", "back").case).opened
    assert kept is not None
    assert kept.complaint == "motion-without-steering"


def test_a_misspelt_word_of_a_title_is_offered_and_not_taken() -> None:
    """Nothing is stored before its number was typed."""
    said = talk("skip cuplng", "back")
    assert "Which check?" in said.printed
    assert not any(isinstance(e, Skipped) for e in said.stored)


def test_a_load_test_is_chosen_by_number() -> None:
    """First the circuit, then from where to where; what was typed of it narrows the lists."""
    said = talk("other load-test", "1", "1").printed
    assert "Which circuit?" in said
    assert "From where to where?" in said
    assert "reference volts, then loaded volts?" in said
    assert "Which circuit?" not in talk("other load test supply-a", "1").printed


def test_a_run_without_hours_says_how_it_is_typed() -> None:
    """The refusal holds an example of this very word."""
    assert "run 6.5 h" in talk("run").printed
