"""How alike two cases are: shared answers, each weighed by what it is worth as evidence."""

from __future__ import annotations

import math

import pytest
from builders import small_knowledge

from advisor.experience.alike import likeness, weights

WORTH = {("a", "x"): 3.0, ("a", "y"): 4.0, ("b", "x"): 12.0, ("c", "x"): 1.0}


def test_the_same_answers_are_fully_alike_and_none_shared_not_at_all() -> None:
    """One, zero, and never more; the order of the two does not matter."""
    one, other = {("a", "x"), ("b", "x")}, {("a", "y"), ("c", "x")}
    assert likeness(one, one, WORTH) == pytest.approx(1)
    assert likeness(one, other, WORTH) == 0
    mixed = {("a", "x"), ("c", "x")}
    assert likeness(one, mixed, WORTH) == likeness(mixed, one, WORTH) == pytest.approx(9 / math.sqrt(153 * 10))


def test_a_telling_answer_counts_more() -> None:
    """Sharing what is worth 12 decibans is more than sharing what is worth one."""
    mine = {("a", "x"), ("b", "x"), ("c", "x")}
    assert likeness(mine, {("b", "x"), ("a", "y")}, WORTH) > likeness(mine, {("c", "x"), ("a", "y")}, WORTH)


def test_answers_that_tell_nothing_make_nothing_alike() -> None:
    """An answer without a weight counts for neither; a case with no other answer is like none."""
    assert likeness({("z", "x")}, {("z", "x")}, WORTH) == 0
    assert likeness({("a", "x"), ("z", "x")}, {("a", "x")}, WORTH) == pytest.approx(1)


def test_weights_are_the_largest_change_of_odds() -> None:
    """In decibans, from the words of the rows; an answer as likely with every cause has none."""
    worth, used = weights(small_knowledge()), {w: b.used for w, b in small_knowledge().words.probability.items()}
    slips = 10 * math.log10(used["very-likely"] / used["almost-no-chance"])
    assert worth["coupling-grip", "slips"] == pytest.approx(slips)
    assert worth["coupling-grip", "slips"] > worth["coupling-grip", "tight"]
    assert all(w > 0 for w in worth.values())
