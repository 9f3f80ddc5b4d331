"""JSON Schemas of the knowledge files, made from the models; editors read them to help people type."""

from __future__ import annotations

import json
from typing import Any

from pydantic import BaseModel

from advisor.library.entries import LISTS
from advisor.model.experience import Experience
from advisor.model.field_case import FieldCase
from advisor.model.knowledge import Cause, Check
from advisor.model.machine import Machine
from advisor.model.question import Ended, Question, Reply
from advisor.model.retired import Retired
from advisor.model.rule import Rule, RuleCase
from advisor.model.scenario import Scenario
from advisor.model.states import States
from advisor.model.words import Words

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schemas() -> dict[str, str]:
    """File name to text, for every kind of file and for the lines of a session."""
    lists: dict[str, type[BaseModel]] = {**LISTS, "causes": Cause, "rules": Rule, "cases": RuleCase}
    single: dict[str, type[BaseModel]] = {
        "words": Words,
        "states": States,
        "retired": Retired,
        "experience": Experience,
        "check": Check,
        "machine": Machine,
        "scenario": Scenario,
        "field-case": FieldCase,
        "session-question": Question,
        "session-ended": Ended,
        "session-reply": Reply,
    }
    made = {f"{name}.schema.json": _listed(model) for name, model in lists.items()}
    made |= {f"{name}.schema.json": {"$schema": DIALECT, **_schema(model)} for name, model in single.items()}
    return {name: json.dumps(schema, indent=1, sort_keys=True) + "\n" for name, schema in sorted(made.items())}


def _schema(model: type[BaseModel]) -> dict[str, Any]:
    return model.model_json_schema(by_alias=True)


def _listed(model: type[BaseModel]) -> dict[str, Any]:
    inner = _schema(model)
    definitions = inner.pop("$defs", {})
    return {"$schema": DIALECT, "type": "array", "items": inner, "$defs": definitions}
