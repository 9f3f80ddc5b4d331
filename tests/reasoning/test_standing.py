"""The cheapest way from one stand of a machine to another, held to a plain search over small made-up machines."""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.model.states import Move
from advisor.reasoning.standing import Errand, Frame
from advisor.reasoning.ways import Done, Stand, Wanted

MOVE = Move.model_validate({"id": "m", "title": "t", "from": {"a": "b"}, "sets": {"a": "b"}, "minutes": 1, "steps": ["s"]})


def done(before: Wanted, sets: Sequence[tuple[int, int]], minutes: float) -> Done:
    return Done(MOVE, None, before, tuple(sets), minutes)


def a_frame(sizes: Sequence[int], moves: Sequence[Done]) -> Frame:
    """Variables with so many values each; all are at their first value at work."""
    names = tuple(f"v{i}" for i in range(len(sizes)))
    values = tuple(tuple(f"{n}-{k}" for k in range(size)) for n, size in zip(names, sizes, strict=True))
    return Frame(names, values, (0,) * len(sizes), tuple(moves), ())


def asked(frame: Frame, errand: Errand, at: Stand) -> list[tuple[tuple[int, int, int], float]]:
    """What has to be made for a step: the part, the variable and the values that will do as bits, with its minutes."""
    ends = list(itertools.accumulate(map(len, frame.values)))
    found = []
    for (part, fact), minutes in frame.items(errand, at).items():
        v = next(v for v, end in enumerate(ends) if fact < 1 << end)
        found.append(((part, v, fact >> ends[v] - len(frame.values[v])), minutes))
    return found


def holds(stand: Stand, wanted: Wanted) -> bool:
    return all(stand[v] in [k for k in range(8) if bits & 2**k] for v, bits in wanted)


def moved(stand: Stand, move: Done) -> Stand:
    return tuple(dict(move.sets).get(v, value) for v, value in enumerate(stand))


def least(frame: Frame, start: Stand, wanted: Wanted) -> float | None:
    """The minutes of the cheapest way by a search that foresees nothing (Dijkstra, Numer. Math. 1, 1959)."""
    queue, seen = [(0.0, start)], set()
    while queue:
        minutes, stand = heapq.heappop(queue)
        if holds(stand, wanted):
            return minutes
        if stand in seen:
            continue
        seen.add(stand)
        for m in frame.moves:
            if holds(stand, m.before):
                heapq.heappush(queue, (minutes + m.minutes, moved(stand, m)))
    return None


@st.composite
def machines(draw: st.DrawFn) -> tuple[Frame, Stand, Wanted]:
    """A small machine, how it stands, and what is wanted."""
    sizes = draw(st.lists(st.integers(2, 3), min_size=2, max_size=4))
    variables = st.integers(0, len(sizes) - 1)

    def some(least_of_them: int) -> Wanted:
        names = draw(st.sets(variables, min_size=least_of_them, max_size=2))
        return tuple((v, draw(st.integers(1, 2 ** sizes[v] - 1))) for v in sorted(names))

    moves = []
    for _ in range(draw(st.integers(1, 9))):
        names = draw(st.sets(variables, min_size=1, max_size=2))
        sets = [(v, draw(st.integers(0, sizes[v] - 1))) for v in sorted(names)]
        moves.append(done(some(0), sets, draw(st.integers(1, 9))))
    start = tuple(draw(st.integers(0, size - 1)) for size in sizes)
    return a_frame(sizes, moves), start, some(1)


@given(machines())
def test_the_way_is_the_cheapest_there_is(drawn: tuple[Frame, Stand, Wanted]) -> None:
    """Each move can be made where it stands, the last leaves what is wanted, and nothing cheaper does; or there is no way."""
    frame, start, wanted = drawn
    way, minutes = frame.way(start, wanted), least(frame, start, wanted)
    assert (way is None) == (minutes is None)
    if way is None:
        return
    stand = start
    for m in way.moves:
        assert holds(stand, m.before)
        stand = moved(stand, m)
    assert stand == way.end
    assert holds(stand, wanted)
    assert way.minutes == pytest.approx(minutes)
    assert way.minutes == pytest.approx(sum(m.minutes for m in way.moves))


@given(machines())
def test_what_must_be_made_is_never_dearer_than_the_way(drawn: tuple[Frame, Stand, Wanted]) -> None:
    """Planning counts what has to be made at least; it is nothing where all is as wanted already."""
    frame, start, wanted = drawn
    minutes, made = least(frame, start, wanted), frame.items(((wanted, ()),), start)
    assert (made == {}) == holds(start, wanted)
    assert not any(frame.ways.code(enumerate(start)) & fact for _, fact in made)
    if minutes is not None:
        assert sum(made.values()) <= minutes + 1e-9


@given(machines(), st.data())
def test_from_stands_alike_a_step_asks_for_the_same(drawn: tuple[Frame, Stand, Wanted], data: st.DataObject) -> None:
    """Planning works out what a step asks for once for all stands that it cannot tell apart."""
    frame, start, wanted = drawn
    at = tuple(data.draw(st.integers(0, len(values) - 1)) for values in frame.values)
    leaves = tuple(enumerate(data.draw(st.lists(st.just(0), max_size=len(at)))))
    step = ((wanted, leaves), (wanted, ()))
    asked = frame.asking([step])
    assert asked.items(at) == [frame.items(step, at)]
    assert asked.items(asked.alike(at)) == asked.items(at)
    assert asked.alike(asked.alike(at)) == asked.alike(at)
    if asked.alike(at) == asked.alike(start):
        assert frame.items(step, at) == frame.items(step, start)


# A key (on, off), a lock (in, out) that comes out with the key off only, and a pin (in, out) that comes out with the lock out only.
# Two moves take the lock out; both ask for the key. One of them lays a block too.
KEY, LOCK, PIN, BLOCK = range(4)
TURN = done((), [(KEY, 1)], 2)
BACK = done(((KEY, 2),), [(KEY, 0)], 1)
UNLOCK = done(((KEY, 2), (LOCK, 1)), [(LOCK, 1)], 5)
UNLOCK_BLOCKED = done(((KEY, 2), (BLOCK, 1)), [(LOCK, 1), (BLOCK, 1)], 8)
PULL = done(((LOCK, 2),), [(PIN, 1)], 7)
CHAIN = a_frame((2, 2, 2, 2), (TURN, BACK, UNLOCK, UNLOCK_BLOCKED, PULL))
AT_WORK = (0, 0, 0, 0)
PIN_OUT: Wanted = ((PIN, 2),)


def test_what_every_way_asks_for_is_counted_once_and_first() -> None:
    """The key, then the lock at the cheaper of its two prices (a move of two things counts half for each), then the pin."""
    assert asked(CHAIN, ((PIN_OUT, ()),), AT_WORK) == [((0, KEY, 2), 2), ((0, LOCK, 2), 4), ((0, PIN, 2), 7)]


def test_a_second_part_of_a_step_begins_as_the_first_leaves_it() -> None:
    """What the first part needs is made, what it leaves changed is changed, and only the rest counts for the second."""
    errand = ((((LOCK, 2),), ((KEY, 0),)), (PIN_OUT, ()), (((KEY, 2), (PIN, 2)), ()))
    assert dict(asked(CHAIN, errand, AT_WORK)) == {(0, KEY, 2): 2, (0, LOCK, 2): 4, (1, PIN, 2): 7, (2, KEY, 2): 2}
    assert CHAIN.then(errand, AT_WORK) == (1, 1, 1, 0)


def test_what_is_there_already_takes_nothing() -> None:
    """From a stand with the lock out only the pin is left, and with the pin out nothing is."""
    assert dict(asked(CHAIN, ((PIN_OUT, ()),), (0, 1, 0, 0))) == {(0, PIN, 2): 7}
    assert dict(asked(CHAIN, ((PIN_OUT, ()),), (0, 0, 1, 0))) == {}


def test_what_no_move_makes_is_without_a_price_and_leaves_the_machine_as_it_stands() -> None:
    """A block is never taken away again: no way, an endless price, and no other stand after it."""
    errand = ((((BLOCK, 1),), ()),)
    blocked = (0, 0, 0, 1)
    assert CHAIN.way(blocked, errand[0][0]) is None
    assert CHAIN.approach(blocked, errand) is None
    assert CHAIN.after(errand, blocked) == blocked
    assert dict(asked(CHAIN, errand, blocked)) == {(0, BLOCK, 1): float("inf")}


def test_a_wish_for_one_of_two_values_is_made_as_the_first_of_them() -> None:
    """Where either will do, planning thinks of the one that stands first."""
    frame = a_frame((3, 2), (done((), [(0, 1)], 4), done((), [(0, 2)], 3)))
    either: Wanted = ((0, 6),)
    assert dict(asked(frame, ((either, ()),), (0, 0))) == {(0, 0, 6): 3}
    assert frame.then(((either, ()),), (0, 0)) == (1, 0)
    assert frame.then(((either, ()),), (2, 1)) == (2, 1)


def test_moves_that_may_be_made_in_any_order_are_made_as_the_knowledge_lists_them() -> None:
    """The shortest search may find them the other way round."""
    first, second = done((), [(0, 1)], 3), done((), [(1, 1)], 1)
    for moves in ((first, second), (second, first)):
        way = a_frame((2, 2), moves).way((0, 0), ((0, 2), (1, 2)))
        assert way is not None
        assert way.moves == moves


def test_a_move_may_be_made_twice_on_one_way() -> None:
    """The key goes off, on for one thing, and off again."""
    frame = a_frame((2, 2, 2), (
        done(((0, 1),), [(0, 1)], 1), done(((0, 2),), [(0, 0)], 1), done(((0, 2),), [(1, 1)], 1),
        done(((0, 1), (1, 2)), [(2, 1)], 1),
    ))  # fmt: skip
    way = frame.way((0, 0, 0), ((0, 2), (2, 2)))
    assert way is not None
    assert way.moves == (frame.moves[0], frame.moves[2], frame.moves[1], frame.moves[3], frame.moves[0])
    assert way.minutes == 5
