"""The compiled rules run by an independent engine: CLIPS, through clipspy.

A template becomes a deftemplate with text slots, a rule a defrule with its salience and bound patterns. The right-hand
side reports the firing with the facts it matched, and asserts the findings; nothing of our own engine is used.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

import clips

from advisor.inference.compiler import CompiledRule, Condition
from advisor.inference.facts import TEMPLATES, Fact

Firing = tuple[str, tuple[Fact, ...]]  # rule id, premises in the order of the rule's conditions


def firings(fired: Iterable[Any]) -> Counter[Firing]:
    """What our own engine fired, in the form the peer gives."""
    return Counter((f.rule.id, f.premises) for f in fired)


class Peer:
    """One CLIPS environment with one set of rules."""

    def __init__(self, rules: Iterable[CompiledRule]) -> None:
        self._env = clips.Environment()
        self._fired: list[Firing] = []
        self._names: list[str] = []
        for name, fields in TEMPLATES.items():
            slots = " ".join(f"(slot {field} (type STRING))" for field in fields)
            self._env.build(f"(deftemplate {_template(name)} {slots})")
        self._env.define_function(self._report, "report")
        for rule in rules:
            self._env.build(self._defrule(rule))

    def deduce(self, facts: Iterable[Fact]) -> Counter[Firing]:
        """Every firing with its premises, and how often each came."""
        self._fired.clear()
        self._env.reset()
        for fact in facts:
            self._env.find_template(_template(fact.template)).assert_fact(**dict(fact.fields))
        self._env.run()
        return Counter(self._fired)

    def _report(self, number: int, *matched: Any) -> None:
        self._fired.append((self._names[int(number)], tuple(map(_fact, matched))))

    def _defrule(self, rule: CompiledRule) -> str:
        number = len(self._names)
        self._names.append(rule.id)
        patterns, bound = [], []
        for i, condition in enumerate(rule.conditions):
            if condition.negated:
                patterns.append(f"(not {_pattern(condition)})")
            else:
                bound.append(f"?f{i}")
                patterns.append(f"?f{i} <- {_pattern(condition)}")
        findings = [f"(assert ({_template('finding')} (id {_text(c.subject)})))" for c in rule.conclusions if c.kind == "finding"]
        body = " ".join([f"(report {number} {' '.join(bound)})", *findings])
        return f"(defrule rule-{number} (declare (salience {rule.salience})) {' '.join(patterns)} => {body})"


def _template(name: str) -> str:
    return f"known-{name}"


def _fact(matched: Any) -> Fact:
    name = matched.template.name.removeprefix("known-")
    return Fact(name, tuple((field, str(matched[field])) for field in TEMPLATES[name]))


def _pattern(condition: Condition) -> str:
    tests = [f"({field} {_allowed(allowed)})" for field, allowed in condition.fields]
    return f"({_template(condition.template)} {' '.join(tests)})"


def _allowed(allowed: tuple[str, ...] | str) -> str:
    return f"?v-{allowed[1:]}" if isinstance(allowed, str) else "|".join(map(_text, allowed))


def _text(value: str) -> str:
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
