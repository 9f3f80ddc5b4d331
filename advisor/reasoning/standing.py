"""How a machine stands, and the shortest safe way from there to what a step needs.

A stand is one value for each variable that the machine has. Moves change it, each at its price in minutes and only where
its conditions hold; the way to a step is the cheapest sequence of moves after which its needs hold. It is found by A*
search (Hart, Nilsson & Raphael, IEEE Trans. SSC 4(2), 1968). What is left is at least the cheapest move for each thing that
is still wrong, and for each thing that every such move asks for in turn (landmarks: Porteous, Sebastia & Hoffmann, ECP 2001);
a move that sets several things counts in equal parts for each.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from advisor.model.states import (
    PLUG,
    Move,
    Needs,
)  # fmt: skip

CONNECTED = "connected"  # of leads: at the ends of any run
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


@dataclass(frozen=True)
class Way:
    """The moves to a step in their order, their minutes, and how the machine stands then."""

    moves: tuple[Done, ...]
    minutes: float
    end: Stand


Errand = tuple[tuple[Wanted, tuple[tuple[int, int], ...]], ...]  # parts of a step: what each needs, and what it leaves changed


@dataclass(frozen=True)
class Approach:
    """The way to each part of a step, the minutes of all, and how the machine stands when the step is done."""

    ways: tuple[Way, ...]
    minutes: float
    end: Stand


@dataclass
class Frame:
    """The states of one machine, and the moves between them that can be done here."""

    names: tuple[str, ...]
    values: tuple[tuple[str, ...], ...]
    work: Stand
    moves: tuple[Done, ...]
    points: tuple[str, ...]
    memo: dict[Hashable, Any] = field(default_factory=dict, repr=False)  # what others work out from the frame and need again
    _ways: dict[tuple[Stand, Wanted], Way | None] = field(default_factory=dict, repr=False)
    _withins: dict[tuple[Stand, tuple[tuple[int, int], ...]], Sequence[int]] = field(default_factory=dict, repr=False)
    _items: dict[tuple[Stand, Errand], Mapping[tuple[int, int, int], float]] = field(default_factory=dict, repr=False)

    @cached_property
    def index(self) -> Mapping[str, int]:
        return {name: i for i, name in enumerate(self.names)}

    # ---- words and values

    def variables(self, name: str, place: str | None = None) -> tuple[int, ...]:
        """The variables that a name in `needs` stands for; none where the machine has none of them."""
        plugs = [self.index[plug(p)] for p in self.points if plug(p) in self.index]
        match name:
            case "plug":
                return (self.index[plug(place)],) if place in self.points else ()
            case "sensor-plug":
                return tuple(plugs[-1:])
            case "controller-plug":
                return tuple(plugs[:1])
            case "between-plugs":
                return tuple(plugs[1:-1])
            case "end-plugs":
                return (*plugs[:1], *plugs[-1:])
            case "every-plug" | "any-plug":
                return tuple(plugs)
        return (self.index[name],) if name in self.index else ()

    def bits(self, variable: int, allowed: Iterable[str]) -> int:
        """The values of a variable as bits."""
        own = self.values[variable]
        found = 0
        for a in allowed:
            if a in own:
                found |= 1 << own.index(a)
            elif a == CONNECTED:  # any run
                found |= (1 << len(own)) - 2
        return found

    def wanted(self, needs: Needs | Mapping[str, Sequence[str]], place: str | None = None) -> Wanted:
        """What must hold, as bits: every variable that is named and that this machine has."""
        found: dict[int, int] = {}
        for name, allowed in needs.items():
            for v in self.variables(name, place):
                found[v] = found.get(v, -1) & self.bits(v, allowed)
        return tuple(sorted(found.items()))

    def set(self, stand: Stand, changes: Mapping[str, str], place: str | None = None) -> Stand:
        """The stand with some values changed; a variable that the machine lacks is passed over."""
        now = list(stand)
        for name, value in changes.items():
            for v in self.variables(name, place):
                if value in self.values[v]:
                    now[v] = self.values[v].index(value)
        return tuple(now)

    def of(self, told: Mapping[str, str]) -> Stand:
        """A stand from the values of those variables that are not as at work."""
        return self.set(self.work, told)

    def told(self, stand: Stand) -> dict[str, str]:
        """The values of a stand by name, those that are not as at work."""
        return {n: own[v] for n, own, v, w in zip(self.names, self.values, stand, self.work, strict=True) if v != w}

    def value_names(self, stand: Stand) -> tuple[str, ...]:
        """The values of a stand, in the order of the variables."""
        return tuple(own[v] for own, v in zip(self.values, stand, strict=True))

    def value(self, stand: Stand, name: str) -> str | None:
        """The value of a variable; None where the machine lacks it."""
        return self.values[self.index[name]][stand[self.index[name]]] if name in self.index else None

    def holds(self, stand: Stand, wanted: Wanted) -> bool:
        return all(bits >> stand[v] & 1 for v, bits in wanted)

    # ---- ways

    def way(self, stand: Stand, wanted: Wanted) -> Way | None:
        """The cheapest moves after which all that is wanted holds; None where there are none."""
        key = (stand, wanted)
        if key not in self._ways:
            self._ways[key] = self._search(stand, wanted)
        return self._ways[key]

    def approach(self, stand: Stand, errand: Errand) -> Approach | None:
        """The ways through every part of a step; None where one cannot be reached here."""
        ways: list[Way] = []
        for wanted, leaves in errand:
            way = self.way(stand, wanted)
            if way is None:
                return None
            ways.append(way)
            stand = _changed(way.end, leaves)
        return Approach(tuple(ways), sum(w.minutes for w in ways), stand)

    def reachable(self, stand: Stand, errand: Errand) -> bool:
        """Whether each thing that a step needs can be brought about one by one, by moves that can follow each other.

        Nothing is undone in this view (delete relaxation: Bonet & Geffner, Artif. Intell. 129, 2001). So a no is certain.
        """
        leaves = tuple(change for _, changed in errand[:-1] for change in changed)
        within = self._within(stand, leaves)
        return all(within[v] & bits for wanted, _ in errand for v, bits in wanted)

    def _within(self, stand: Stand, leaves: tuple[tuple[int, int], ...]) -> Sequence[int]:
        """For each variable the values that moves can bring about from a stand and from what parts of a step leave, as bits."""
        known = self._withins.get((stand, leaves))
        if known is None:
            known = [1 << value for value in stand]
            for v, value in leaves:
                known[v] |= 1 << value
            waiting = list(self.moves)
            while True:
                opened = [m for m in waiting if all(known[v] & bits for v, bits in m.before)]
                if not opened:
                    break
                waiting = [m for m in waiting if m not in opened]
                for m in opened:
                    for v, value in m.sets:
                        known[v] |= 1 << value
            self._withins[stand, leaves] = known
        return known

    # ---- what planning asks for: see planning.Ground

    def after(self, errand: Errand, at: Stand) -> Stand:
        """How the machine stands after a step."""
        found = self.approach(at, errand)
        return at if found is None else found.end

    def items(self, errand: Errand, at: Stand) -> Mapping[tuple[int, int, int], float]:
        """What has to be made at least for a step, part by part, each with its least minutes."""
        key = (at, errand)
        if key not in self._items:
            found: dict[tuple[int, int, int], float] = {}
            for n, (wanted, leaves) in enumerate(errand):
                made = self._missing(at, wanted)
                found |= {(n, *fact): minutes for fact, minutes in made.items()}
                at = _changed(self._made(at, made), leaves)
            self._items[key] = found
        return self._items[key]

    def then(self, errand: Errand, at: Stand) -> Stand:
        """About how the machine stands after a step: what it needs is made, and nothing else moved."""
        for wanted, leaves in errand:
            at = _changed(self._made(at, self._missing(at, wanted)), leaves)
        return at

    @staticmethod
    def _made(stand: Stand, facts: Iterable[tuple[int, int]]) -> Stand:
        now = list(stand)
        for v, bits in facts:
            if not bits >> now[v] & 1:
                now[v] = (bits & -bits).bit_length() - 1
        return tuple(now)

    @cached_property
    def _facts(self) -> dict[tuple[int, int], tuple[float, Wanted]]:
        return {}

    def _fact(self, fact: tuple[int, int]) -> tuple[float, Wanted]:
        """What it takes at least to bring a variable to one of some values, and what every move that does it asks for."""
        known = self._facts.get(fact)
        if known is None:
            v, bits = fact
            makers = [m for m in self.moves if any(w == v and bits >> value & 1 for w, value in m.sets)]
            shared = dict(makers[0].before) if makers else {}
            for m in makers[1:]:
                own = dict(m.before)
                shared = {w: shared[w] | own[w] for w in shared.keys() & own.keys()}
            shared.pop(v, None)
            least = min((m.minutes / len(m.sets) for m in makers), default=float("inf"))
            known = self._facts[fact] = (least, tuple(sorted(shared.items())))
        return known

    def _missing(self, stand: Stand, wanted: Wanted) -> dict[tuple[int, int], float]:
        """The facts that must be made on every way, what is wanted last, each with its least minutes."""
        found: dict[tuple[int, int], float] = {}
        todo = [f for f in wanted if not f[1] >> stand[f[0]] & 1]
        while todo:
            fact = todo.pop()
            if fact in found:
                continue
            least, needed = self._fact(fact)
            found[fact] = least
            todo += [f for f in needed if not f[1] >> stand[f[0]] & 1]
        return dict(reversed(found.items()))

    # The search itself goes over whole numbers with one bit for each value of each variable: a condition is one comparison.

    @cached_property
    def _offsets(self) -> tuple[int, ...]:
        return tuple(itertools.accumulate((len(v) for v in self.values), initial=0))

    def _code(self, values: Iterable[tuple[int, int]]) -> int:
        """The bits of some values."""
        return sum(1 << self._offsets[v] + value for v, value in values)

    def _barred(self, wanted: Wanted) -> int:
        """The bits that a stand must not have where all that is wanted holds."""
        return sum(((1 << len(self.values[v])) - 1 & ~bits) << self._offsets[v] for v, bits in wanted)

    @cached_property
    def _coded(self) -> tuple[tuple[Done, int, int, int], ...]:
        """Each move with the bits that bar it, those that it clears and those that it sets."""
        whole = [((1 << len(v)) - 1) << o for v, o in zip(self.values, self._offsets, strict=False)]
        return tuple((m, self._barred(m.before), ~sum(whole[v] for v, _ in m.sets), self._code(m.sets)) for m in self.moves)

    @cached_property
    def _coded_facts(self) -> dict[int, tuple[float, tuple[int, ...]]]:
        """For each fact, as its bits: what it takes at least, and the facts that every move which makes it asks for."""
        return {}

    def _coded_fact(self, fact: tuple[int, int]) -> int:
        """The bits of a fact; what it takes is worked out the first time."""
        v, bits = fact
        code = (bits & (1 << len(self.values[v])) - 1) << self._offsets[v]
        if code not in self._coded_facts:
            least, needed = self._fact(fact)
            self._coded_facts[code] = (least, ())  # ends a circle; the facts needed follow
            self._coded_facts[code] = (least, tuple(self._coded_fact(f) for f in needed))
        return code

    def _search(self, start: Stand, wanted: Wanted) -> Way | None:
        facts = self._coded_facts
        goal = [self._coded_fact(f) for f in wanted]

        def rest(code: int) -> float:
            """What is left at least: each fact that is wanted, or that a wanted one cannot do without, is made once."""
            todo = [f for f in goal if not code & f]
            seen = set(todo)
            left = 0.0
            while todo:
                least, needed = facts[todo.pop()]
                left += least
                for f in needed:
                    if not code & f and f not in seen:
                        seen.add(f)
                        todo.append(f)
            return left

        began = self._code(enumerate(start))
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
            stand = self.moved(stand, m)
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
                if self.holds(stand, m.before):
                    found = rest(self.moved(stand, m), left - {i})
                    if found is not None:
                        return (m, *found)
            failed.add((stand, left))
            return None

        return rest(start, frozenset(range(len(moves)))) or tuple(reversed(moves))

    @staticmethod
    def moved(stand: Stand, move: Done) -> Stand:
        """How the machine stands after a move."""
        now = list(stand)
        for v, value in move.sets:
            now[v] = value
        return tuple(now)

    @cached_property
    def back(self) -> Wanted:
        """All as at work: what the end of a case asks for. Where the steering stands and what pressure is left does not matter."""
        return tuple((v, 1 << value) for v, value in enumerate(self.work) if self.names[v] not in ("position", "pressure"))


def _changed(stand: Stand, leaves: Sequence[tuple[int, int]]) -> Stand:
    now = list(stand)
    for v, value in leaves:
        now[v] = value
    return tuple(now)


def run_name(start: str, end: str) -> str:
    """The value of the leads when they are at the ends of a run."""
    return f"{start} to {end}"


def plug(point: str | None) -> str:
    """The variable of the plug at a point."""
    return f"{PLUG}:{point}"


def both(one: Wanted, other: Wanted) -> Wanted:
    """What holds where one and the other hold. A variable without a common value is left with none, so it never holds."""
    found = dict(one)
    for v, bits in other:
        found[v] = found.get(v, -1) & bits
    return tuple(sorted(found.items()))
