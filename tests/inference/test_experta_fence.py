"""The fence around the rule engine: what its import would do to the process, and the faults it keeps out."""

from __future__ import annotations

import logging
import subprocess
import sys
from random import Random

import pytest
from folders import ROOT

from advisor.inference import _experta
from advisor.inference._experta import build, experta
from advisor.inference.compiler import CompiledRule, Conclusion, Condition

IMPORTING = """
import collections, io, logging, sys
stream = io.StringIO()
mine = logging.StreamHandler(stream)
logging.root.addHandler(mine)
logging.root.setLevel(logging.ERROR)
import advisor.inference._experta as fence
assert not hasattr(collections, "Mapping"), "collections.Mapping is left behind"
assert logging.root.handlers == [mine], logging.root.handlers
assert logging.root.level == logging.ERROR
assert logging.getLogger("experta").level == logging.WARNING
assert fence.experta.KnowledgeEngine
print("clean")
"""
ALREADY_THERE = """
import collections, collections.abc, logging
collections.Mapping = collections.abc.Mapping
import advisor.inference._experta
assert collections.Mapping is collections.abc.Mapping, "somebody else's attribute was taken away"
assert logging.root.handlers == []
assert logging.root.level == logging.WARNING
print("clean")
"""
MISSING = """
import collections, logging, sys
sys.modules["experta"] = None
try:
    import advisor.inference._experta
except ImportError:
    assert not hasattr(collections, "Mapping"), "collections.Mapping is left behind"
    assert logging.root.handlers == []
    print("clean")
"""


@pytest.mark.parametrize("code", [IMPORTING, ALREADY_THERE, MISSING], ids=["handlers", "mapping-there", "missing"])
def test_the_import_leaves_the_process_as_it_was(code: str) -> None:
    """No `collections.Mapping`, no handler and no level of the root logger is left changed, even if the import fails."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60, check=False
    )
    assert (done.stdout, done.stderr) == ("clean\n", "")


def test_the_engine_does_not_chatter() -> None:
    """Even with the whole program at debug level the engine's own messages stay out."""
    assert logging.getLogger("experta").level == logging.WARNING
    assert not logging.getLogger("experta.watchers.RULES").isEnabledFor(logging.INFO)


class Given(experta.Fact):  # type: ignore[misc, name-defined]
    """A fact outside of the fence, to show the library's own behaviour."""


def raw_engine(count: int, fired: list[int], saliences: list[int]) -> object:
    """Rules `a and not b(i)`, built straight on the library."""

    def body(i: int):  # type: ignore[no-untyped-def]
        def function(self: object) -> None:
            fired.append(i)

        return function

    rules = {f"r{i}": experta.Rule(Given(a=1) & ~Given(b=i), salience=saliences[i])(body(i)) for i in range(count)}
    return type("Raw", (experta.KnowledgeEngine,), rules)()


def blocked_that_fire(saliences: list[int]) -> int:
    """How many rules fire although each, one after the other, was blocked before the run."""
    wrong = 0
    for blocked in range(len(saliences)):
        fired: list[int] = []
        engine = raw_engine(len(saliences), fired, saliences)
        engine.reset()  # type: ignore[attr-defined]
        engine.declare(Given(a=1))  # type: ignore[attr-defined]
        engine.declare(Given(b=blocked))  # type: ignore[attr-defined]
        engine.run()  # type: ignore[attr-defined]
        wrong += blocked in fired
    return wrong


def test_equal_salience_lets_blocked_rules_fire() -> None:
    """The reason for a salience of its own for every rule: with equal ones the library fires rules that are blocked.

    When this test fails the library has been mended, and the numbering of rules may go.
    """
    assert blocked_that_fire([0] * 30) > 0


def test_a_salience_of_its_own_keeps_blocked_rules_quiet() -> None:
    """The very same rules never fire once blocked when each has a number of its own."""
    assert blocked_that_fire(list(range(30))) == 0


def compiled(number: int, *conditions: Condition) -> CompiledRule:
    return CompiledRule(f"rule:n-{number}", number, conditions, (Conclusion("advice", text="x"),), "Made up.", "from-memory")


@pytest.mark.parametrize("seed", range(8))
def test_blocked_rules_never_fire_through_the_fence(seed: int) -> None:
    """Of forty rules, exactly those whose forbidden answer was not given fire, whatever the order of the facts."""
    from advisor.inference.facts import Fact, fact

    dice = Random(seed)
    rules = tuple(
        compiled(n, Condition("complaint", (("id", ("c",)),)), Condition("answered", (("check", (f"k-{n}",)),), negated=True))
        for n in range(1, 41)
    )
    fired: list[str] = []

    def fire(rule: CompiledRule, premises: tuple[Fact, ...]) -> list[Fact]:
        fired.append(rule.id)
        return []

    given = dice.sample(range(1, 41), 20)
    facts = [fact("complaint", "c"), *(fact("answered", f"k-{n}", "r", "") for n in given)]
    engine = build(rules, fire)
    for _ in range(3):
        dice.shuffle(facts)
        fired.clear()
        engine.reset()
        for f in facts:  # one by one, so that rules are activated first and blocked afterwards
            engine.declare(_experta.declared(f))
        engine.run()
        assert fired == [f"rule:n-{n}" for n in range(40, 0, -1) if n not in given]
