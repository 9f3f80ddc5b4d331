"""The trade knowledge as typed, frozen models: what a folder of YAML files means.

Field descriptions are written for the technician who edits the files; the JSON Schemas and knowledge/README.md carry them.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator
from pydantic.json_schema import SkipJsonSchema

from advisor.model.entry import Entry, Id, Ids, Minutes, Text
from advisor.model.experience import Experience
from advisor.model.phrase import Phrase, WordGroup
from advisor.model.retired import Retired
from advisor.model.rule import Rule, RuleCase
from advisor.model.stage import ASK, Stage
from advisor.model.states import Danger, Move, Needs, SafetyRule, Variable
from advisor.model.wiring import WiringPart
from advisor.model.words import FactorWord, FrequencyWord, ProbabilityWord, ProvokesWord, Words

PointsTo = dict[WiringPart, FactorWord]
Question = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120)]

System = Literal[
    "operator", "linkage", "sensor-drive", "sensor", "connector", "harness", "power", "ground", "controller",
    "steering-input", "hydraulics", "bus", "adjustment",
]  # fmt: skip
Spread = Literal["wire", "plug", "anywhere"]  # of the harness: one wire of the run, one plug, or plugs, runs, splices and grounds
PlaceKind = Literal["none", "splice", "wire", "terminal", "ground-point"]


NO_DIFFERENCE = "Answers that say together that it makes no difference: told together they are no evidence."


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
    answers: dict[Id, Id] = Field(default={}, description="Questions to the operator that it answers by itself: {direction: low}.")
    points_to: PointsTo = Field(default={}, description="Parts of the wiring where a fault is reported so more or less often.")


class Caution(Entry):
    """A safety warning, shown before the step it belongs to."""

    id: Id
    short: Text | None = Field(default=None, description="Two to five words for the line that says it is still in force.")
    says: Text
    why: Text
    source: Id

    @property
    def name(self) -> str:
        """The few words that stand for it once it was told in full."""
        return self.short or self.id.replace("-", " ")


class Tool(Entry):
    """A tool in general words."""

    id: Id
    title: Text
    cautions: tuple[Id, ...] = Field(default=(), description="Cautions shown wherever it is used.")
    source: Id | None = Field(default=None, description="Source of the figures in its title; without figures none is needed.")


SECOND_PERSON = "second-person"  # a second pair of hands, kept among the tools


class Part(Danger):
    """A part of some work that is done in one state of the machine."""

    needs: Needs = Field(default={}, description="How the machine must stand: a variable, and the values that will do.")
    leaves: dict[Id, Id] = Field(default={}, description="How the machine stands afterwards, where the work changes that.")
    steps: tuple[Text, ...] = ()


class Work(Part):
    """What checks and repairs have in common: one part, and further ones that need the machine otherwise."""

    minutes: Minutes
    tools: tuple[Id, ...] = ()
    cautions: tuple[Id, ...] = Field(default=(), description="Cautions that follow neither from state nor from tools.")
    second_person: bool = False
    then: tuple[Part, ...] = Field(default=(), description="Further parts, in their order.")

    @property
    def sequence(self) -> tuple[Part, ...]:
        """Every part in order, itself first."""
        return (self, *self.then)

    def needed(self) -> Iterator[str]:
        """The tools it takes, with the second person where one is needed."""
        yield from self.tools
        if self.second_person:
            yield SECOND_PERSON


class Found(Entry):
    """Something that may be found when the place is open."""

    id: Id
    says: Text


class Repair(Work):
    """What puts the cause right so that it lasts."""

    found: tuple[Found, ...] = Field(default=(), description="What may be found when the place is open, to choose from.")

    parts: tuple[Text, ...] = Field(default=(), description="Parts and material in general words.")
    workmanship: tuple[Text, ...] = Field(min_length=1, description="Points to tick off; each can be seen or measured.")
    keep: tuple[Text, ...] = Field(default=(), description="What to photograph or keep.")
    recalibrate: Text = Field(description="What must be calibrated or taught afterwards, or 'none'.")


class Term(Entry):
    """A word of the trade, told in one plain sentence."""

    id: Id
    says: Text
    also: tuple[Text, ...] = Field(default=(), description="Other words for the same thing.")

    @property
    def words(self) -> tuple[str, ...]:
        """Every way to write it, in small letters."""
        return (self.id, self.id.replace("-", " "), *(w.lower() for w in self.also))


class Kind(Entry):
    """A family of causes that behave alike: evidence may name it, for every cause of it that has no row of its own."""

    id: Id
    title: Text
    says: Text


class Cause(Entry):
    """A thing that can be wrong."""

    id: Id
    title: Text
    system: System
    kind: Id = Field(description="The family of causes that behave alike; see kinds.yaml.")
    place: PlaceKind = Field(default="none", description="What kind of harness element it sits at, if any.")
    point: str | None = Field(default=None, description="Only at terminals of this point of the layout, e.g. controller.")
    adds_resistance: bool = Field(default=False, description="A load test through the place can show it.")
    points_to: PointsTo = Field(default={}, description="Parts of the wiring where it does more or less harm than elsewhere.")
    frequency: FrequencyWord
    complaints: dict[Id, ProbabilityWord] = Field(
        min_length=1, description="For each complaint it can cause: how likely that is what gets reported."
    )
    needs_feature: dict[Id, Ids] = Field(
        default={}, description="Facts of the machine that it needs, each with the answers that fit: {guidance-fitted: yes}."
    )
    told: dict[Id, dict[Id, FactorWord]] = Field(
        default={}, description="For a fact and an answer: how much more often it is told with this cause than usual."
    )
    told_because: str = Field(default="", description="Why the operator tells these things.")
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
    usual: float | None = Field(
        default=None, gt=0, lt=1, description="Of an answer to a question: how often it is given, over all complaints."
    )
    elsewhere: bool = Field(default=False, description="Of a check that asks where: this result is of no place on the harness.")
    points_to: PointsTo = Field(
        default={}, description="Parts of the wiring where the same fault shows this more or less often: {ground: more}."
    )
    below: float | None = Field(default=None, description="The value read is below this; a share where `measure` has `of`.")
    above: float | None = Field(default=None, description="The value read is at or above this; a share where `measure` has `of`.")


EndsResult = Literal["outside-band", "does-not-move", "tracks-disagree", "ends-off", "ends-right"]  # of a check `of: sensor-ends`


class Measure(Entry):
    """What a measuring check reads."""

    unit: Literal["V", "mV", "ohm", "kohm", "A", "mA", "degC", "mm", "deg", "bar", "per-cent", "Hz"]
    meter: Text = Field(description="Meter, function, range and where the probes go.")
    of: Literal["sensor-supply", "motion-limit", "sensor-ends", "wire-ohms"] | None = Field(
        default=None,
        description="sensor-supply: the results' limits are shares of the machine's sensor supply, 0.95 is 95 % of it. "
        "motion-limit: they are shares of the millivolts that would set the motion code, 0.25 is a quarter. "
        "sensor-ends: the output at both ends of travel, judged by the sensor's band and with no limits of its own. "
        "wire-ohms: an ohmmeter on a wire; the screen says what it cannot show.",
    )
    lowest: float = Field(description="A value below this cannot be true: it was misread or mistyped.")
    highest: float = Field(description="A value above this cannot be true.")


Likelihoods = dict[Id, ProbabilityWord]
ALL: Literal["all"] = "all"


class First(Entry):
    """What must be known before a check is worth its work."""

    check: Id
    is_: Ids = Field(alias="is", description="One of these results.")


class Check(Work):
    """Something to look at, feel, ask or measure."""

    id: Id
    title: Text
    system: System
    stage: Stage = Field(description="ask, confirm, look, measure, unplug or dismantle: how far it disturbs the machine.")
    lasts: bool | tuple[Id, ...] = Field(
        default=True,
        description="Whether what it looks for is there although the fault does not show; or the causes and kinds of which it is.",
    )
    provokes: ProvokesWord = Field(default="not", description="How strongly doing it brings a fault that comes and goes.")
    question: Question
    purpose: Text
    mistakes: tuple[Text, ...] = ()
    disturbs: tuple[Id, ...] = Field(default=(), description="What it may change: checks that are worth less afterwards.")
    needs_first: tuple[First, ...] = Field(default=(), description="Results that must be there first, all of them.")
    many: bool = Field(default=False, description="Of a question: more than one answer can be true.")
    no_difference: tuple[Id, ...] = Field(default=(), description=NO_DIFFERENCE)
    machine: str | None = Field(default=None, description="Of a question: the key of the machine file that answers it.")
    at: Literal["splice", "wire", "terminal", "point", "ground-point", "section"] | None = Field(
        default=None, description="It is done at one such place; a point is one plug or end of the harness."
    )
    point: str | None = Field(default=None, description="With `at: point`: only at this point of the layout, e.g. controller.")
    together: Minutes | None = Field(
        default=None, description="Minutes for each further place at the same open plug, done in the same step."
    )
    where: Spread | None = Field(default=None, description="Where on the harness it reacted is asked when it does.")
    sides: bool = Field(default=False, description="Left, right or both is asked when it is not normal.")
    one_sided: dict[Id, ProbabilityWord] = Field(
        default={},
        description="With `sides`: for a cause or kind, and 'otherwise', how likely it shows on one side only when it shows.",
    )
    whole_plug: dict[Id, ProbabilityWord] = Field(
        default={},
        description="With `at: terminal`: for a cause or kind, how likely it shows at the other cavities of its plug as well.",
    )
    measure: Measure | None = None
    results: tuple[Result, ...] = Field(min_length=2)
    covers: Literal["all"] | tuple[Id, ...] = Field(
        default=ALL, description="The kinds of causes that `otherwise` speaks of; of others without a row it says nothing."
    )
    evidence: dict[Id, Likelihoods] = Field(
        default={}, description="For each cause or kind, and 'otherwise': how likely each result is while the fault shows."
    )
    counted: SkipJsonSchema[dict[Id, dict[Id, float]]] = Field(
        default={}, description="Rows of evidence in numbers, from experience.yaml; a check's own file has none."
    )
    family: Id | None = Field(default=None, description="Checks of one family look at the same thing.")
    again: Text | None = Field(
        default=None, description="How to do it a second time where the fault comes and goes; without it, it is done once."
    )
    again_minutes: Minutes = Field(
        default=20, description="Minutes that the second time takes more: until all is warm, or as it was when the fault came."
    )
    source: Id

    @model_validator(mode="after")
    def _told_or_done(self) -> Check:
        if self.stage == ASK:
            if self.evidence or any(r.usual is None for r in self.results):
                raise ValueError("a question has 'usual' at every result and no evidence; causes say what is told of them")
        elif self.one_sided and not self.sides:
            raise ValueError("'one_sided' says something only with 'sides'")
        elif self.whole_plug and self.at != "terminal":
            raise ValueError("'whole_plug' says something only with 'at: terminal'")
        elif not self.steps or not self.mistakes or not self.evidence:
            raise ValueError("a check needs steps, mistakes and evidence")
        return self


class Intake(Entry):
    """A question asked at the start of a case."""

    id: Id
    title: Text
    question: Question
    results: tuple[Result, ...] = ()
    many: bool = Field(default=False, description="More than one answer can be true.")
    no_difference: tuple[Id, ...] = Field(default=(), description=NO_DIFFERENCE)
    machine: str | None = Field(default=None, description="A key of the machine file that answers it: then nobody is asked.")
    run: dict[Id, Text] = Field(default={}, description="How a run after a repair must be made, by answer: 'from cold'.")
    source: Id = Field(default="common-practice", description="Source of how often each answer is given.")


class NotSeparated(Entry):
    """Two causes of one complaint which no check need tell apart, reviewed."""

    id: Id
    causes: tuple[Id, Id]
    reason: Text = Field(description="Why no check tells them apart, and why that does no harm.")


class SamePhysics(Entry):
    """Checks that see one thing of the machine, each by these of its results."""

    id: Id
    sees: Text
    checks: dict[Id, Ids] = Field(min_length=2)
    differs: dict[Id, Text] = Field(
        default={}, description="Causes that are rightly likely in one and unlikely in another, and why."
    )


class Knowledge(Entry):
    """The whole folder."""

    words: Words
    sources: dict[str, Source]
    fault_modes: dict[int, FaultMode]
    complaints: dict[str, Complaint]
    intake: dict[str, Intake]
    kinds: dict[str, Kind] = {}
    glossary: dict[str, Term] = {}
    phrases: dict[str, Phrase] = {}
    word_groups: dict[str, WordGroup] = {}
    variables: dict[str, Variable] = {}
    moves: dict[str, Move] = {}
    safety: dict[str, SafetyRule] = {}
    cautions: dict[str, Caution]
    tools: dict[str, Tool]
    causes: dict[str, Cause]
    checks: dict[str, Check]
    rules: dict[str, Rule]
    rule_cases: tuple[RuleCase, ...]
    pairs_not_separated: dict[str, NotSeparated] = {}
    same_physics: dict[str, SamePhysics] = {}
    retired: Retired = Retired.model_construct()
    experience: Experience = Experience.model_construct()
    digest: str = Field(description="SHA-256 over the files, in order of their names; with a shop's layer two, joined by +.")


def layers(digest: str) -> str:
    """A digest in brief, each layer by its first letters: the shipped knowledge, and the shop's where there was one."""
    shipped, _, shop = digest.partition("+")
    return shipped[:12] + (f" and the shop's {shop[:12]}" if shop else "")
