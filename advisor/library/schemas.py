"""JSON Schemas of the knowledge files, made from the models; editors read them to help people type."""

from __future__ import annotations

import json
from typing import Any

from pydantic import BaseModel

from advisor.library.entries import LISTS
from advisor.library.layers import EXTENDS
from advisor.library.overlay import PLACES
from advisor.library.refusals import RETIRABLE, unchangeable
from advisor.library.retiring import Retire
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

_CHANGED = "Changed"  # before the name of a part of which an entry may say a part only
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
    made |= {f"shop-{name}.schema.json": _shop(name, model, many=True) for name, model in lists.items() if name != "cases"}
    made["shop-check.schema.json"] = _shop("checks", Check, many=False)
    made |= {f"{name}.schema.json": {"$schema": DIALECT, **_schema(model)} for name, model in single.items()}
    return {name: json.dumps(schema, indent=1, sort_keys=True) + "\n" for name, schema in sorted(made.items())}


def _shop(kind: str, model: type[BaseModel], *, many: bool) -> dict[str, Any]:
    """The schema of one entry of a shop's file, or of a list of them: a new entry, a change, or a retirement."""
    whole = _schema(model)
    definitions = whole.pop("$defs", {})
    ways: list[dict[str, Any]] = [whole]
    if unchangeable(kind) is None:
        changed = _partial(whole)
        known = changed["properties"].pop("id", None) or changed["properties"].pop("fmi")
        changed["properties"] = {EXTENDS: {**known, "description": "The shipped entry that is changed."}, **changed["properties"]}
        ways.append({**changed, "required": [EXTENDS], "title": f"Change of a {model.__name__}"})
        definitions |= {f"{_CHANGED}{name}": _partial(entry) for name, entry in definitions.items()}
    if kind in RETIRABLE:
        retired = _schema(Retire)
        definitions |= retired.pop("$defs", {})
        ways.append(retired)
    entry = {"anyOf": ways} if len(ways) > 1 else whole
    return {"$schema": DIALECT, **({"type": "array", "items": entry} if many else entry), "$defs": definitions}


def _partial(schema: Any, name: str = "") -> Any:
    """A schema of which nothing is required: an item alone stands for a list of it, and steps may name their places."""
    if isinstance(schema, list):
        return [_partial(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    reference = schema.get("$ref")
    if isinstance(reference, str):
        return {**schema, "$ref": reference.replace("#/$defs/", f"#/$defs/{_CHANGED}")}
    drop = ("required", "minItems", "default", "minProperties")
    found = {k: _partial(v) for k, v in schema.items() if k not in drop and k != "properties"}
    if "properties" in schema:
        found["properties"] = {k: _partial(v, k) for k, v in schema["properties"].items()}
    if found.get("type") != "array":
        return found
    about = {k: found.pop(k) for k in ("title", "description") if k in found}
    forms = [found, found["items"]] if "items" in found else [found]
    if name == "steps":
        listed = {"anyOf": [found, found["items"]]}
        after = {"type": "object", "additionalProperties": listed}
        where = {place: after if place == "after" else listed for place in PLACES}
        forms.append({"type": "object", "properties": where, "additionalProperties": False})
    return {**about, "anyOf": forms}


def _schema(model: type[BaseModel]) -> dict[str, Any]:
    return model.model_json_schema(by_alias=True)


def _listed(model: type[BaseModel]) -> dict[str, Any]:
    inner = _schema(model)
    definitions = inner.pop("$defs", {})
    return {"$schema": DIALECT, "type": "array", "items": inner, "$defs": definitions}
