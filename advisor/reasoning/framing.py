"""The states of one machine and the moves that can be made on it, from the knowledge and what is known of the machine."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence

from advisor.model.machine import Machine
from advisor.model.states import Move, Needs, Variable, Where
from advisor.reasoning.standing import CONNECTED, Frame, both, plug, run_name
from advisor.reasoning.ways import Done, Wanted


def frame(
    variables: Iterable[Variable], moves: Iterable[Move], machine: Machine, features: Mapping[str, Sequence[str]],
    missing: frozenset[str] = frozenset(), excluded: Sequence[Needs] = (),
) -> Frame:  # fmt: skip
    """The states of a machine. `features` are the answers known of it; what is not known rules nothing out.

    `missing` holds tools, and "second-person", that are not to be had; `excluded` are states that cannot be reached here.
    """
    names: list[str] = []
    values: list[tuple[str, ...]] = []
    work: list[int] = []
    for v in variables:
        if not _fits(v.needs_feature, features):
            continue
        own = tuple(value.id for value in v.values)
        if v.each == "run":
            own = (v.work, *(run_name(a, b) for a, b in itertools.combinations(machine.points, 2)))
        for name in [plug(p) for p in machine.points] if v.each == "point" else [v.id]:
            names.append(name)
            values.append(own)
            work.append(own.index(v.work))
    found = Frame(tuple(names), tuple(values), tuple(work), (), machine.points)
    barred = [found.wanted(needs) for needs in excluded]
    possible = []
    for m in moves:
        if not _fits(m.needs_feature, features) or missing & {*m.tools, *(("second-person",) if m.second_person else ())}:
            continue
        for point in _points(m.plug, machine.points) if m.plug else (None,):
            before = both(found.wanted(m.from_, point), found.wanted(m.when, point))
            for run in itertools.combinations(machine.points, 2) if m.run else (None,):
                values_set = {n: run_name(*run) if run and value == CONNECTED else value for n, value in m.sets.items()}
                sets = tuple((v, found.values[v].index(x)) for n, x in values_set.items() for v in found.variables(n, point))
                if sets and not any(_reaches(sets, b) for b in barred):
                    possible.append(Done(m, point, before, sets, m.minutes))
    found.moves = tuple(possible)
    return found


def _fits(needs: Mapping[str, Sequence[str]], features: Mapping[str, Sequence[str]]) -> bool:
    """Whether what is known of a machine leaves room for something."""
    return all(not set(features.get(name, allowed)).isdisjoint(allowed) for name, allowed in needs.items())


def _points(where: Sequence[Where], points: Sequence[str]) -> tuple[str, ...]:
    at = {"first": points[:1], "last": points[-1:], "between": points[1:-1]}
    return tuple(p for p in points if any(p in at[w] for w in where))


def _reaches(sets: Sequence[tuple[int, int]], barred: Wanted) -> bool:
    """Whether a move brings about a state that cannot be reached here."""
    return any(v == w and bits >> value & 1 for v, value in sets for w, bits in barred)
