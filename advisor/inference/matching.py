"""Which facts fit a pattern, and which rules can fire at all: what can be told without running an engine."""

from __future__ import annotations

from collections.abc import Collection, Iterable

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
