"""Rules of the trade: patterns on what is known, and what follows from them; and the cases that hold them to their word."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from advisor.model.entry import Entry, Id, Ids, Text, one_or_list
from advisor.model.stage import Stage
from advisor.model.words import FactorWord

Values = Annotated[
    tuple[str | int, ...],
    BeforeValidator(lambda v: v if isinstance(v, list | tuple) else [v]),
    one_or_list("string", "integer"),
]


class Pattern(Entry):
    """One condition of a rule. Exactly one of complaint, intake, code, answer, reading, finding, layout, repaired, negated."""

    complaint: Ids | None = None
    intake: Id | None = None
    code: Literal["fmi", "any", "several", "none"] | None = None
    answer: Id | None = None
    reading: Literal["load-test"] | None = None
    finding: Id | None = None
    layout: Id | None = None
    repaired: Id | None = None
    negated: Pattern | None = Field(default=None, alias="not")
    is_: Values | None = Field(default=None, alias="is", description="The value, or a list of values of which one is enough.")
    place: str | None = Field(default=None, description="A place, or a variable such as $here.")
    circuit: str | None = Field(default=None, description="A circuit, or a variable such as $circuit.")


NEVER = "not on this machine: "


class Hold(Entry):
    """What must wait, and for what; or never, and why. Exactly one of check, stage, cause is named, and one of until and never."""

    check: Id | None = None
    stage: Stage | None = None
    cause: Id | None = Field(default=None, description="The repair of this cause waits.")
    until: Text | None = Field(default=None, description="What has to come first.")
    never: Text | None = Field(default=None, description="Why it makes no sense on this machine: 'it has no hinge'.")

    @model_validator(mode="after")
    def _until_or_never(self) -> Hold:
        if (self.until is None) == (self.never is None):
            raise ValueError("a hold says either 'until' or 'never'")
        return self

    @property
    def says(self) -> str:
        """What has to come first; or that it is not for this machine, with the reason."""
        return (self.until or f"{NEVER}{self.never}").rstrip(".")  # more of the sentence follows


class Action(Entry):
    """One conclusion of a rule. Exactly one field besides says."""

    finding: Id | None = None
    says: str = Field(default="", description="The finding in plain words.")
    prior: dict[Id, FactorWord] | None = None
    evidence: dict[Id, FactorWord] | None = None
    discount: Id | None = Field(default=None, description="A check whose answer counts at half strength.")
    hold: Hold | None = None
    caution: Id | None = None
    advice: Text | None = None


class Rule(Entry):
    """When all patterns hold, the actions are concluded."""

    id: Id
    when: tuple[Pattern, ...] = Field(min_length=1)
    then: tuple[Action, ...] = Field(min_length=1)
    because: Text
    source: Id


class RuleCase(Entry):
    """Answers that must fire a rule, or must not."""

    rule: Id
    fires: bool
    complaint: Id | None = None
    intake: dict[str, Any] = {}
    codes: tuple[str, ...] = ()
    answers: tuple[dict[str, Any], ...] = ()
    layout: tuple[Id, ...] = ()
    repaired: tuple[Id, ...] = ()
