"""How a machine stands, and what it takes from there to a step.

A stand is one value for each variable that the machine has. Moves change it, each at its price in minutes and only where
its conditions hold; the way to a step is the cheapest sequence of moves after which its needs hold.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from advisor.model.states import PLUG, Needs
from advisor.reasoning.ways import Done, PartOfWay, Stand, Wanted, Way, Ways, changed, holds

CONNECTED = "connected"  # of leads: at the ends of any run
Errand = tuple[tuple[Wanted, tuple[tuple[int, int], ...]], ...]  # parts of a step: what each needs, and what it leaves changed


@dataclass(frozen=True)
class Approach:
    """The way to each part of a step, the minutes of all, and how the machine stands when the step is done."""

    ways: tuple[Way, ...]
    minutes: float
    end: Stand


@dataclass
class Asking:
    """What a step asks of the machine, part by part. Kept for each stand: one plan asks for the same over and over."""

    parts: tuple[PartOfWay, ...]
    _items: dict[int, Mapping[tuple[int, int], float]] = field(default_factory=dict)

    def items(self, code: int) -> Mapping[tuple[int, int], float]:
        """What has to be made at least, each thing with its least minutes."""
        known = self._items.get(code)
        if known is None:
            found: dict[tuple[int, int], float] = {}
            now = code
            for n, part in enumerate(self.parts):
                missing, now = part.step(now)
                for fact, minutes in missing.items():
                    found[n, fact] = minutes
            known = self._items[code] = found
        return known

    def then(self, code: int) -> int:
        """About the stand when the step is done."""
        for part in self.parts:
            _, code = part.step(code)
        return code


@dataclass(frozen=True)
class AskedOf:
    """What several steps ask of the machine: see planning.Asked."""

    steps: Sequence[Asking]
    same: Sequence[Sequence[int]]  # for each variable and value the first value that no step tells from it
    code: Callable[[Stand], int]

    def alike(self, at: Stand) -> Stand:
        """The stand that stands for all from which each of the steps asks for the same.

        Two values of a variable are alike where no fact that could be asked for on the way tells them apart: leads at
        this run or at that one, for work that wants none.
        """
        return tuple([same[value] for same, value in zip(self.same, at, strict=True)])

    def items(self, at: Stand) -> list[Mapping[tuple[int, int], float]]:
        """For each step what has to be made at least, each thing with its least minutes."""
        code = self.code(at)
        return [step.items(code) for step in self.steps]


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
    _codes: dict[Stand, int] = field(default_factory=dict, repr=False)
    _errands: dict[Errand, Asking] = field(default_factory=dict, repr=False)
    _alike: dict[frozenset[int], tuple[tuple[int, ...], ...]] = field(default_factory=dict, repr=False)

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
        return holds(stand, wanted)

    # ---- ways

    def way(self, stand: Stand, wanted: Wanted) -> Way | None:
        """The cheapest moves after which all that is wanted holds; None where there are none."""
        key = (stand, wanted)
        if key not in self._ways:
            self._ways[key] = self.ways.search(stand, wanted)
        return self._ways[key]

    def approach(self, stand: Stand, errand: Errand) -> Approach | None:
        """The ways through every part of a step; None where one cannot be reached here."""
        ways: list[Way] = []
        for wanted, leaves in errand:
            way = self.way(stand, wanted)
            if way is None:
                return None
            ways.append(way)
            stand = changed(way.end, leaves)
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
                done = {id(m) for m in opened}
                waiting = [m for m in waiting if id(m) not in done]
                for m in opened:
                    for v, value in m.sets:
                        known[v] |= 1 << value
            self._withins[stand, leaves] = known
        return known

    @cached_property
    def ways(self) -> Ways:
        """The moves, for the search of ways and for what every way has to make."""
        return Ways(tuple(map(len, self.values)), self.moves)

    # ---- what planning asks for: see planning.Ground

    def after(self, errand: Errand, at: Stand) -> Stand:
        """How the machine stands after a step."""
        found = self.approach(at, errand)
        return at if found is None else found.end

    def items(self, errand: Errand, at: Stand) -> Mapping[tuple[int, int], float]:
        """What has to be made at least for a step, part by part, each with its least minutes."""
        return self._asking(errand).items(self._code(at))

    def then(self, errand: Errand, at: Stand) -> Stand:
        """About how the machine stands after a step: what it needs is made, and nothing else moved."""
        return self.ways.stand(self._asking(errand).then(self._code(at))) if errand else at

    def asking(self, errands: Iterable[Errand]) -> AskedOf:
        """What several errands ask of the machine."""
        asked = [self._asking(errand) for errand in errands]
        facts = self.ways.asked_for(f for a in asked for part in a.parts for f in part.facts)
        if facts not in self._alike:
            self._alike[facts] = self.ways.alike(facts)
        return AskedOf(asked, self._alike[facts], self._code)

    def _code(self, stand: Stand) -> int:
        if stand not in self._codes:
            self._codes[stand] = self.ways.code(enumerate(stand))
        return self._codes[stand]

    def _asking(self, errand: Errand) -> Asking:
        known = self._errands.get(errand)
        if known is None:
            known = self._errands[errand] = Asking(tuple(self.ways.part(*part) for part in errand))
        return known

    @cached_property
    def back(self) -> Wanted:
        """All as at work: what the end of a case asks for. Where the steering stands and what pressure is left does not matter."""
        return tuple((v, 1 << value) for v, value in enumerate(self.work) if self.names[v] not in ("position", "pressure"))


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
