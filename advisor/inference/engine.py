"""Forward chaining over compiled rules: facts in, fired rules with their premises out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from advisor.inference.compiler import RULE, CompiledRule, Conclusion, Condition
from advisor.inference.facts import Fact, fact

MOST_FIRINGS = 20_000  # the engine has no guard of its own against rules that feed each other for ever


@dataclass(frozen=True)
class Fired:
    """One firing: the rule, the facts it matched, and what it concluded."""

    rule: CompiledRule
    premises: tuple[Fact, ...]

    @property
    def conclusions(self) -> tuple[Conclusion, ...]:
        return self.rule.conclusions


def can_fire(rules: Iterable[CompiledRule], facts: Iterable[Fact]) -> tuple[CompiledRule, ...]:
    """The rules that these facts, or any part of them, can fire, in their order.

    A rule needs a fact, given or concluded, for each of its patterns that is not negated. Without one it fires for no part
    of the facts either, so that an engine which lacks it deduces the same. Negated patterns and variables are not looked at:
    a rule that they stop is kept for nothing, which costs only time.
    """
    rules, known = tuple(rules), set(facts)
    while True:
        found = tuple(r for r in rules if all(c.negated or any(_fits(c, f) for f in known) for c in r.conditions))
        concluded = {fact("finding", c.subject) for r in found for c in r.conclusions if c.kind == "finding"}
        if concluded <= known:
            return found
        known |= concluded


def _fits(condition: Condition, known: Fact) -> bool:
    if condition.template != known.template:
        return False
    fields = dict(known.fields)
    return all(isinstance(allowed, str) or fields[name] in allowed for name, allowed in condition.fields)


def _is_single(rule: CompiledRule) -> bool:
    """Whether a rule says what one fact says by itself, such as a row of a check: most rules do, and no rule builds on them.

    They stand after all rules of the knowledge, so that they need not go through the network of the engine.
    """
    if rule.id.startswith(RULE) or len(rule.conditions) != 1:
        return False
    condition = rule.conditions[0]
    return not condition.negated and not any(isinstance(allowed, str) for _, allowed in condition.fields)


class TooManyFirings(RuntimeError):
    """Rules feed each other without end."""


def _settled(trace: list[Fired]) -> tuple[Fired, ...]:
    """The trace with the engine's one free choice taken from it.

    A rule whose patterns fit the same facts in several ways fires for each. These tie (same number, same facts), and
    the library takes them in any order; here they are sorted. Which comes first changes nothing else, for all conclude the
    same.
    """
    places: dict[tuple[str, frozenset[Fact]], list[int]] = {}
    for i, fired in enumerate(trace):
        places.setdefault((fired.rule.id, frozenset(fired.premises)), []).append(i)
    settled = list(trace)
    for where in places.values():
        for i, fired in zip(where, sorted((trace[j] for j in where), key=lambda f: f.premises), strict=True):
            settled[i] = fired
    return tuple(settled)


@dataclass
class Engine:
    """Deduces from facts. One engine serves one thread; it is rebuilt after any exception, for then its state is unknown."""

    rules: tuple[CompiledRule, ...]
    _chained: tuple[CompiledRule, ...] = field(init=False, repr=False)
    _single: dict[tuple[str, str], list[CompiledRule]] = field(init=False, repr=False)
    _live: Any = field(default=None, repr=False)
    _trace: list[Fired] = field(default_factory=list, repr=False)
    _last: tuple[frozenset[Fact], tuple[Fired, ...]] | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        self._chained = tuple(r for r in self.rules if not _is_single(r))
        self._single = {}
        for rule in self.rules:
            if _is_single(rule):
                condition = rule.conditions[0]
                for value in condition.fields[0][1]:
                    self._single.setdefault((condition.template, value), []).append(rule)

    def deduce(self, facts: Iterable[Fact]) -> tuple[Fired, ...]:
        """Everything that fires, in firing order; the same for the same facts in any order."""
        known = frozenset(facts)
        if self._last is None or self._last[0] != known:  # much that is said adds no fact: a run, a skip undone, a close
            self._last = None
            self._last = (known, self._deduce(known))
        return self._last[1]

    def _deduce(self, facts: frozenset[Fact]) -> tuple[Fired, ...]:
        from advisor.inference import _experta

        if self._live is None:
            self._live = _experta.build(self._chained, self._fire)
        self._trace.clear()
        try:
            self._live.reset()
            self._live.declare(*(_experta.declared(f) for f in sorted(facts)))
            self._live.run()
        except BaseException:
            self._live = None
            raise
        return (*_settled(self._trace), *self._singles(facts))

    def _singles(self, facts: Iterable[Fact]) -> list[Fired]:
        """What each fact says by itself, in the order of the rules."""
        found = [
            Fired(rule, (known,))
            for known in sorted(facts)
            for rule in self._single.get((known.template, known.fields[0][1]), ())
            if _fits(rule.conditions[0], known)
        ]
        return sorted(found, key=lambda f: -f.rule.salience)

    def _fire(self, rule: CompiledRule, premises: tuple[Fact, ...]) -> list[Fact]:
        self._trace.append(Fired(rule, premises))
        if len(self._trace) > MOST_FIRINGS:
            raise TooManyFirings(f"more than {MOST_FIRINGS} firings; the last was {rule.id}")
        return [fact("finding", c.subject) for c in rule.conclusions if c.kind == "finding"]
