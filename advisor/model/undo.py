"""What `back` takes back of a case: the newest event that can go, and the moves that belong to it."""

from __future__ import annotations

from advisor.model.case import COLLECTIONS, Case, Moved, State, fold


def taken_back(case: Case) -> tuple[int, ...]:
    """The numbers of what `back` takes back: the newest event that can go, with the moves that belong to its step."""
    number = last_undoable(case)
    if number is None:
        return ()
    state = fold(case)
    first, last = number, number
    while first > 1 and _moves(case, first - 1, state):
        first -= 1
    while last + 1 < len(case.events) and _moves(case, last + 1, state) and _left(case, last + 1):
        last += 1
    return (number, *(n for n in range(first, last + 1) if n != number))


def _moves(case: Case, number: int, state: State) -> bool:
    event = case.events[number]
    return isinstance(event, Moved) and not event.found and number not in state.withdrawn


def _left(case: Case, number: int) -> bool:
    """Whether a move tells what the step before it left behind."""
    event = case.events[number]
    return isinstance(event, Moved) and event.move is None


def last_undoable(case: Case) -> int | None:
    """The number of the newest event that `back` takes back, or None when nothing is left to take back.

    A note and a limit stay; answers, readings, skips, repairs, retests and runs can go.
    """
    state = fold(case)
    numbers = [n for name in COLLECTIONS.values() for n in getattr(state, name)]
    return max(numbers, default=None)
