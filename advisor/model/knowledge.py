"""The trade knowledge as typed, frozen models: what a folder of YAML files means.

Field descriptions are written for the technician who edits the files; the JSON Schemas and knowledge/README.md carry them.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, WithJsonSchema, model_validator

Id = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=48)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
Question = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120)]
Minutes = Annotated[float, Field(ge=0, le=600)]

ProbabilityWord = Literal[
    "almost-no-chance", "very-unlikely", "unlikely", "roughly-even", "likely", "very-likely", "almost-certain"
]
FrequencyWord = Literal["very-rare", "rare", "occasional", "common", "very-common"]
FactorWord = Literal["almost-excluded", "much-less", "less", "more", "much-more"]
System = Literal[
    "linkage", "sensor-drive", "sensor", "connector", "harness", "power", "ground", "controller",
    "steering-input", "hydraulics", "bus", "adjustment",
]  # fmt: skip
PlaceKind = Literal["none", "splice", "wire", "terminal", "ground-point"]
Stage = Literal["confirm", "look", "measure", "unplug", "dismantle"]
STAGES: dict[str, str] = {  # what waits, when a whole stage does
    "confirm": "Seeing the complaint",
    "look": "Checks that only look",
    "measure": "Measuring checks",
    "unplug": "Checks that unplug something",
    "dismantle": "Checks that take something apart",
}


class Entry(BaseModel):
    """Base of every model read from a file: frozen, and no key that is not known."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Band(Entry):
    """A probability word: its published band in per cent and the one value used in arithmetic."""

    low: float = Field(ge=0, le=100)
    high: float = Field(ge=0, le=100)
    used: float = Field(gt=0, lt=1)

    @model_validator(mode="after")
    def _used_inside(self) -> Band:
        if not self.low <= self.used * 100 <= self.high:
            raise ValueError(f"{self.used:g} is outside its band of {self.low:g} % to {self.high:g} %")
        return self


class Words(Entry):
    """words.yaml: what each word is worth in arithmetic; every word has a value."""

    probability: dict[ProbabilityWord, Band]
    frequency: dict[FrequencyWord, Annotated[float, Field(gt=0)]]
    factor: dict[FactorWord, Annotated[float, Field(gt=0)]]
    second_fault_odds: float = Field(gt=0, le=1, description="Odds that a second, separate fault is present as well.")
    unlisted_share: float = Field(gt=0, lt=0.5, description="Share of 'something not on this list' before any answer.")
    unlisted_minutes: Minutes = Field(description="What it costs to go on when the cause is not on the list.")
    source: Id = Field(description="Source of the probability words.")
    planning_source: Id | None = Field(
        default=None, description="Source of every other figure here, and of every `minutes`, `enter` and `leave` of the folder."
    )

    @model_validator(mode="after")
    def _every_word(self) -> Words:
        for words, given in ((ProbabilityWord, self.probability), (FrequencyWord, self.frequency), (FactorWord, self.factor)):
            missing = [w for w in get_args(words) if w not in given]
            if missing:
                raise ValueError(f"the word '{missing[0]}' is missing")
        return self


class Source(Entry):
    """A published source, or one of the two special ones: common-practice and from-memory."""

    id: Id
    title: Text
    kind: Literal["published", "practice", "memory"] = "published"
    where: str = Field(default="", description="Section, table or page.")


class FaultMode(Entry):
    """A failure mode identifier (0-31) in our own short words."""

    fmi: int = Field(ge=0, le=31)
    says: Text = Field(description="What the controller saw, in plain words.")
    suggests: dict[Id, FactorWord] = Field(default={}, description="Causes which it makes more or less likely.")


class Complaint(Entry):
    """What the operator or the controller reports."""

    id: Id
    title: Text
    asks: Text = Field(description="How an operator says it.")
    first: Text = Field(description="What to make sure of before anything else.")


class Setup(Entry):
    """A state of the machine that checks need and share; paid for once while it lasts."""

    id: Id
    title: Text
    enter: Minutes = Field(description="Minutes to reach it.")
    leave: Minutes = Field(default=0, description="Minutes to undo it.")
    steps: tuple[Text, ...] = Field(min_length=1)
    undo: tuple[Text, ...] = Field(default=(), description="How to put the machine back.")
    cautions: tuple[Id, ...] = ()
    excludes: tuple[Id, ...] = Field(default=(), description="Setups that cannot be in place at the same time.")
    second_person: bool = False
    live: bool = Field(
        default=False, description="Power or motion: undone before plugs are pulled, parts come off or a repair begins."
    )
    source: Id | None = Field(default=None, description="Source of the figures in its texts; without figures none is needed.")

    @property
    def ends_by_itself(self) -> bool:
        """Whether leaving it takes no work, such as a state that is only looked at."""
        return not self.undo and not self.leave


class Caution(Entry):
    """A safety warning, shown before the step it belongs to."""

    id: Id
    says: Text
    why: Text
    source: Id


class Tool(Entry):
    """A tool in general words."""

    id: Id
    title: Text
    source: Id | None = Field(default=None, description="Source of the figures in its title; without figures none is needed.")


class Repair(Entry):
    """What puts the cause right so that it lasts."""

    minutes: Minutes
    setups: tuple[Id, ...] = ()
    tools: tuple[Id, ...] = ()
    cautions: tuple[Id, ...] = ()
    parts: tuple[Text, ...] = Field(default=(), description="Parts and material in general words.")
    steps: tuple[Text, ...] = Field(min_length=1)
    workmanship: tuple[Text, ...] = Field(min_length=1, description="Points to tick off; each can be seen or measured.")
    keep: tuple[Text, ...] = Field(default=(), description="What to photograph or keep.")
    recalibrate: Text = Field(description="What must be calibrated or taught afterwards, or 'none'.")


def _as_list(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


def _one_or_list(*kinds: str) -> WithJsonSchema:
    """The schema of a field that takes one value or a list of them."""
    one = {"type": list(kinds) if len(kinds) > 1 else kinds[0]}
    return WithJsonSchema({"anyOf": [one, {"type": "array", "items": one}]})


Ids = Annotated[tuple[Id, ...], BeforeValidator(_as_list), _one_or_list("string")]


class Cause(Entry):
    """A thing that can be wrong."""

    id: Id
    title: Text
    system: System
    place: PlaceKind = Field(default="none", description="What kind of harness element it sits at, if any.")
    point: str | None = Field(default=None, description="Only at terminals of this point of the layout, e.g. controller.")
    adds_resistance: bool = Field(default=False, description="A load test through the place can show it.")
    frequency: FrequencyWord
    complaints: dict[Id, ProbabilityWord] = Field(
        min_length=1, description="For each complaint it can cause: how likely that is what gets reported."
    )
    mechanism: Text = Field(description="How it makes this symptom.")
    tell_tales: tuple[Text, ...] = Field(min_length=1)
    proof: dict[Id, Id] = Field(min_length=1, description="Checks that show it directly, each with the result that does.")
    repair: Repair
    retest: Ids = Field(min_length=1, description="Checks that must come out normal afterwards.")
    source: Id


class Result(Entry):
    """One possible outcome of a check."""

    id: Id
    says: Text
    normal: bool = False
    below: float | None = Field(default=None, description="The value read is below this; a share where `measure` has `of`.")
    above: float | None = Field(default=None, description="The value read is at or above this; a share where `measure` has `of`.")


EndsResult = Literal["outside-band", "does-not-move", "tracks-disagree", "ends-off", "ends-right"]  # of a check `of: sensor-ends`


class Measure(Entry):
    """What a measuring check reads."""

    unit: Literal["V", "mV", "ohm", "kohm", "A", "mA", "degC", "mm", "deg", "bar", "per-cent", "Hz"]
    meter: Text = Field(description="Meter, function, range and where the probes go.")
    of: Literal["sensor-supply", "sensor-ends", "wire-ohms"] | None = Field(
        default=None,
        description="sensor-supply: the results' limits are shares of the machine's sensor supply, 0.95 is 95 % of it. "
        "sensor-ends: the output at both ends of travel, judged by the sensor's band and with no limits of its own. "
        "wire-ohms: an ohmmeter on a wire; the screen says what it cannot show.",
    )
    lowest: float = Field(description="A value below this cannot be true: it was misread or mistyped.")
    highest: float = Field(description="A value above this cannot be true.")


Likelihoods = dict[Id, ProbabilityWord]


class Check(Entry):
    """Something to look at, feel, ask or measure."""

    id: Id
    title: Text
    system: System
    stage: Stage = Field(description="confirm, look, measure, unplug or dismantle: how far it disturbs the machine.")
    question: Question
    purpose: Text
    minutes: Minutes
    setups: tuple[Id, ...] = ()
    tools: tuple[Id, ...] = ()
    cautions: tuple[Id, ...] = ()
    second_person: bool = False
    steps: tuple[Text, ...] = Field(min_length=1)
    mistakes: tuple[Text, ...] = Field(min_length=1)
    disturbs: tuple[Id, ...] = Field(default=(), description="What it may change: checks that are worth less afterwards.")
    at: Literal["splice", "wire", "terminal", "point", "ground-point", "section"] | None = Field(
        default=None, description="It is done at one such place; a point is one plug or end of the harness."
    )
    point: str | None = Field(default=None, description="With `at: point`: only at this point of the layout, e.g. controller.")
    measure: Measure | None = None
    results: tuple[Result, ...] = Field(min_length=2)
    evidence: dict[Id, Likelihoods] = Field(description="For each cause, and 'otherwise': how likely each result is.")
    family: Id | None = Field(default=None, description="Checks of one family look at the same thing.")
    again: Text | None = Field(
        default=None, description="How to do it a second time where the fault comes and goes; without it, it is done once."
    )
    source: Id


Values = Annotated[
    tuple[str | int, ...],
    BeforeValidator(lambda v: v if isinstance(v, list | tuple) else [v]),
    _one_or_list("string", "integer"),
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


class Intake(Entry):
    """A question asked at the start of a case."""

    id: Id
    title: Text
    question: Question
    results: tuple[Result, ...] = ()
    many: bool = Field(default=False, description="More than one answer can be true.")
    machine: Literal["steering"] | None = Field(
        default=None, description="A key of the machine file that answers it: then nobody is asked."
    )
    run: dict[Id, Text] = Field(default={}, description="How a run after a repair must be made, by answer: 'from cold'.")


class NotSeparated(Entry):
    """Two causes of one complaint which no check need tell apart, reviewed."""

    id: Id
    causes: tuple[Id, Id]
    reason: Text = Field(description="Why no check tells them apart, and why that does no harm.")


class Knowledge(Entry):
    """The whole folder."""

    words: Words
    sources: dict[str, Source]
    fault_modes: dict[int, FaultMode]
    complaints: dict[str, Complaint]
    intake: dict[str, Intake]
    setups: dict[str, Setup]
    cautions: dict[str, Caution]
    tools: dict[str, Tool]
    causes: dict[str, Cause]
    checks: dict[str, Check]
    rules: dict[str, Rule]
    rule_cases: tuple[RuleCase, ...]
    pairs_not_separated: dict[str, NotSeparated] = {}
    digest: str = Field(description="SHA-256 over the files, in order of their names.")
