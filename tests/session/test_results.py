"""Results in a technician's own words: what is meant is taken, what can mean two things is asked, what is well is never a fault."""

from __future__ import annotations

import pytest
from builders import small_knowledge
from folders import real_knowledge
from terminal.talk import talk

from advisor.errors import InputError
from advisor.model.case import Answered, Corrected
from advisor.model.knowledge import Knowledge
from advisor.model.stage import ASK
from advisor.session.results import result_of, several

WORDS = real_knowledge().words.result_words
DONE = [c for c in real_knowledge().checks.values() if c.stage != ASK]


def taken(check: str, text: str) -> str:
    return result_of(real_knowledge().checks[check], text, WORDS)


@pytest.mark.parametrize(
    ("check", "text", "result"),
    [
        ("coupling-grip", "1", "slips"),
        ("coupling-grip", "wobbles", "slips"),
        ("coupling-grip", "Loose!", "slips"),
        ("coupling-grip", "ok", "tight"),
        ("coupling-grip", "it is tight", "tight"),
        ("shake-steered-wheels", "knocks", "play"),
        ("contact-face-look", "rusty", "corroded"),
        ("fuse-and-holder", "all good", "sound"),
        ("seals-and-plugs", "damp", "wet-or-greased"),
        ("wiggle-harness", "nothing happens", "no-change"),
        ("dried-overnight", "gone", "gone"),
        ("bus-pair-ohms", "fine", "normal"),
    ],
)
def test_a_word_that_says_the_same_is_taken(check: str, text: str, result: str) -> None:
    """A number, the beginning, and a word of the same meaning."""
    assert taken(check, text) == result


@pytest.mark.parametrize(
    ("check", "text"),
    [
        ("water-in-sensor", "damp"),  # the sensor, or the plug
        ("sensor-bracket-push", "loose"),  # the bracket, or the sensor on it
        ("wiggle-harness", "ok"),  # no reaction, or found the place
        ("guidance-off-repeat", "good"),  # it stays away with guidance off, or nothing is wrong with guidance
        ("oil-sample-compared", "right"),  # "Right and dry, but dirtier ..."
        ("coupling-grip", "not ok"),
        ("coupling-grip", "not loose"),
        ("coupling-grip", "no idea"),
        ("coupling-grip", "3"),
        ("coupling-grip", "1/2"),
    ],
)
def test_what_can_mean_two_things_is_asked(check: str, text: str) -> None:
    """It is refused with the numbers to type, and nothing is guessed."""
    with pytest.raises(InputError) as refused:
        taken(check, text)
    assert any(c.isdigit() for c in refused.value.what + refused.value.hint)


@pytest.mark.parametrize("text", [*WORDS.fine, *WORDS.well])
def test_a_word_for_all_is_well_never_stands_for_a_fault(text: str) -> None:
    """Over every check: it gives the normal result or is refused; only the very id of a result is that result."""
    wrong = []
    for check in DONE:
        try:
            found = result_of(check, text, WORDS)
        except InputError:
            continue
        if found != text and not any(r.normal and r.id == found for r in check.results):
            wrong.append((check.id, found))
    assert wrong == []


def test_every_result_is_chosen_by_its_number_its_id_and_its_words() -> None:
    """What the list shows can be typed as it stands, or by its number."""
    for check in DONE:
        for number, result in enumerate(check.results, 1):
            assert result_of(check, str(number), WORDS) == result.id
            assert result_of(check, result.id, WORDS) == result.id
            if result.says.lower() not in WORDS.well:
                assert result_of(check, result.says, WORDS) == result.id


def test_several_answers_are_numbers_or_words() -> None:
    """Blanks part numbers, commas part words; the words of one answer are one answer."""
    pairs = (("wet", "Rain or wet ground brings it"), ("dry", "It comes in dry weather too"), ("washed", "After a wash"))
    assert several("1 2", pairs) == ["wet", "dry"]
    assert several("1,2", pairs) == ["wet", "dry"]
    assert several("after a wash", pairs) == ["washed"]
    assert several("rain, dry weather", pairs) == ["wet", "dry"]
    assert several("2 2", pairs) == ["dry"]


def with_words() -> Knowledge:
    """The small knowledge with the words of the real one."""
    words = small_knowledge().words.model_copy(update={"result_words": WORDS})
    return small_knowledge().model_copy(update={"words": words})


def test_what_was_understood_is_said() -> None:
    """A word that stands for a result shows which."""
    said = talk("other coupling-grip", "wobbles", knowledge=with_words())
    assert next(e for e in said.stored if isinstance(e, Answered)).result == "slips"
    assert "Taken as: " in said.printed


def test_an_answer_of_several_is_corrected_with_several() -> None:
    """The list of a correction takes what the question takes."""
    said = talk("other when", "1 2", "correct when = 2 3", knowledge=real_knowledge())
    corrected = [e.by for e in said.stored if isinstance(e, Corrected)]
    assert [(c.result, c.also) for c in corrected if isinstance(c, Answered)] == [("slow-work", ("road",))]


def test_a_misspelt_word_names_the_result_that_it_comes_near() -> None:
    """It is not taken: the number to type stands in the refusal."""
    for typed in ("wobbels", "slipps", "rokcs"):
        with pytest.raises(InputError, match="is not one of the answers") as refused:
            taken("coupling-grip", typed)
        assert "Type 1 for: It turns or rocks on the stem." in refused.value.hint


def test_correct_takes_the_number_of_its_list_and_that_of_the_whole_case() -> None:
    """Where the two numberings mean two answers, both are offered."""
    said = talk("other coupling-grip", "1", "correct 1", "ok", knowledge=with_words())
    by = [e.by for e in said.stored if isinstance(e, Corrected)]
    assert [b.result for b in by if isinstance(b, Answered)] == ["tight"]
    assert "Taken as: It is tight." in said.printed
    assert "there is no answer 77" in talk("other coupling-grip", "1", "correct 77").printed
    told = talk("other coupling-grip", "1", "correct", "back").printed
    assert "Grip of the coupling on the sensor stem: It turns or rocks" in " ".join(told.split())
