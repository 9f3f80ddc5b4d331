"""The facts in what somebody said: misspelt, in another order, denied, before and after."""

from __future__ import annotations

import sys
from functools import cache

import pytest
from folders import real_knowledge

from advisor.session.hearing import Ear


@cache
def ear() -> Ear:
    return Ear(real_knowledge())


def facts(text: str) -> dict[str, str]:
    """Each fact heard as question:answer, with the words it was found in."""
    return {f"{f.question}:{f.answer}": f.words for f in ear().hear(text)}


@pytest.mark.parametrize(
    ("text", "fact", "words"),
    [
        ("It only does it at full left lock.", "at-position:full-left", "full left"),
        ("They put a new sensor in.", "tried:sensor-replaced", "new sensor"),
        ("They put a new snesor in.", "tried:sensor-replaced", "new snesor"),
        ("The plugs we have cleaned.", "tried:plugs-cleaned", "plugs we have cleaned"),
        ("we claened both plugs", "tried:plugs-cleaned", "claened both plugs"),
        ("It came the morning after we washed it", "weather:after-washing", "after we washed"),
        ("Comes in frost, at minus ten.", "temperature:cold", "minus ten"),
        ("Track B is the one.", "track-named:b", "Track B"),
    ],
)
def test_a_fact_is_found_with_the_words_it_stands_in(text: str, fact: str, words: str) -> None:
    """Other endings, another order and a slip of the fingers are forgiven; the words are quoted as they were typed."""
    assert facts(text)[fact] == words


@pytest.mark.parametrize(
    ("text", "fact"),
    [
        ("It is not after washing.", "weather:after-washing"),
        ("Nobody washed it before it came.", "weather:after-washing"),
        ("It came long before we washed it.", "weather:after-washing"),
        ("We never cleaned the plugs.", "tried:plugs-cleaned"),
        ("No new sensor was fitted.", "tried:sensor-replaced"),
        ("Without guidance it is the same.", "guidance-fitted:yes"),
        ("On the road it is fine.", "when:road"),
        ("It didn't come on the road.", "when:road"),
        ("By hand it drives straight.", "when:hand-steering"),
    ],
)
def test_what_is_denied_is_not_heard(text: str, fact: str) -> None:
    """A word that negates, or says that all is well there, takes the fact away."""
    assert fact not in facts(text)


def test_a_word_that_negates_reaches_its_own_part_of_the_sentence() -> None:
    """After a comma or a full stop, what was denied before is denied no longer."""
    assert "tried:plugs-cleaned" in facts("Nobody washed it, we cleaned the plugs.")
    assert "tried:plugs-cleaned" in facts("We cleaned the plugs and it did not help.")
    assert "when:guidance-on" in facts("It is there not only with guidance on.")


def test_hot_or_cold_is_no_difference_and_neither_of_both() -> None:
    """An entry that stands instead of others keeps them out of its sentence, and of no other."""
    told = facts("It comes hot or cold, wet or dry.")
    assert {"temperature:no-difference", "weather:dry", "weather:wet"} <= told.keys()
    assert not {"temperature:hot", "temperature:cold"} & told.keys()


def test_work_before_the_fault_is_told_from_work_against_it() -> None:
    """A sensor that was renewed before it began is no sensor that was tried."""
    before = facts("Since the sensor was replaced it reads high.")
    after = facts("It reads high. The sensor was replaced, no help.")
    assert "recent-work:sensor-replaced" in before
    assert "tried:sensor-replaced" not in before
    assert "tried:sensor-replaced" in after
    assert "recent-work:sensor-replaced" not in after


def test_a_word_that_is_spelt_right_is_never_read_as_another() -> None:
    """'Whether' and 'later' stay what they are, however near they come to a word of a phrase."""
    assert facts("Later I saw the leaned post whether or not.") == {}


@pytest.mark.parametrize(
    ("text", "fact"),
    [
        ("The joint was changed.", "work-before:joints-or-axle"),
        ("They swapped the box.", "recent-work:controller-replaced"),
        ("New loom in March.", "recent-work:harness-repair"),
        ("The ram was rebuilt.", "recent-work:hydraulic-work"),
        ("He backed it into a tree.", "onset:after-knock"),
    ],
)
def test_a_known_fact_is_heard_in_the_short_way_that_people_say_it(text: str, fact: str) -> None:
    """Nobody says ball joint or control unit to a colleague."""
    assert fact in facts(text)


@pytest.mark.parametrize(
    "text",
    [
        "The fuse box was swapped.",
        "The gear box was changed.",
        "Nobody changed the joint.",
        "Battery died, so we jump started it. New tool box.",
    ],
)
def test_the_same_short_words_of_other_things_are_not_heard(text: str) -> None:
    """A box can be of tools, and a start is no jump of the reading."""
    wrong = {"controller-replaced", "joints-or-axle", "jumps"}
    assert not wrong & {fact.split(":")[1] for fact in facts(text)}


@pytest.mark.parametrize("text", ["", "???", "12 34", "x" * 3000, "not " * 700])
def test_any_text_is_heard(text: str) -> None:
    """Nothing typed makes the ear fail, and what says nothing gives no fact."""
    assert facts(text) == {}


def test_a_long_quotation_is_shortened_in_its_middle() -> None:
    """What stands between the two halves of a phrase is left out of the words shown."""
    text = "A new sensor was fitted by the young man of the dealer in the big yard behind the hill. Since then it reads high."
    words = facts(text)["recent-work:sensor-replaced"]
    assert words.startswith("new sensor")
    assert " ... " in words
    assert words.endswith("Since then")


def test_a_long_story_costs_no_more_a_word_than_a_short_one() -> None:
    """Words of a phrase said over and over: three times the words are about three times the work, counted in calls."""

    def calls(text: str) -> int:
        found = 0

        def count(*_: object) -> None:
            nonlocal found
            found += 1

        sys.setprofile(count)
        try:
            ear().hear(text)
        finally:
            sys.setprofile(None)
        return found

    for said in ("full left ", "no ", "new sensor not "):
        calls(said)  # what is loaded late is loaded now
        assert calls(said * 180) < 5 * calls(said * 60)


def test_so_many_letters_are_heard_and_no_more() -> None:
    """A file pasted by mistake keeps nobody waiting; what stands at its beginning is heard."""
    assert "at-position:full-left" in facts("It is at full left. " + "x " * 1450 + "They put a new sensor in.")
    assert facts("They put a new sensor in. " + "ho hum. " * 200_000 + "It is at full left.").keys() == {"tried:sensor-replaced"}
