"""Deduction from nothing: one engine of the library with all rules in it, made for these facts and thrown away afterwards.

It is what the kept deduction must equal.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from advisor.inference import _experta
from advisor.inference.compiler import CompiledRule
from advisor.inference.engine import Fired
from advisor.inference.facts import Fact
from advisor.inference.matching import findings, fits
from advisor.inference.parts import is_single, settled


def from_nothing(rules: Sequence[CompiledRule], facts: Iterable[Fact]) -> tuple[Fired, ...]:
    """Everything that fires: first what goes through the engine, then what one fact says by itself, in the rules' order."""
    known, trace = sorted(set(facts)), []
    joined = tuple(r for r in rules if not is_single((r,)))

    def fire(rule: CompiledRule, premises: tuple[Fact, ...]) -> tuple[Fact, ...]:
        trace.append(Fired(rule, premises))
        return findings(rule)

    if joined:
        engine = _experta.build(joined, fire)
        engine.reset()
        engine.declare(*map(_experta.declared, known))
        engine.run()
    single = [Fired(r, (f,)) for r in rules if is_single((r,)) for f in known if fits(r.conditions[0], f)]
    return (*settled(trace), *single)
