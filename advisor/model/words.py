"""Words for probabilities, frequencies and factors, and what each is worth in arithmetic: words.yaml."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import Field, model_validator

from advisor.model.entry import Entry, Id, Ids, Minutes

ProbabilityWord = Literal[
    "almost-no-chance", "very-unlikely", "unlikely", "roughly-even", "likely", "very-likely", "almost-certain"
]
FrequencyWord = Literal["very-rare", "rare", "occasional", "common", "very-common"]
FactorWord = Literal["almost-excluded", "much-less", "less", "bit-less", "bit-more", "more", "much-more"]
ProvokesWord = Literal["not", "a-little", "strongly"]


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


class Showing(Entry):
    """How likely a fault that comes and goes shows while somebody looks; judgements."""

    not_counted: float = Field(gt=0, lt=1, description="Nobody said how often it comes.")
    raised: float = Field(ge=1, description="How much more often it comes while somebody works under the conditions that bring it.")
    seen: float = Field(gt=0, lt=1, description="It was seen since the last repair, so it can be brought here.")
    not_seen: float = Field(gt=0, le=1, description="Times this much when it was looked for and did not show.")
    provokes: dict[ProvokesWord, Annotated[float, Field(ge=0, lt=1)]] = Field(
        description="Chance that a check which provokes the fault so much brings it, whatever else."
    )
    lasts_hours: dict[Id, Annotated[float, Field(ge=0)]] = Field(
        default={}, description="Hours that it stays once it has come, by the answer to the question 'how-long'."
    )


class ResultWords(Entry):
    """What a technician types for a result of a check, beside its number and its own words."""

    fine: tuple[str, ...] = Field(default=(), description="Words for 'all is well'. They stand for the normal result alone.")
    fine_results: Ids = Field(default=(), description="Ids of normal results that say that all is well.")
    well: tuple[str, ...] = Field(
        default=(), description="Words of something sound. Alone they never stand for a result that tells of a fault."
    )
    alike: tuple[tuple[str, ...], ...] = Field(default=(), description="Groups of words that say the same.")


class Words(Entry):
    """words.yaml: what each word is worth in arithmetic; every word has a value."""

    probability: dict[ProbabilityWord, Band]
    frequency: dict[FrequencyWord, Annotated[float, Field(gt=0)]]
    factor: dict[FactorWord, Annotated[float, Field(gt=0)]]
    second_fault_odds: float = Field(gt=0, le=1, description="Odds that a second, separate fault is present as well.")
    unlisted_share: float = Field(gt=0, lt=0.5, description="Share of 'something not on this list' before any answer.")
    unlisted_minutes: Minutes = Field(description="What it costs to go on when the cause is not on the list.")
    visit_minutes: Minutes = Field(description="A visit more, when a repair of a fault that comes and goes was in vain.")
    wrong_answer: float = Field(ge=0, lt=0.5, description="Chance that an answer is misread or mistyped, whatever is true.")
    wrong_place: float = Field(
        default=0.2, ge=0, lt=1, description="Chance that the place named as reacting is not where the fault sits."
    )
    other_complaint: float = Field(
        gt=0, lt=0.1, description="Chance that a cause is reported as a complaint which its entry does not name."
    )
    showing: Showing
    result_words: ResultWords = ResultWords.model_construct()
    ask_minutes: Minutes = Field(description="Minutes of a question to the operator.")
    source: Id = Field(description="Source of the probability words.")
    planning_source: Id | None = Field(
        default=None, description="Source of every other figure here, and of every `minutes` of the folder."
    )

    @model_validator(mode="after")
    def _every_word(self) -> Words:
        for words, given in ((ProbabilityWord, self.probability), (FrequencyWord, self.frequency), (FactorWord, self.factor)):
            missing = [w for w in get_args(words) if w not in given]
            if missing:
                raise ValueError(f"the word '{missing[0]}' is missing")
        return self
