"""Which checks tell causes apart, by how much, and which raise a cause among those of its complaint."""

from __future__ import annotations

import itertools
import math

import pytest
from folders import real_knowledge
from hypothesis import given, settings
from worlds import COMPLAINT, cause, check, knowledge, spaces

from advisor.evidence.rows import OTHERWISE, row, word_values
from advisor.evidence.separation import SEPARATING, Separation, Telling
from advisor.model.knowledge import Complaint, Knowledge
from advisor.reasoning.likelihoods import Space

GEAR = cause("gear", proof={"tap": "bad"})
SPRING = cause("spring", proof={"pull": "bad"})
TRACK = cause("track", frequency="common")
TAP = check("tap", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}})
PULL = check("pull", {"spring": {"bad": "almost-certain"}, OTHERWISE: {"bad": "very-unlikely"}})


def known(*checks: object, causes: tuple[object, ...] = (GEAR, SPRING, TRACK)) -> Knowledge:
    whole = knowledge(causes, checks)  # type: ignore[arg-type]
    complaint = Complaint(id=COMPLAINT, title="Odd", asks="It is odd.", first="Look.")
    return whole.model_copy(update={"complaints": {COMPLAINT: complaint}})


def test_the_weight_is_ten_times_the_logarithm_of_the_ratio() -> None:
    """A result of chance 0.72 for one cause and 0.14 for the other weighs 10 log10(0.72 / 0.14) decibans for the first."""
    found = Separation(known(TAP)).best("gear", "track")
    assert found is not None
    assert (found.check, found.result) == ("tap", "bad")
    assert found.decibans == pytest.approx(10 * math.log10(0.72 / 0.14))
    assert found.separates


def test_four_to_one_separates_and_less_does_not() -> None:
    """The limit is 6.02 decibans, for either cause."""
    assert pytest.approx(6.0206, abs=1e-4) == SEPARATING
    assert [Telling("a", "b", d).separates for d in (6.03, -6.03, 6.01, -6.01)] == [True, True, False, False]


def test_causes_that_no_check_names_are_not_told_apart() -> None:
    """Without a row of its own a cause is as likely as any other to give each result."""
    assert Separation(known(TAP)).best("spring", "track") is None


def test_a_check_that_leaves_a_cause_out_does_not_part_it() -> None:
    """Only a proof of one cause, or a check that names both, tells two causes apart; what nobody wrote is no evidence."""
    alone = check("feel", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "almost-no-chance"}})
    assert Separation(known(alone)).best("gear", "track") is None
    both = check("feel", {"gear": {"bad": "likely"}, "track": {"bad": "very-unlikely"}, OTHERWISE: {"bad": "almost-no-chance"}})
    found = Separation(known(both)).best("gear", "track")
    assert found is not None
    assert found.decibans == pytest.approx(10 * math.log10(0.72 / 0.14))


@settings(max_examples=60, deadline=None)
@given(spaces())
def test_the_best_separator_is_the_best_of_all_results(space: Space) -> None:
    """No result of a check that names both causes weighs more than the one that is named; the order only turns its sign."""
    k, separation = space.knowledge, Separation(space.knowledge)
    used = word_values(k)
    for a, b in itertools.combinations(k.causes, 2):
        best = separation.best(a, b)
        every = [
            abs(10 * math.log10(p / q))
            for c in k.checks.values()
            if {a, b} <= c.evidence.keys()
            for p, q in zip(row(c, a, used), row(c, b, used), strict=True)
        ]
        assert (best.strength if best else 0.0) == pytest.approx(max(every, default=0.0), abs=1e-9)
        back = separation.best(b, a)
        assert (back.strength if back else 0.0) == pytest.approx(best.strength if best else 0.0)


def test_a_check_raises_a_cause_against_the_others_of_its_complaint() -> None:
    """The weight is against the other causes by their own chances, each as often as it is met; the most telling check is first."""
    raised = Separation(known(TAP, PULL)).raising(COMPLAINT)
    assert [t.check for t in raised["gear"]] == ["tap"]
    assert [t.check for t in raised["spring"]] == ["pull"]
    assert raised["track"] == ()
    assert raised["gear"][0].decibans == pytest.approx(10 * math.log10(0.72 / 0.14))


def test_a_result_that_a_commoner_cause_gives_too_raises_nothing() -> None:
    """What the whole complaint shows tells nothing about one cause of it."""
    both = check("both", {"gear": {"bad": "likely"}, "track": {"bad": "very-likely"}, OTHERWISE: {"bad": "very-unlikely"}})
    raised = Separation(known(both)).raising(COMPLAINT)
    assert raised["gear"] == ()
    assert [t.check for t in raised["track"]] == ["both"]


def test_every_pair_of_the_knowledge_that_comes_along_is_weighed_once() -> None:
    """A complaint with n causes has n (n - 1) / 2 pairs."""
    k = real_knowledge()
    separation = Separation(k)
    for complaint in k.complaints:
        count = sum(complaint in c.complaints for c in k.causes.values())
        assert len({frozenset((a, b)) for a, b, _ in separation.pairs(complaint)}) == count * (count - 1) // 2
