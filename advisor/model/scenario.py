"""A scenario: a whole case written down beforehand, and what must come out of it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema, model_validator

from advisor.model.machine import Machine


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, defer_build=True)


class Expectation(_Entry):
    """What must come out."""

    leading: str
    place: str | None = None
    share: float = Field(default=0.0, ge=0, le=1, description="At least this share.")
    within: int | None = Field(default=None, ge=1, description="Answers until it leads and stays leading.")


class ScenarioIntake(_Entry):
    """What is known at the start. Other keys are intake questions of the knowledge."""

    model_config = ConfigDict(frozen=True, extra="allow", defer_build=True)

    occurrences: Annotated[int, Field(ge=0)] | None = None
    hours: Annotated[float, Field(gt=0)] | None = None


# How a load test was taken, where that differs from the usual.
CONDITIONS = ("adapter", "load_ohms", "load_amps", "meter", "copper_celsius", "fresh")
# What a line of `answers` may hold besides the word that says what kind it is.
_LOAD_TEST = frozenset({"circuit", "from", "to", "reference", "loaded", *CONDITIONS})
_READ = frozenset({"value", "values", "supply", "unit"})
_SPOT = frozenset({"where", "side"})  # where on the harness it reacted, and on which side it showed
KEYS: dict[str, frozenset[str]] = {
    "check": frozenset({"result", "place"}) | _SPOT,
    "reading": _LOAD_TEST | _READ | {"place"} | _SPOT,
    "correct": _READ | {"result", "place"} | _SPOT,
    "skip": frozenset({"place", "why"}),
    "note": frozenset(),
    "repair": frozenset({"place", "minutes", "found", "found_words", "fitted", "kept", "taught"}),
    "retest": _LOAD_TEST | _READ | {"result", "place"} | _SPOT,
    "run": frozenset({"recurrences", "stayed"}),
    "close": frozenset({"place", "by", "reason"}),
    "undo": frozenset(),
}  # fmt: skip


# Keys that hold one name each.
_NAMES = frozenset(
    {"check", "reading", "correct", "skip", "repair", "retest", "close", "place", "circuit", "from", "to", "unit", "where", "side"}
)
_TEXTS = frozenset({"note", "why", "by", "reason"})


def _kind(value: Any) -> str:
    kinds = {list: "a list", tuple: "a list", dict: "a mapping", bool: "yes or no", int: "a number", float: "a number"}
    return kinds.get(type(value), "nothing")


class Line(_Entry):
    """One line of `answers`."""

    model_config = ConfigDict(frozen=True, extra="allow", defer_build=True)

    @model_validator(mode="after")
    def _one_kind(self) -> Line:
        values = self.values
        kinds = [k for k in KEYS if k in values]
        if len(kinds) != 1:
            raise ValueError("a line starts with one of " + ", ".join(KEYS))
        for key in _NAMES & set(values):
            if not isinstance(values[key], str) and not (values[key] is None and key in ("close", "place")):
                raise ValueError(f"'{key}' takes one name, not {_kind(values[key])}")
        for key in _TEXTS & set(values):
            if isinstance(values[key], list | tuple | dict):
                raise ValueError(f"'{key}' takes one text, not {_kind(values[key])}")
        unknown = sorted(set(values) - KEYS[kinds[0]] - {kinds[0]})
        if unknown:
            raise ValueError(f"'{unknown[0]}' does not belong to '{kinds[0]}'")
        return self

    @property
    def values(self) -> dict[str, Any]:
        return dict(self.model_extra or {})

    @property
    def kind(self) -> str:
        return next(k for k in KEYS if k in self.values)


class Scenario(_Entry):
    """A scenario file, format 1."""

    format: Literal[1] = 1
    title: str
    machine: Annotated[Machine | None, WithJsonSchema({"type": ["string", "object", "null"]})] = None
    layout: str | None = Field(default=None, description="Without a machine file: which generic layout, the first if none.")
    complaint: str
    operator_words: str = Field(default="", description="What the operator said, in his own words.")
    codes: Annotated[tuple[str, ...], BeforeValidator(lambda v: [str(x) for x in v] if isinstance(v, list) else v)] = ()
    intake: ScenarioIntake = ScenarioIntake()
    unavailable: tuple[str, ...] = ()
    alone: bool = False
    answers: tuple[Line, ...] = ()
    expect: Expectation | None = None
