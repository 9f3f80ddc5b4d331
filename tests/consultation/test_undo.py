"""Taking back: the state is as it was before."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from advisor.model.case import Answered, Case, Corrected, Event, Opened, Repaired, Skipped, Undone, fold
from advisor.model.undo import last_undoable

OPENED = Opened(complaint="reads-low")


def test_undoing_a_correction_brings_the_first_answer_back() -> None:
    """The corrected answer counts again once its correction was taken back."""
    first = Answered(check="a-check", result="one")
    case = Case((OPENED, first, Corrected(number=1, by=Answered(check="a-check", result="two"))))
    assert [a.result for a in fold(case).answers.values()] == ["two"]
    assert fold(case.then(Undone(number=2))).answers == {1: first}


EVENTS = st.one_of(
    st.builds(Answered, check=st.sampled_from(["a", "b"]), result=st.sampled_from(["x", "y"])),
    st.builds(Skipped, check=st.sampled_from(["a", "b"])),
    st.builds(Repaired, cause=st.just("c")),
)


@given(st.lists(EVENTS, max_size=6), EVENTS, st.booleans())
def test_back_restores_the_state_before_the_last_event(events: list[Event], last: Event, correct: bool) -> None:
    """After `back` nothing counts but what counted before, whether the last event was new or a correction."""
    case = Case((OPENED, *events))
    answers = [n for n, e in enumerate(case.events) if isinstance(e, Answered)]
    event = Corrected(number=answers[-1], by=Answered(check="a", result="z")) if correct and answers else last
    longer = case.then(event)
    number = last_undoable(longer)
    assert number == len(case.events)
    before, after = fold(case), fold(longer.then(Undone(number=number)))
    assert (after.answers, after.skipped, after.repairs) == (before.answers, before.skipped, before.repairs)
