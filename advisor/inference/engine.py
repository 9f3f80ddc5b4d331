"""Forward chaining over compiled rules: facts in, fired rules with their premises out."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from advisor.inference.compiler import CompiledRule, Condition
from advisor.inference.facts import Fact
from advisor.inference.parts import Fired, Part, apart

__all__ = ["Engine", "Fired"]

Place = tuple[int, int]  # where a firing stands in the whole trace: its turn, highest first, and its place in its part


@dataclass
class Engine:
    """Deduces from facts. One engine serves one thread.

    What was deduced last is kept, and only the parts are run again which a fact concerns that came or went. It is the same as
    from nothing, for a part follows from its facts alone. After any exception nothing is kept, for its state is unknown.
    """

    rules: tuple[CompiledRule, ...]
    _parts: dict[tuple[str, str | None], list[Part]] = field(default_factory=dict, repr=False)
    _known: frozenset[Fact] = field(default=frozenset(), repr=False)
    _firings: list[tuple[Place, Fired]] = field(default_factory=list, repr=False)
    _places: dict[int, list[Place]] = field(default_factory=dict, repr=False)  # of each part's firings
    _trace: tuple[Fired, ...] = field(default=(), repr=False)

    def __post_init__(self) -> None:
        self._forget()

    def deduce(self, facts: Iterable[Fact]) -> tuple[Fired, ...]:
        """Everything that fires, in firing order; the same for the same facts in any order."""
        known = frozenset(facts)
        if known != self._known:  # much that is said adds no fact: a run, a skip undone, a close
            try:
                self._change(known)
            except BaseException:
                self._forget()
                raise
        return self._trace

    def _forget(self) -> None:
        """Back to the state without any fact. No rule fires then, for each needs one."""
        self._parts, self._known, self._firings, self._places, self._trace = {}, frozenset(), [], {}, ()
        for part in apart(self.rules):
            for key in {key for rule in part.rules for c in rule.conditions for key in _keys(c)}:
                self._parts.setdefault(key, []).append(part)

    def _change(self, known: frozenset[Fact]) -> None:
        touched: dict[int, Part] = {}
        for fact in self._known - known:
            for part in self._concerned(fact):
                part.facts.discard(fact)
                touched[id(part)] = part
        for fact in known - self._known:
            for part in self._concerned(fact):
                part.facts.add(fact)
                touched[id(part)] = part
        for part in touched.values():
            self._run(part)
        self._known = known
        self._trace = tuple(fired for _, fired in self._firings)

    def _concerned(self, fact: Fact) -> Iterator[Part]:
        for key in ((fact.template, fact.fields[0][1]), (fact.template, None)):
            yield from (part for part in self._parts.get(key, ()) if part.concerns(fact))

    def _run(self, part: Part) -> None:
        """Runs a part, and puts what it fires in the place of what it fired before."""
        for place in self._places.pop(id(part), ()):
            del self._firings[bisect_left(self._firings, place, key=_place)]
        found = [((-turn, n), fired) for n, (turn, fired) in enumerate(part.fire())]
        for entry in found:
            insort(self._firings, entry, key=_place)
        if found:
            self._places[id(part)] = [place for place, _ in found]


def _place(entry: tuple[Place, Fired]) -> Place:
    return entry[0]


def _keys(condition: Condition) -> list[tuple[str, str | None]]:
    """The template and the values of the first field that fit a condition; None for any value."""
    first = condition.fields[0][1]
    return [(condition.template, None)] if isinstance(first, str) else [(condition.template, value) for value in first]
