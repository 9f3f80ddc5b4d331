"""The fence around experta: the import shim and the building of an engine from compiled rules.

experta 1.9.4 is sound once three things are kept away from it, all measured:
* it imports a frozendict that still wants `collections.Mapping`, gone since Python 3.10;
* its import configures the root logger, which a library must not do;
* rules of equal salience may fire in another order each time, even after they were blocked: every rule gets its own.
"""

from __future__ import annotations

import collections
import collections.abc
import logging
from collections.abc import Callable, Sequence
from typing import Any

from advisor.inference.compiler import CompiledRule, Condition
from advisor.inference.facts import Fact

Fire = Callable[[CompiledRule, tuple[Fact, ...]], Sequence[Fact]]


def _import() -> Any:
    """Imports experta, undoing what its import does to the process."""
    handlers, level = logging.root.handlers[:], logging.root.level
    had = hasattr(collections, "Mapping")
    if not had:
        collections.Mapping = collections.abc.Mapping  # type: ignore[attr-defined]
    try:
        import experta
    finally:
        if not had:
            del collections.Mapping  # type: ignore[attr-defined]
        logging.root.handlers[:] = handlers
        logging.root.setLevel(level)
    logging.getLogger("experta").setLevel(logging.WARNING)
    return experta


experta = _import()


# The library tries a fact against every value that its template's rules ask for, one after the other. This field of our own,
# the first letter of the first field, sends it past most of them.
PILE = "pile"


class Known(experta.Fact):  # type: ignore[misc, name-defined]
    """The one fact class: the template is a field, since a fact class matches only itself."""


def _pattern(condition: Condition, bind: str) -> Any:
    """A condition as a pattern bound to a name; the bound fact is the premise shown in the trace."""
    tests: dict[str, Any] = {"template": condition.template}
    first = condition.fields[0][1]
    if len(first) == 1 and not isinstance(first, str):
        tests[PILE] = first[0][:1]
    for name, allowed in condition.fields:
        if isinstance(allowed, str):
            tests[name] = getattr(experta.MATCH, f"v_{allowed[1:].replace('-', '_')}")
        elif len(allowed) == 1:
            tests[name] = allowed[0]
        else:
            tests[name] = experta.P(frozenset(allowed).__contains__)
    pattern = Known(**tests)
    return ~pattern if condition.negated else bind << pattern


def _function(rule: CompiledRule, fire: Fire) -> Callable[..., None]:
    """The body of a rule: reports the firing with its premises and declares what it concludes."""
    premises = [f"m{i}" for i, c in enumerate(rule.conditions) if not c.negated]

    def body(self: Any, **matched: Any) -> None:
        facts = tuple(_plain(matched[name]) for name in premises)
        for concluded in fire(rule, facts):
            self.declare(declared(concluded))

    body.__name__ = "body"
    return body


def _plain(known: Any) -> Fact:
    return Fact(
        known["template"],
        tuple((k, v) for k, v in known.items() if k not in ("template", PILE) and isinstance(k, str) and not k.startswith("__")),
    )


def declared(fact: Fact) -> Known:
    """A fact in the form that an engine takes."""
    return Known(**{"template": fact.template, PILE: fact.fields[0][1][:1], **dict(fact.fields)})


def build(rules: tuple[CompiledRule, ...], fire: Fire) -> Any:
    """An engine for these rules. The prefix keeps a rule's name from replacing a method of the engine."""
    body: dict[str, Any] = {}
    for rule in rules:
        conditions = [_pattern(c, f"m{i}") for i, c in enumerate(rule.conditions)]
        whole = experta.AND(*conditions) if len(conditions) > 1 else conditions[0]
        body[f"rule:{rule.id}"] = experta.Rule(whole, salience=rule.salience)(_function(rule, fire))
    return type("Rules", (experta.KnowledgeEngine,), body)()
