"""The shortest safe way from one stand of a machine to another, and what every way there has to make.

Stands are whole numbers here, with one bit for each value of each variable: a condition is one comparison. The way is found
by A* search (Hart, Nilsson & Raphael, IEEE Trans. SSC 4(2), 1968). What is left is at least the cheapest move for each fact that
is still wrong, and for each fact that every such move asks for in turn (landmarks: Porteous, Sebastia & Hoffmann, ECP 2001);
a move that sets several variables counts in equal parts for each.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from advisor.model.states import Move

Stand = tuple[int, ...]  # for each variable of a frame the index of its value
Wanted = tuple[tuple[int, int], ...]  # variables by index, each with the values that will do as bits


@dataclass(frozen=True)
class Done:
    """What a move is on one machine: which entry, and at which plug."""

    move: Move
    point: str | None
    before: Wanted
    sets: tuple[tuple[int, int], ...]
    minutes: float

    def after(self, stand: Stand) -> Stand:
        """How the machine stands after it."""
        return changed(stand, self.sets)


@dataclass(frozen=True)
class Way:
    """The moves to a step in their order, their minutes, and how the machine stands then."""

    moves: tuple[Done, ...]
    minutes: float
    end: Stand


@dataclass(frozen=True)
class Fact:
    """That a variable has one of some values: what it takes at least to make it so."""

    bits: int
    others: int  # the bits that making it takes away: all but those of the variable
    least: float  # minutes of the cheapest move that makes it
    needed: tuple[int, ...]  # the facts that every such move asks for


@dataclass
class PartOfWay:
    """One part of a step: the facts that it wants, the bits that it leaves as they are, and those that it sets."""

    ways: Ways
    facts: tuple[int, ...]
    left: int
    put: int
    _known: dict[int, tuple[Mapping[int, float], int]] = field(default_factory=dict)

    def step(self, code: int) -> tuple[Mapping[int, float], int]:
        """The facts that must be made from a stand, each with its least minutes, and about the stand after the part."""
        known = self._known.get(code)
        if known is None:
            missing = self.ways.missing(code, self.facts)
            known = (missing, self.ways.made(code, missing) & self.left | self.put)
            self._known[code] = known
        return known


@dataclass
class Ways:
    """The moves between the stands of one machine; `sizes` says how many values each variable has."""

    sizes: tuple[int, ...]
    moves: tuple[Done, ...]
    _facts: dict[int, Fact] = field(default_factory=dict)
    _parts: dict[tuple[Wanted, tuple[tuple[int, int], ...]], PartOfWay] = field(default_factory=dict)

    @cached_property
    def _offsets(self) -> tuple[int, ...]:
        return tuple(itertools.accumulate(self.sizes, initial=0))

    @cached_property
    def _whole(self) -> tuple[int, ...]:
        """All bits of each variable."""
        return tuple(((1 << size) - 1) << offset for size, offset in zip(self.sizes, self._offsets, strict=False))

    def code(self, values: Iterable[tuple[int, int]]) -> int:
        """The bits of some values."""
        return sum(1 << self._offsets[v] + value for v, value in values)

    def kept(self, values: Iterable[tuple[int, int]]) -> int:
        """All bits but those of the variables that are set."""
        return ~sum(self._whole[v] for v, _ in values)

    def stand(self, code: int) -> Stand:
        """The values that the bits of a whole stand are."""
        return tuple(
            [((code & whole) >> offset).bit_length() - 1 for whole, offset in zip(self._whole, self._offsets, strict=False)]
        )

    def fact(self, v: int, bits: int) -> int:
        """The bits of a fact; what it takes is worked out the first time."""
        code = bits << self._offsets[v] & self._whole[v]
        if code not in self._facts:
            makers = [m for m in self.moves if any(w == v and bits >> value & 1 for w, value in m.sets)]
            shared = dict(makers[0].before) if makers else {}
            for m in makers[1:]:
                own = dict(m.before)
                shared = {w: shared[w] | own[w] for w in shared.keys() & own.keys()}
            shared.pop(v, None)
            least = min((m.minutes / len(m.sets) for m in makers), default=float("inf"))
            self._facts[code] = Fact(code, ~self._whole[v], least, ())  # ends a circle; the facts needed follow
            needed = tuple(self.fact(*f) for f in sorted(shared.items()))
            self._facts[code] = Fact(code, ~self._whole[v], least, needed)
        return code

    def facts(self, wanted: Wanted) -> tuple[int, ...]:
        """What is wanted as facts."""
        return tuple(self.fact(v, bits) for v, bits in wanted)

    def missing(self, code: int, wanted: Iterable[int]) -> dict[int, float]:
        """The facts that must be made on every way from a stand, what is wanted last, each with its least minutes."""
        known = self._facts
        todo = [f for f in wanted if not code & f]
        found: dict[int, float] = {}
        while todo:
            f = todo.pop()
            if f not in found:
                fact = known[f]
                found[f] = fact.least
                for needed in fact.needed:
                    if not code & needed:
                        todo.append(needed)
        return dict(reversed(found.items()))

    def made(self, code: int, facts: Iterable[int]) -> int:
        """About the stand when some facts have been made: nothing else moved."""
        for f in facts:
            if not code & f:
                code = code & self._facts[f].others | f & -f
        return code

    def part(self, wanted: Wanted, leaves: Sequence[tuple[int, int]]) -> PartOfWay:
        """A part of a step: what it needs, and what it leaves changed. The same for the same part."""
        key = (wanted, tuple(leaves))
        if key not in self._parts:
            self._parts[key] = PartOfWay(self, self.facts(wanted), self.kept(leaves), self.code(leaves))
        return self._parts[key]

    def asked_for(self, wanted: Iterable[int]) -> frozenset[int]:
        """Some facts with all that the ways to them could ask for."""
        found: set[int] = set()
        todo = list(wanted)
        while todo:
            f = todo.pop()
            if f not in found:
                found.add(f)
                todo += self._facts[f].needed
        return frozenset(found)

    def alike(self, facts: Iterable[int]) -> tuple[tuple[int, ...], ...]:
        """For each value of each variable the first one that none of these facts tells from it."""
        asked = list(facts)
        alike: list[tuple[int, ...]] = []
        for size, offset, whole in zip(self.sizes, self._offsets, self._whole, strict=False):
            own = [f >> offset for f in asked if f & whole]
            told = [tuple(f >> value & 1 for f in own) for value in range(size)]
            alike.append(tuple(map(told.index, told)))
        return tuple(alike)

    @cached_property
    def _coded(self) -> tuple[tuple[Done, int, int, int], ...]:
        """Each move with the bits that bar it, those that it leaves and those that it sets."""
        return tuple((m, self._barred(m.before), self.kept(m.sets), self.code(m.sets)) for m in self.moves)

    def _barred(self, wanted: Wanted) -> int:
        """The bits that a stand must not have where all that is wanted holds."""
        return sum(self._whole[v] & ~(bits << self._offsets[v]) for v, bits in wanted)

    def search(self, start: Stand, wanted: Wanted) -> Way | None:
        """The cheapest moves after which all that is wanted holds; None where there are none."""
        goal, known = self.facts(wanted), self._facts

        def rest(code: int) -> float:
            """What is left at least: each fact that is wanted, or that a wanted one cannot do without, is made once."""
            todo = [f for f in goal if not code & f]
            seen = set(todo)
            left = 0.0
            while todo:
                fact = known[todo.pop()]
                left += fact.least
                for f in fact.needed:
                    if not code & f and f not in seen:
                        seen.add(f)
                        todo.append(f)
            return left

        began = self.code(enumerate(start))
        first = rest(began)
        best: dict[int, float] = {began: 0.0}
        came: dict[int, tuple[int, Done]] = {}
        queue: list[tuple[float, float, int, int]] = [(first, first, 0, began)]
        done: set[int] = set()
        pushed = 0
        while queue:
            total, left, _, code = heapq.heappop(queue)
            if total == float("inf"):
                return None
            if code in done:
                continue
            done.add(code)
            if left == 0 and all(code & f for f in goal):
                return self._found(start, began, code, came, best[code])
            so_far = best[code]
            for move, barred, kept, put in self._coded:
                if not code & barred:
                    after = code & kept | put
                    cost = so_far + move.minutes
                    if after not in done and cost < best.get(after, float("inf")) - 1e-9:
                        best[after], came[after] = cost, (code, move)
                        left = rest(after)
                        pushed += 1
                        heapq.heappush(queue, (cost + left, left, pushed, after))
        return None

    def _found(self, start: Stand, began: int, end: int, came: Mapping[int, tuple[int, Done]], minutes: float) -> Way:
        moves: list[Done] = []
        while end != began:
            end, move = came[end]
            moves.append(move)
        stand = start
        for m in reversed(moves):
            stand = m.after(stand)
        return Way(self._ordered(start, stand, moves), minutes, stand)

    def _ordered(self, start: Stand, end: Stand, moves: Sequence[Done]) -> tuple[Done, ...]:
        """The same moves in the order that people expect: what comes earlier among the moves of the knowledge goes first."""
        rank = {id(m): i for i, m in enumerate(self.moves)}
        failed: set[tuple[Stand, frozenset[int]]] = set()

        def rest(stand: Stand, left: frozenset[int]) -> tuple[Done, ...] | None:
            if not left:
                return () if stand == end else None
            if (stand, left) in failed:
                return None
            for i in sorted(left, key=lambda i: (rank[id(moves[i])], i)):
                m = moves[i]
                if holds(stand, m.before):
                    found = rest(m.after(stand), left - {i})
                    if found is not None:
                        return (m, *found)
            failed.add((stand, left))
            return None

        return rest(start, frozenset(range(len(moves)))) or tuple(reversed(moves))


def holds(stand: Stand, wanted: Wanted) -> bool:
    """Whether all that is wanted is so."""
    return all(bits >> stand[v] & 1 for v, bits in wanted)


def changed(stand: Stand, sets: Sequence[tuple[int, int]]) -> Stand:
    """A stand with some values set."""
    now = list(stand)
    for v, value in sets:
        now[v] = value
    return tuple(now)
