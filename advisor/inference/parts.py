"""Rules in parts that know nothing of each other, so that a new fact asks for no more than its own part to run again.

A rule concerns another only through a finding, which one concludes and the other asks for or concludes too. Rules joined in
this way, over any number of findings, are one part; most rules are a part by themselves. What a part fires follows from the
facts that fit one of its patterns, and from nothing else. So all parts, each run alone, fire what one engine with all
rules would fire.

The order is the same too. One engine fires, again and again, the highest number that waits. A rule that a firing has
set free with a higher number comes at once; each part does that by itself. Between parts the highest number is next. So the
whole is sorted by the lowest number that a part has come down to, its `turn`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import accumulate, islice
from typing import Any

from advisor.inference.compiler import RULE, CompiledRule, Conclusion
from advisor.inference.facts import Fact
from advisor.inference.matching import can_fire, findings, fits, matched, simple

MOST_FIRINGS = 20_000  # the library has no guard of its own against rules that feed each other for ever


class TooManyFirings(RuntimeError):
    """Rules feed each other without end."""


@dataclass(frozen=True)
class Fired:
    """One firing: the rule, the facts it matched, and what it concluded."""

    rule: CompiledRule
    premises: tuple[Fact, ...]

    @property
    def conclusions(self) -> tuple[Conclusion, ...]:
        return self.rule.conclusions


@dataclass
class Part:
    """Rules that are run together, and what they fired on the facts that concern them."""

    rules: tuple[CompiledRule, ...]
    facts: set[Fact] = field(default_factory=set)
    _live: Any = None
    _trace: list[Fired] = field(default_factory=list)

    def concerns(self, known: Fact) -> bool:
        """Whether a fact fits one of the patterns, so that it can change what is fired."""
        return any(fits(c, known) for r in self.rules for c in r.conditions)

    def fire(self) -> list[tuple[int, Fired]]:
        """Everything that its facts fire, in order, each with its turn. After any exception the part must not be used again."""
        found = self._told()
        if found is None:
            found = self._run() if can_fire(self.rules, self.facts) else []
        turns = accumulate((f.rule.salience for f in found), min)
        return list(zip(turns, found, strict=True))

    @cached_property
    def _simple(self) -> bool:
        return len(self.rules) == 1 and simple(self.rules[0])

    def _told(self) -> list[Fired] | None:
        """What a rule that stands alone fires; None where the engine must say, for one that fires more often has its order."""
        if is_single(self.rules):
            return [Fired(self.rules[0], (known,)) for known in sorted(self.facts)]
        if not self._simple:
            return None
        rule = self.rules[0]
        found = [Fired(rule, premises) for premises in islice(matched(rule, self.facts), 2)]
        return found if len(found) < 2 else None

    def _run(self) -> list[Fired]:
        from advisor.inference import _experta

        if self._live is None:
            self._live = _experta.build(self.rules, self._fire)
        self._trace.clear()
        self._live.reset()
        self._live.declare(*(_experta.declared(f) for f in sorted(self.facts)))
        self._live.run()
        return settled(self._trace)

    def _fire(self, rule: CompiledRule, premises: tuple[Fact, ...]) -> tuple[Fact, ...]:
        self._trace.append(Fired(rule, premises))
        if len(self._trace) > MOST_FIRINGS:
            raise TooManyFirings(f"more than {MOST_FIRINGS} firings; the last was {rule.id}")
        return findings(rule)


def is_single(rules: tuple[CompiledRule, ...]) -> bool:
    """Whether a part only says what one fact says by itself, such as a row of a check. Most do; they need no engine."""
    if len(rules) != 1 or rules[0].id.startswith(RULE) or len(rules[0].conditions) != 1:
        return False
    condition = rules[0].conditions[0]
    return not condition.negated and not any(isinstance(allowed, str) for _, allowed in condition.fields)


def settled(trace: Iterable[Fired]) -> list[Fired]:
    """A trace with the engine's one free choice taken from it.

    A rule whose patterns fit the same facts in several ways fires for each. These tie (same number, same facts), and
    the library takes them in any order; here they are sorted. Which comes first changes nothing else, for all conclude the
    same.
    """
    found = list(trace)
    places: dict[tuple[str, frozenset[Fact]], list[int]] = {}
    for i, fired in enumerate(found):
        places.setdefault((fired.rule.id, frozenset(fired.premises)), []).append(i)
    for where in places.values():
        for i, fired in zip(where, sorted((found[j] for j in where), key=lambda f: f.premises), strict=True):
            found[i] = fired
    return found


def apart(rules: Iterable[CompiledRule]) -> list[Part]:
    """The parts of these rules; the rules of each in their order."""
    rules = tuple(rules)
    part_of = list(range(len(rules)))  # for each rule an earlier one of its part, or itself

    def first(n: int) -> int:
        while part_of[n] != n:
            n = part_of[n]
        return n

    owner: dict[str, int] = {}
    for n, rule in enumerate(rules):
        for name in _named(rule):
            one, other = sorted((first(n), first(owner.setdefault(name, n))))
            part_of[other] = one
    members: dict[int, list[CompiledRule]] = {}
    for n, rule in enumerate(rules):
        members.setdefault(first(n), []).append(rule)
    return [Part(tuple(found)) for found in members.values()]


def _named(rule: CompiledRule) -> set[str]:
    """The findings that a rule asks for or concludes."""
    asked = {name for c in rule.conditions if c.template == "finding" for name in c.fields[0][1]}
    return asked | {c.subject for c in rule.conclusions if c.kind == "finding"}
