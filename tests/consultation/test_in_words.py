"""Sentences about how a machine stands, what a safety rule watches, and what a reading says."""

from __future__ import annotations

import pytest
from builders import small_knowledge, told, trade_knowledge

from advisor.consultation.intake_words import NOT_KNOWN, told_says
from advisor.consultation.reading_words import reading_lines
from advisor.consultation.stand_words import doing_words, needs
from advisor.model.case import CODES, COMPLAINT, HOURS, LAYOUT, OCCURRENCES, Told, fold
from advisor.model.machine import GENERIC_LAYOUTS
from advisor.model.states import Doing


@pytest.mark.parametrize(
    ("doing", "at", "says"),
    [
        (None, (), "whatever is done"),
        (None, ("first",), "whatever is done"),
        (Doing(steers=True), (), "somebody steers"),
        (Doing(hands=("hinge",)), (), "hands are at the hinge"),
        (Doing(hands=("hinge", "drive"), loads=True), (), "hands are at the hinge or drive or a load is put on a circuit"),
        (Doing(opens_plug=True), ("first", "last"), "a plug is opened or closed, at the controller or at the sensor"),
    ],
)
def test_what_a_safety_rule_watches_is_said(doing: Doing | None, at: tuple[str, ...], says: str) -> None:
    """Hands only where there are some, and where only where that is asked."""
    assert doing_words(doing, at) == says


def test_what_a_step_needs_is_said() -> None:
    """Each variable by the words of its values; a plug by which one it is."""
    k = small_knowledge()
    assert needs(k, {"key": ["out"]}) == "key out"
    assert needs(k, {"key": ["out", "on"], "stand": ["blocked"]}) == (
        "key out or key on, engine off; machine blocked against rolling and folding"
    )
    assert needs(k, {"sensor-plug": ["apart"]}) == "sensor plug: plug apart"
    assert needs(trade_knowledge(), {}) == ""


def test_a_reading_is_told_with_its_limit_and_how_far_the_meter_can_be_off() -> None:
    """The uncertainty is twice the standard one."""
    line = {"reading": "load-test", "circuit": "supply-a", "from": "controller", "to": "sensor", "reference": 23.7, "loaded": 22.1}
    consultation, case = told(line)
    state = fold(case)
    judged = consultation.judged(state)[-1]
    first, second, *rest = reading_lines(consultation, state)
    assert first.startswith(f"23.70 V - 22.10 V = 1.60 V dropped, {judged.limit_volts:.2f} V allowed")
    assert second.startswith("Over the limit; ")
    assert second.endswith(f"The meter can be {2 * judged.standard_uncertainty:.2f} V off (about 95 %).")
    assert judged.standard_uncertainty < 0.5
    assert rest
    assert not any("stands out" in text for text in rest)


def test_a_reading_that_stands_out_among_its_kind_is_told_when_it_is_the_newest() -> None:
    """Four circuits over one run; only the newest reading's own sentence is said."""
    lines = [
        {"reading": "load-test", "circuit": circuit, "from": "bulkhead", "to": "sensor", "reference": 23.7, "loaded": loaded}
        for circuit, loaded in (("supply-b", 23.6), ("ground-a", 23.6), ("signal-a", 23.6), ("supply-a", 22.1))
    ]
    for order, stands_out in ((lines, True), (lines[::-1], False)):
        consultation, case = told(*order)
        said = " ".join(reading_lines(consultation, fold(case)))
        assert ("This one stands out." in said) == stands_out, said


@pytest.mark.parametrize(
    ("question", "words", "number", "says"),
    [
        ("recent-work", ("nothing",), None, "Nothing"),
        ("recent-work", ("harness-repair", "sensor-replaced"), None, "The harness was repaired; The sensor was replaced"),
        ("temperature", (), None, NOT_KNOWN),
        (CODES, (), None, "none"),
        (CODES, ("522990/10",), None, "522990/10"),
        (OCCURRENCES, (), 6.0, "6"),
        (HOURS, (), 12.5, "12.5"),
        (LAYOUT, ("no-such",), None, NOT_KNOWN),
        (LAYOUT, (next(iter(GENERIC_LAYOUTS)),), None, next(iter(GENERIC_LAYOUTS.values()))),
        (COMPLAINT, ("reads-low",), None, "Position reads below its range"),
    ],
)
def test_what_was_told_is_said_in_the_words_of_its_question(
    question: str, words: tuple[str, ...], number: float | None, says: str
) -> None:
    """A number as it was typed, answers by their words, and what was not told as that."""
    assert told_says(small_knowledge(), Told(question=question, words=words, number=number)) == says
