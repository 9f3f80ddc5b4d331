"""A field case: a machine described from outside, with its hidden fault and what each check shows on it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema, model_validator

from advisor.model.case import Side
from advisor.model.machine import Machine
from advisor.model.scenario import ScenarioIntake

LOAD_TEST = "load-test"  # the one check whose place is a run of a circuit
SUM_SLACK = 0.005  # that chances written with two decimals may miss one by


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, defer_build=True)


Chance = Annotated[float, Field(ge=0, le=1)]


def _chances(value: Any) -> Any:
    return {value: 1.0} if isinstance(value, str) else value


Shown = Annotated[
    dict[str, Chance],
    BeforeValidator(_chances),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "object", "additionalProperties": {"type": "number"}}]}),
]


class Fault(_Entry):
    """What is wrong with the machine, and which other repairs cure it too."""

    cause: str
    place: str | None = None
    also: tuple[str, ...] = Field(default=(), description="Other repairs that cure it: a cause, or CAUSE@PLACE.")
    says: str = ""


class MasterStep(_Entry):
    """One step of the path that a very good technician takes: a check or a repair."""

    check: str | None = None
    repair: str | None = None
    place: str | None = None
    circuit: str | None = Field(default=None, description="Of a load test, with its ends; or all three in 'place'.")
    start: str | None = Field(default=None, alias="from")
    end: str | None = Field(default=None, alias="to")
    why: str = ""

    @model_validator(mode="after")
    def _one(self) -> MasterStep:
        if (self.check is None) == (self.repair is None):
            raise ValueError("a step is either a check or a repair")
        return self

    @property
    def run(self) -> tuple[str, str | None, str | None]:
        """Circuit, start and end of a load test, written apart or as 'CIRCUIT START-END'; None for an end of the circuit."""
        words = self.place or f"{self.circuit or ''} {self.start or ''}-{self.end or ''}"
        circuit, _, ends = words.strip().partition(" ")
        start, _, end = ends.strip().partition("-")
        return circuit, start or None, end or None


class FieldCase(_Entry):
    """A field case file, format 1."""

    format: Literal[1] = 1
    title: str
    story: str = Field(description="For people; the program never reads it while it plays.")
    complaint: str
    codes: Annotated[tuple[str, ...], BeforeValidator(lambda v: [str(x) for x in v] if isinstance(v, list) else v)] = ()
    machine: Annotated[Machine | None, WithJsonSchema({"type": ["string", "object", "null"]})] = None
    intake: ScenarioIntake = ScenarioIntake()
    facts: dict[str, Any] = Field(default={}, description="What the operator would answer; what is left out is not known.")
    unavailable: tuple[str, ...] = ()
    fault: Fault
    ohms: dict[str, Annotated[float, Field(ge=0)]] = Field(default={}, description="Extra resistance of harness elements.")
    good_when_tested: Chance = Field(default=0.0, description="Chance that these joints look sound in one load test.")
    cannot: tuple[str, ...] = Field(default=(), description="Checks that cannot be done on this machine.")
    found: dict[str, Shown] = Field(default={}, description="CHECK or CHECK@PLACE to a result, or to the chance of each.")
    where: dict[str, str] = Field(default={}, description="Where on the harness a check reacts, if not at the fault's place.")
    side: dict[str, Side] = Field(default={}, description="On which side a check shows the fault: left, right or both.")
    master: tuple[MasterStep, ...] = Field(min_length=1)

    @property
    def shown(self) -> dict[tuple[str, str | None], dict[str, float]]:
        """What is found, by check and place."""
        found = {}
        for key, chances in self.found.items():
            check, at, place = key.partition("@")
            found[check, place if at else None] = dict(chances)
        return found
