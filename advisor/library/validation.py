"""Plain data to typed models: pydantic's complaints reworded for the person who edits the file."""

from __future__ import annotations

from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from advisor.errors import Problem, nearest
from advisor.library.reader import Document, Path_

Model = TypeVar("Model", bound=BaseModel)

_KINDS = {
    "string_type": "a text is wanted here", "float_type": "a number is wanted here", "float_parsing": "a number is wanted here",
    "int_type": "a whole number is wanted here", "int_parsing": "a whole number is wanted here",
    "int_from_float": "a whole number is wanted here",
    "bool_type": "true or false is wanted here", "bool_parsing": "true or false is wanted here",
    "tuple_type": "a list is wanted here", "list_type": "a list is wanted here",
    "dict_type": "a mapping (key: value) is wanted here",
    "model_type": "a mapping (key: value) is wanted here", "model_attributes_type": "a mapping (key: value) is wanted here",
    "too_short": "this list is too short", "too_long": "this list is too long", "string_too_short": "this text is empty",
}  # fmt: skip


def _worded(error: Any, model: type[BaseModel]) -> tuple[str, str]:
    """What is wrong and the nearest right thing, from one of pydantic's errors."""
    kind, value, context = error["type"], error["input"], error.get("ctx", {})
    name = str(error["loc"][-1]) if error["loc"] else ""
    if kind == "missing":
        return f"'{name}' is missing", "add it; knowledge/README.md shows where"
    if kind == "extra_forbidden":
        fields = {f.alias or n for n, f in model.model_fields.items()}
        return f"'{name}' is not a key here", nearest(name, fields)
    if kind == "literal_error":
        expected = [w.strip(" '") for w in str(context["expected"]).replace(" or ", ", ").split(",")]
        return f"'{value}' is not a word known here", nearest(value, expected)
    if kind == "string_pattern_mismatch":
        return f"'{value}' is not an id", "use small letters, digits and single hyphens"
    if kind == "string_too_long":
        return f"this text is longer than {context['max_length']} characters ({len(str(value))})", "shorten it"
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        bound = next(iter(context.values()))
        words = {"gt": "greater than", "ge": "at least", "lt": "less than", "le": "at most"}[next(iter(context))]
        return f"{value} is out of range", f"it must be {words} {bound:g}"
    if kind == "value_error":
        return str(context.get("error", error["msg"])), ""
    return _KINDS.get(kind, error["msg"][:1].lower() + error["msg"][1:]), ""


def _inner_model(model: type[BaseModel], loc: Path_) -> type[BaseModel]:
    """The model that owns the key at the end of a path, as far as the path can be followed by field names."""
    for step in loc[:-1]:
        if isinstance(step, int):
            continue
        field = next((f for n, f in model.model_fields.items() if step in (n, f.alias)), None)
        inner = _models_in(field.annotation) if field else []
        if not inner:
            return model
        model = inner[0]
    return model


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [m for part in getattr(annotation, "__args__", ()) for m in _models_in(part)]


def build(model: type[Model], data: Any, document: Document, prefix: Path_) -> tuple[Model | None, list[Problem]]:
    """A model from the part of a document at `prefix`, or None and everything wrong with it."""
    try:
        return model.model_validate(data), []
    except ValidationError as failure:
        problems = []
        errors = failure.errors()
        for error in errors:
            loc = tuple(error["loc"])
            if error["type"] == "too_short" and any(e["loc"][: len(loc)] == loc != e["loc"] for e in errors):
                continue  # short only because its broken items were not counted
            what, hint = _worded(error, _inner_model(model, loc))
            problems.append(Problem(document.locate((*prefix, *loc)), what, hint))
        return None, problems
