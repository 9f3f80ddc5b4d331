"""A step fits the screen as far as it can, and nothing that warns is lost by it."""

from __future__ import annotations

import re

import pytest
from folders import real_knowledge
from terminal.talk import talk


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def test_a_caution_told_in_full_is_named_after_that_and_can_be_read_again() -> None:
    """The step after tells it by its short name; the word cautions tells it in full."""
    knowledge = real_knowledge()
    said = flat(talk("other confirm-complaint", "back", "other confirm-complaint", "cautions", knowledge=knowledge).printed)
    caution = knowledge.cautions["hands-clear-steering"]
    first, named, again = said.partition("! In force: ")
    assert first.count(caution.says) == 1
    assert caution.name in again.split("(type cautions)")[0]
    assert again.count(f"{caution.says} {caution.why}") == 1
    assert named


def test_a_caution_is_told_in_full_again_after_some_steps() -> None:
    """What was read long ago is not taken for known."""
    knowledge = real_knowledge()
    other = ["other onset", "back"] * 3
    said = flat(talk("other confirm-complaint", *other, "other confirm-complaint", knowledge=knowledge).printed)
    assert said.count(knowledge.cautions["hands-clear-steering"].says) == 2


@pytest.mark.parametrize("width", [40, 80])
def test_more_tells_what_a_short_screen_leaves_out(width: int) -> None:
    """The common mistakes of a long step wait for the word, and its title stands again at the question."""
    knowledge = real_knowledge()
    said = talk("other confirm-complaint", "more", knowledge=knowledge, width=width).printed
    step, _, rest = flat(said).partition("Type more to read them.")
    mistake = knowledge.checks["confirm-complaint"].mistakes[0]
    assert mistake not in step
    assert mistake in rest
    assert rest.strip().startswith(knowledge.checks["confirm-complaint"].title)
