"""The state after each event of a case, found in one go."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from advisor.model.case import (
    Answered,
    Case,
    Closed,
    Corrected,
    Event,
    Limited,
    Moved,
    Noted,
    Opened,
    Ran,
    Reopened,
    Repaired,
    Skipped,
    Told,
    Undone,
    fold,
    folds,
)

NUMBERS = st.integers(0, 12)
ANSWERED = st.builds(Answered, check=st.sampled_from("ab"), result=st.sampled_from("xy"))
EVENTS: st.SearchStrategy[Event] = st.one_of(
    ANSWERED,
    st.builds(Undone, number=NUMBERS),
    st.builds(Corrected, number=NUMBERS, by=ANSWERED),
    st.builds(Told, question=st.sampled_from(["codes", "hours", "occurrences", "heat"]), number=st.just(3.0)),
    st.builds(Limited, what=st.sampled_from("pq"), available=st.booleans()),
    st.builds(Moved, to=st.dictionaries(st.sampled_from("uv"), st.sampled_from("01"))),
    st.sampled_from([Noted(text="n"), Skipped(check="a"), Repaired(cause="c"), Ran(hours=2), Closed(), Reopened()]),
)


@given(st.lists(EVENTS, max_size=12))
def test_the_state_after_each_event_is_the_fold_of_the_case_up_to_there(events: list[Event]) -> None:
    """Whatever is undone, corrected or undone again, both ways come to the same."""
    case = Case((Opened(complaint="reads-low", unavailable=("p",)), *events))
    assert list(folds(case)) == [fold(Case(case.events[: n + 1])) for n in range(len(case.events))]
