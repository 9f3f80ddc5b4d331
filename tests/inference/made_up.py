"""Made-up rules and facts, few in words and rich in joins and negations, for the tests of the engine."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from advisor.inference.compiler import CompiledRule, compile_rules
from advisor.inference.facts import Fact, fact
from advisor.model.knowledge import Knowledge
from advisor.model.rule import Rule

CHECKS, RESULTS, PLACES, CIRCUITS, FINDINGS = (
    ("c-a", "c-b"),
    ("r-x", "r-y", "skipped"),
    ("", "p-1", "p-2"),
    ("k-1", "k-2"),
    ("f-1", "f-2", "f-3"),
)
VERDICTS = ("over", "within", "unsure")


def rule(name: str, *when: dict[str, Any], finding: str | None = None) -> Rule:
    """A rule that concludes a finding, or else gives an advice."""
    then = {"advice": f"Advice of {name}."} if finding is None else {"finding": finding, "says": f"{finding} holds."}
    return Rule.model_validate({"id": name, "when": when, "then": [then], "because": "Made up.", "source": "from-memory"})


def compiled(*rules: Rule) -> tuple[CompiledRule, ...]:
    """These rules compiled, without checks or failure modes beside them."""
    empty: dict[str, Any] = {
        name: {} for name in ("sources", "fault_modes", "complaints", "intake", "cautions", "tools", "causes", "checks")
    }
    return compile_rules(Knowledge.model_construct(**empty, rules={r.id: r for r in rules}, rule_cases=(), digest=""))


def answered(check: str, result: str = "r-x", place: str = "") -> Fact:
    return fact("answered", check, result, place)


def judged(verdict: str, circuit: str) -> Fact:
    return fact("judged", "load-test", verdict, circuit)


OPEN = fact("case", "open")

some_facts = st.lists(
    st.builds(answered, st.sampled_from(CHECKS), st.sampled_from(RESULTS), st.sampled_from(PLACES))
    | st.builds(judged, st.sampled_from(VERDICTS), st.sampled_from(CIRCUITS)),
    max_size=9,
).map(lambda found: (OPEN, *dict.fromkeys(found)))  # fmt: skip


def _maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


@st.composite
def patterns(draw: st.DrawFn, findings: tuple[str, ...]) -> dict[str, Any]:
    """One pattern, in a third of the cases negated; places and circuits may be variables."""
    kind = draw(st.sampled_from(["answer", "answer", "reading", *(["finding"] if findings else [])]))
    found: dict[str, Any]
    if kind == "answer":
        found = {"answer": draw(st.sampled_from(CHECKS)), "place": draw(_maybe(st.sampled_from(["$p", "$q", "p-1"])))}
        found["is"] = draw(_maybe(st.lists(st.sampled_from(RESULTS), min_size=1, max_size=2, unique=True)))
    elif kind == "reading":
        found = {"reading": "load-test", "circuit": draw(_maybe(st.sampled_from(["$k", "$p", "k-1"])))}
        found["is"] = draw(_maybe(st.lists(st.sampled_from(VERDICTS), min_size=1, max_size=2, unique=True)))
    else:
        found = {"finding": draw(st.sampled_from(findings))}
    found = {key: value for key, value in found.items() if value is not None}
    return {"not": found} if draw(st.integers(0, 2)) == 0 else found


@st.composite
def rule_sets(draw: st.DrawFn) -> tuple[Rule, ...]:
    """Two to seven rules; each may use findings of lower number than it concludes, so that no ring arises."""
    found = []
    for number in range(draw(st.integers(2, 7))):
        level = draw(st.integers(0, len(FINDINGS)))
        when = draw(st.lists(patterns(FINDINGS[:level]), min_size=1, max_size=3))
        found.append(rule(f"r-{number}", *when, finding=FINDINGS[level] if level < len(FINDINGS) else None))
    return tuple(draw(st.permutations(found)))
