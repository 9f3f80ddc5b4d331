"""Every example of knowledge/README.md is an entry that the program reads."""

from __future__ import annotations

import re
from typing import Any

import pytest
from folders import REAL, real_knowledge
from pydantic import BaseModel

from advisor.errors import Problem
from advisor.library import references
from advisor.library.entries import LISTS, Spot
from advisor.library.reader import Document, Path_, parse
from advisor.library.validation import build
from advisor.model.entry import Entry
from advisor.model.knowledge import Cause, Check
from advisor.model.rule import Rule, RuleCase
from advisor.model.states import Doing, Move, SafetyRule, States, Variable

README = (REAL / "README.md").read_text(encoding="utf-8")
MODELS: dict[str, type[BaseModel]] = {**LISTS, "states": States, "cause": Cause, "check": Check, "rules": Rule, "cases": RuleCase}
PARTS = {"variables": Variable, "moves": Move}  # of states.yaml
FENCED = re.compile(r"^```yaml ([a-z-]+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
EXAMPLES = [pytest.param(kind, text, id=f"{kind}-{n}") for n, (kind, text) in enumerate(FENCED.findall(README))]


def entries(kind: str, text: str) -> tuple[Document, list[tuple[Any, Spot]]]:
    """The typed entries of an example; a check stands alone, states are two lists, all others one."""
    document = parse(text, f"README.md ({kind})")
    assert document.problems == ()
    items: list[tuple[type[BaseModel], Path_, Any]] = [(MODELS[kind], (i,), item) for i, item in enumerate(document.data)]
    if kind == "check":
        items = [(Check, (), document.data)]
    elif kind == "states":
        items = [(model, (part, i), item) for part, model in PARTS.items() for i, item in enumerate(document.data[part])]
    found = []
    for model, prefix, item in items:
        entry, problems = build(model, item, document, prefix)
        assert problems == []
        found.append((entry, Spot(document, prefix)))
    return document, found


def test_every_kind_of_entry_has_an_example() -> None:
    """No fenced block is left out of the checks below, and none of the kinds has no example."""
    kinds = [p.values[0] for p in EXAMPLES]
    assert set(kinds) == MODELS.keys()
    assert len(kinds) == README.count("```yaml")


@pytest.mark.parametrize(("kind", "text"), EXAMPLES)
def test_each_example_is_an_entry(kind: str, text: str) -> None:
    """The example parses and every field of it is known."""
    _, found = entries(kind, text)
    assert found
    assert all(isinstance(entry, Entry) for entry, _ in found)


@pytest.mark.parametrize(("kind", "text"), EXAMPLES)
def test_the_ids_of_each_example_are_real(kind: str, text: str) -> None:
    """Complaints, causes, checks, tools and the rest named in an example exist in the knowledge or in another example."""
    plural = {"cause": "causes", "check": "checks"}.get(kind, kind)
    found = entries(kind, text)[1]
    by_kind = (
        {kind: [(e, s) for e, s in found if isinstance(e, PARTS[kind])] for kind in PARTS} if kind == "states" else {plural: found}
    )
    rules = {rule.id: rule for p in EXAMPLES if p.values[0] == "rules" for rule, _ in entries("rules", str(p.values[1]))[1]}
    whole = real_knowledge().model_copy(update={"rules": {**real_knowledge().rules, **rules}})
    problems: list[Problem] = references.check(whole, by_kind)
    assert list(map(str, problems)) == []


@pytest.mark.parametrize("model", [Cause, Check, Variable, Move, SafetyRule, Doing], ids=lambda m: m.__name__)
def test_every_field_is_named(model: type[BaseModel]) -> None:
    """A field that the program reads is shown in the page, at least in a remark."""
    fields = model.model_json_schema(by_alias=True)["properties"]  # what a file may hold
    missing = [name for name in fields if not re.search(rf"\b{name}:", README)]
    assert missing == []


def test_every_pattern_and_action_is_named() -> None:
    """Each word that a rule may use stands in the page."""
    for word in ("complaint", "intake", "code", "answer", "reading", "finding", "layout", "repaired", "not"):
        assert f"`{word}:" in README
    for word in ("finding", "prior", "evidence", "discount", "hold", "caution", "advice"):
        assert f"`{word}:" in README
