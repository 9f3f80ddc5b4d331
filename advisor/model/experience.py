"""experience.yaml: numbers counted from a shop's closed and proven cases, in place of what the words are worth."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from advisor.model.entry import Entry, Id, Minutes, Text


def _a_day(written: str) -> str:
    try:
        return date.fromisoformat(written).isoformat()
    except ValueError:
        raise ValueError(f"'{written}' is no day; write it as 2031-03-04") from None


Day = Annotated[str, AfterValidator(_a_day)]

Share = Annotated[float, Field(gt=0, lt=1)]
SLACK = 0.01  # by which written shares may miss one: they are rounded


def _sums_to_one(shares: dict[str, float]) -> None:
    total = sum(shares.values())
    if abs(total - 1) > SLACK:
        raise ValueError(f"these add up to {total:.3g} and not to 1")


class Counted(Entry):
    """What the numbers rest on."""

    cases: int = Field(ge=0, description="Closed and proven cases that were counted.")
    until: str = Field(default="", description="The day on which the newest of them was closed.")
    knowledge: str = Field(default="", description="The knowledge that they were laid over, by the first letters of its digest.")


class CountedShares(Entry):
    """How often each cause came with one complaint."""

    cases: int = Field(ge=1)
    shares: dict[Id, Share] = Field(min_length=1, description="Each cause with its share before any answer; they add up to 1.")
    counts: dict[Id, int] = Field(default={}, description="Each cause with the cases in which it was.")

    @model_validator(mode="after")
    def _whole(self) -> CountedShares:
        _sums_to_one(self.shares)
        return self


class CountedTimes(Entry):
    """What one answer about the machine says, with one complaint."""

    cases: int = Field(ge=1)
    times: dict[Id, Annotated[float, Field(gt=0)]] = Field(description="Each cause: how much more often it came on such machines.")


class CountedRow(Entry):
    """What a check showed for a cause, a kind of causes, or otherwise."""

    cases: int = Field(ge=1)
    chances: dict[Id, Share] = Field(min_length=2, description="Every result with its chance; they add up to 1.")

    @model_validator(mode="after")
    def _whole(self) -> CountedRow:
        _sums_to_one(self.chances)
        return self


class CountedMinutes(Entry):
    """How long a check or a repair really took."""

    times: int = Field(ge=1, description="How often it was timed.")
    minutes: Minutes


class Experience(Entry):
    """experience.yaml: what is not named here stays as the words say."""

    format: Literal[1] = 1
    reviewed_by: Text | None = Field(default=None, description="The person who read the numbers; without a name none is used.")
    reviewed_on: Day | None = Field(default=None, description="The day on which that was, such as 2031-03-04.")
    counted: Counted = Counted.model_construct(cases=0)
    priors: dict[Id, CountedShares] = Field(default={}, description="By complaint.")
    features: dict[Id, dict[Id, dict[Id, CountedTimes]]] = Field(
        default={}, description="By complaint, question about the machine, and answer."
    )
    rows: dict[Id, dict[Id, CountedRow]] = Field(default={}, description="By check, then by cause, kind or 'otherwise'.")
    checks: dict[Id, CountedMinutes] = Field(default={}, description="Minutes of checks.")
    repairs: dict[Id, CountedMinutes] = Field(default={}, description="Minutes of repairs, by cause.")
