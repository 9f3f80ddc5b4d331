"""Which facts fit a pattern, and which rules can fire at all: what can be told without running an engine."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping

from advisor.inference.compiler import CompiledRule, Condition
from advisor.inference.facts import Fact, fact


def fits(condition: Condition, known: Fact) -> bool:
    """Whether a fact fits a pattern, whatever its variables stand for."""
    if condition.template != known.template:
        return False
    fields = dict(known.fields)
    return all(isinstance(allowed, str) or fields[name] in allowed for name, allowed in condition.fields)


def findings(rule: CompiledRule) -> tuple[Fact, ...]:
    """The facts that a rule concludes when it fires."""
    return tuple(fact("finding", c.subject) for c in rule.conclusions if c.kind == "finding")


def can_fire(rules: Iterable[CompiledRule], facts: Collection[Fact]) -> tuple[CompiledRule, ...]:
    """The rules that these facts, or any part of them, can fire, in their order.

    A rule needs a fact, given or concluded, for each of its patterns that is not negated. Without one it fires for no part
    of the facts either. Negated patterns and variables are not looked at: a rule that they stop is named for nothing, which
    costs only time.
    """
    rules, known = tuple(rules), set(facts)
    while True:
        found = tuple(r for r in rules if all(c.negated or any(fits(c, f) for f in known) for c in r.conditions))
        concluded = {finding for r in found for finding in findings(r)}
        if concluded <= known:
            return found
        known |= concluded


def simple(rule: CompiledRule) -> bool:
    """Whether what a rule fires by itself can be told fact by fact.

    It feeds itself nothing, it has a pattern that is not negated, and no negated pattern has a variable.
    """
    own = findings(rule)
    return (
        any(not c.negated for c in rule.conditions)
        and not any(fits(c, one) for c in rule.conditions for one in own)
        and not any(c.negated and isinstance(allowed, str) for c in rule.conditions for _, allowed in c.fields)
    )


def matched(rule: CompiledRule, facts: Iterable[Fact]) -> Iterator[tuple[Fact, ...]]:
    """The premises of each firing of a `simple` rule on these facts, a fact for each pattern that is not negated."""
    known = sorted(facts)
    if not any(fits(c, one) for c in rule.conditions if c.negated for one in known):
        yield from _joined([(c, [one for one in known if fits(c, one)]) for c in rule.conditions if not c.negated], {})


def _joined(piles: list[tuple[Condition, list[Fact]]], bound: Mapping[str, str]) -> Iterator[tuple[Fact, ...]]:
    """One fact of each pile in every way in which each variable stands for one value."""
    if not piles:
        yield ()
        return
    (condition, pile), *others = piles
    for one in pile:
        values = dict(one.fields)
        here = dict(bound)
        if all(
            here.setdefault(allowed, values[name]) == values[name] for name, allowed in condition.fields if isinstance(allowed, str)
        ):
            for rest in _joined(others, here):
                yield (one, *rest)
