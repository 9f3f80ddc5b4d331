"""Forward chaining over compiled rules: facts in, fired rules with their premises out."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Callable, Iterable, Iterator, Set
from dataclasses import dataclass, field
from operator import itemgetter

from advisor.inference.compiler import CompiledRule, Condition
from advisor.inference.facts import Fact
from advisor.inference.parts import Fired, Part, apart

__all__ = ["Engine", "Fired"]

Place = tuple[int, int]  # where a firing stands in the whole trace: its turn, highest first, and its place in its part
Entry = tuple[Place, Fired]


@dataclass
class Engine:
    """Deduces from facts. One engine serves one thread.

    What was deduced last is kept, and only the parts are run again which a fact concerns that came or went. It is the same as
    from nothing, for a part follows from its facts alone. After any exception nothing is kept, for its state is unknown.
    """

    rules: tuple[CompiledRule, ...]
    moves: int = field(default=0, repr=False)  # how often what is kept was changed
    _parts: dict[tuple[str, str | None], list[Part]] = field(default_factory=dict, repr=False)
    _known: set[Fact] = field(default_factory=set, repr=False)
    _firings: list[Entry] = field(default_factory=list, repr=False)
    _entries: dict[int, list[Entry]] = field(default_factory=dict, repr=False)  # of each part

    def __post_init__(self) -> None:
        self._forget()

    def deduce(self, facts: Iterable[Fact]) -> tuple[Fired, ...]:
        """Everything that fires, in firing order; the same for the same facts in any order."""
        known = set(facts)
        if known != self._known:  # much that is said adds no fact: a run, a skip undone, a close
            self.change(known - self._known, self._known - known)
        return tuple(fired for _, fired in self._firings)

    def change(self, came: Set[Fact], gone: Set[Fact]) -> tuple[list[Entry], list[Entry]]:
        """Facts that were not known come, and known ones go: the firings that came, and those that went, with their places."""
        self.moves += 1
        try:
            return self._change(came, gone)
        except BaseException:
            self._forget()
            raise

    @property
    def known(self) -> frozenset[Fact]:
        """The facts that what is kept was deduced from."""
        return frozenset(self._known)

    def places(self) -> Iterator[Place]:
        """Where the firings stand, in firing order."""
        return map(_place, self._firings)

    def _forget(self) -> None:
        """Back to the state without any fact. No rule fires then, for each needs one."""
        self._parts, self._known, self._firings, self._entries = {}, set(), [], {}
        for part in apart(self.rules):
            for key in {key for rule in part.rules for c in rule.conditions for key in _keys(c)}:
                self._parts.setdefault(key, []).append(part)

    def _change(self, came: Set[Fact], gone: Set[Fact]) -> tuple[list[Entry], list[Entry]]:
        touched: dict[int, Part] = {}
        for fact in gone:
            for part in self._concerned(fact):
                part.facts.discard(fact)
                touched[id(part)] = part
        for fact in came:
            for part in self._concerned(fact):
                part.facts.add(fact)
                touched[id(part)] = part
        self._known -= gone
        self._known |= came
        new: list[Entry] = []
        old: list[Entry] = []
        for part in touched.values():
            before, now = self._run(part)
            old += [entry for entry in before if entry not in now]
            new += [entry for entry in now if entry not in before]
        return new, old

    def _concerned(self, fact: Fact) -> Iterator[Part]:
        for key in ((fact.template, fact.fields[0][1]), (fact.template, None)):
            yield from (part for part in self._parts.get(key, ()) if part.concerns(fact))

    def _run(self, part: Part) -> tuple[list[Entry], list[Entry]]:
        """Runs a part, and puts what it fires in the place of what it fired before: this, and that."""
        found = [((-turn, n), fired) for n, (turn, fired) in enumerate(part.fire())]
        before = self._entries.pop(id(part), [])
        if found:
            self._entries[id(part)] = found
        if found != before:
            for place, _ in before:
                del self._firings[bisect_left(self._firings, place, key=_place)]
            for entry in found:
                insort(self._firings, entry, key=_place)
        return before, found


_place: Callable[[Entry], Place] = itemgetter(0)


def _keys(condition: Condition) -> list[tuple[str, str | None]]:
    """The template and the values of the first field that fit a condition; None for any value."""
    first = condition.fields[0][1]
    return [(condition.template, None)] if isinstance(first, str) else [(condition.template, value) for value in first]
