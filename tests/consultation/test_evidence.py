"""Evidence that is kept from state to state is the evidence that a state has by itself."""

from __future__ import annotations

from builders import told
from hypothesis import given, settings
from hypothesis import strategies as st
from record.tales import FINISHED, START

from advisor.consultation.consultation import Consultation
from advisor.model.case import Answered, Case, Corrected, Skipped, Told, Undone, fold

CONSULTATION, CASE = told(*FINISHED, **START)
EVENTS = (
    *CASE.events,
    Answered(check="wiggle-harness", result="jumps-at-one-spot"),
    Skipped(check="coupling-grip"),
    Corrected(number=len(CASE.events), by=Answered(check="wiggle-harness", result="steady")),
    Undone(number=len(CASE.events) + 2),
    Told(question="complaint", words=("reads-low",)),
)


@given(st.lists(st.integers(1, len(EVENTS)), min_size=1, max_size=8))
@settings(max_examples=25, deadline=None)
def test_a_case_asked_at_any_moments_in_any_order_is_assessed_as_by_one_who_sees_it_first(sizes: list[int]) -> None:
    """Forward, back and with jumps over repairs, retests, corrections and another complaint, to the last bit."""
    kept = Consultation(CONSULTATION.knowledge, CONSULTATION.machine)
    for size in sizes:
        case = Case(EVENTS[:size])
        fresh = Consultation(CONSULTATION.knowledge, CONSULTATION.machine)
        assert kept.assess(case, plan=False) == fresh.assess(case, plan=False)
        assert kept.engine.deduce(kept.facts(fold(case))) == fresh.engine.deduce(fresh.facts(fold(case)))


@given(st.lists(st.integers(1, len(EVENTS)), min_size=2, max_size=6))
@settings(max_examples=15, deadline=None)
def test_the_facts_that_are_kept_are_the_facts_of_the_state(sizes: list[int]) -> None:
    """Nothing of an earlier state stays behind among them, and nothing is missing."""
    kept = Consultation(CONSULTATION.knowledge, CONSULTATION.machine)
    for size in sizes:
        state = fold(Case(EVENTS[:size]))
        kept.evidence(state)
        assert kept.engine.known == frozenset(kept.facts(state))


def test_somebody_else_may_ask_the_engine_in_between() -> None:
    """What was kept is then made anew, and the next assessment is right."""
    kept = Consultation(CONSULTATION.knowledge, CONSULTATION.machine)
    before = kept.assess(CASE, plan=False)
    kept.engine.deduce(())
    assert kept.assess(CASE, plan=False) == before


def test_a_state_that_adds_nothing_gives_the_very_same_assessment() -> None:
    """So a long case of notes costs no more than a short one."""
    kept = Consultation(CONSULTATION.knowledge, CONSULTATION.machine)
    assert kept.assess(CASE, plan=False) is kept.assess(Case((*CASE.events,)), plan=False)
