"""The shortest safe way against the shortest paths of networkx, on machines made up by chance.

networkx: Hagberg, Schult & Swart, Exploring network structure, dynamics, and function using NetworkX, SciPy 2008.
"""

from __future__ import annotations

import itertools

import networkx as nx
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from advisor.model.states import Move
from advisor.reasoning.standing import Errand, Frame
from advisor.reasoning.ways import Done, Stand, Wanted

SIZES = (2, 3, 2, 3)  # values of each variable


@st.composite
def conditions(draw: st.DrawFn, least: int = 0) -> Wanted:
    named = draw(st.lists(st.integers(0, len(SIZES) - 1), min_size=least, max_size=2, unique=True))
    return tuple((v, draw(st.integers(1, (1 << SIZES[v]) - 1))) for v in sorted(named))


@st.composite
def changes(draw: st.DrawFn, most: int = 2) -> tuple[tuple[int, int], ...]:
    named = draw(st.lists(st.integers(0, len(SIZES) - 1), min_size=1, max_size=most, unique=True))
    return tuple((v, draw(st.integers(0, SIZES[v] - 1))) for v in sorted(named))


@st.composite
def frames(draw: st.DrawFn) -> Frame:
    moves = []
    for n in range(draw(st.integers(1, 9))):
        sets, minutes = draw(changes()), float(draw(st.integers(1, 9)))
        entry = Move.model_validate(
            {"id": f"m{n}", "title": "T", "from": {"v": "a"}, "sets": {"v": "a"}, "minutes": minutes, "steps": ["S"]}
        )
        moves.append(Done(entry, None, draw(conditions()), sets, minutes))
    names = tuple(f"v{n}" for n in range(len(SIZES)))
    return Frame(names, tuple(tuple("abc"[:size]) for size in SIZES), (0,) * len(SIZES), tuple(moves), ())


def graph(frame: Frame) -> nx.DiGraph[Stand]:
    """Every stand of a machine, with the cheapest move between two."""
    found: nx.DiGraph[Stand] = nx.DiGraph()
    for stand in itertools.product(*map(range, SIZES)):
        found.add_node(stand)
        for m in frame.moves:
            to = m.after(stand)
            if frame.holds(stand, m.before) and m.minutes < found.get_edge_data(stand, to, {"minutes": 99.0})["minutes"]:
                found.add_edge(stand, to, minutes=m.minutes)
    return found


stands = st.tuples(*(st.integers(0, size - 1) for size in SIZES))


@given(frames(), stands, conditions(least=1))
def test_the_way_takes_as_many_minutes_as_the_shortest_path(frame: Frame, start: Stand, wanted: Wanted) -> None:
    away = nx.single_source_dijkstra_path_length(graph(frame), start, weight="minutes")
    least = min((minutes for stand, minutes in away.items() if frame.holds(stand, wanted)), default=None)
    way = frame.way(start, wanted)
    assert (None if way is None else way.minutes) == (None if least is None else pytest.approx(least))


errands = st.lists(st.tuples(conditions(least=1), st.one_of(st.just(()), changes())), min_size=1, max_size=2).map(tuple)


@given(frames(), stands, errands)
def test_what_is_said_to_be_out_of_reach_has_no_way(frame: Frame, start: Stand, errand: Errand) -> None:
    assume(not frame.reachable(start, errand))
    assert frame.approach(start, errand) is None


@given(frames(), stands, conditions(least=1))
def test_the_estimate_of_a_way_is_never_more_than_the_way(frame: Frame, start: Stand, wanted: Wanted) -> None:
    way = frame.way(start, wanted)
    assume(way is not None)
    assert sum(frame.items(((wanted, ()),), start).values()) <= way.minutes + 1e-9
