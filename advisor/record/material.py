"""What every part of a record is made from: a case with its trail, its state and its assessment, computed once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from functools import cached_property
from itertools import pairwise
from operator import is_
from typing import TYPE_CHECKING

from advisor.errors import InputError
from advisor.model.case import (
    STAYED_GOOD,
    Answered,
    Case,
    Corrected,
    Opened,
    Overridden,
    Ran,
    Reading,
    Repaired,
    State,
    Undone,
    fold,
)
from advisor.model.finding import NOT_LISTED, NOT_LISTED_TITLE, Assessment, Because
from advisor.model.knowledge import Check, Knowledge
from advisor.model.machine import Machine
from advisor.model.place_words import spot_says

if TYPE_CHECKING:
    from advisor.consultation.consultation import Consultation, TrailStep
    from advisor.consultation.situation import Situation
    from advisor.model.finding import Judged

VERDICTS = {"over": "over the limit", "within": "within the limit", "unsure": "too close to call"}
SECOND_PERSON = "second-person"


@dataclass(frozen=True)
class Material:
    """A case as the record tells it. Step numbers are event numbers; step 0 is the opening."""

    consultation: Consultation
    case: Case
    state: State
    opened: Opened
    start: Assessment  # right after the opening
    trail: tuple[TrailStep, ...]
    final: Assessment  # now, with the next step
    zone: tzinfo

    @property
    def knowledge(self) -> Knowledge:
        return self.consultation.knowledge

    @property
    def machine(self) -> Machine:
        return self.consultation.machine

    @cached_property
    def assessments(self) -> tuple[Assessment, ...]:
        """The assessment after each event, the opening first."""
        return (self.start, *(step.after for step in self.trail))

    @cached_property
    def shares(self) -> tuple[dict[str, float], ...]:
        """The share of each cause after each event, the opening first; one and the same object where no share changed."""
        found: list[dict[str, float]] = []
        last = None
        for assessment in self.assessments:
            found.append(found[-1] if assessment.ranking is last else {s.cause: s.share for s in assessment.ranking})
            last = assessment.ranking
        return tuple(found)

    @cached_property
    def turns(self) -> tuple[int, ...]:
        """The steps after which some share may be another; the opening is the first of them."""
        return tuple(n for n, shares in enumerate(self.shares) if not n or shares is not self.shares[n - 1])

    @cached_property
    def first_counted(self) -> dict[tuple[str, tuple[str, ...]], int]:
        """For each rule with its premises the first step after which it counted."""
        found: dict[tuple[str, tuple[str, ...]], int] = {}
        for number, (_, came) in enumerate(self.branches_moved):
            for b in came:
                found.setdefault((b.rule, b.premises), number)
        return found

    @cached_property
    def branches_moved(self) -> tuple[tuple[Sequence[Because], Sequence[Because]], ...]:
        """For each step the branches that went with it, and those that came. The consultation hands out one and the same
        branch for as long as nothing of it changes."""
        every = [a.because for a in self.assessments]
        return (((), every[0]), *(_apart(before, now) for before, now in pairwise(every)))

    @cached_property
    def overridden(self) -> tuple[tuple[int, Overridden], ...]:
        """The steps that did what a rule wanted to wait."""
        return tuple((n, e) for n, e in enumerate(self.case.events) if isinstance(e, Overridden))

    @cached_property
    def waiting(self) -> dict[int, frozenset[str]]:
        """The rules that make something wait, by the identity of an assessment's holds."""
        every = {id(a.holds): a.holds for a in self.assessments}
        return {key: frozenset(f"rule:{held.rule}" for held in holds) for key, holds in every.items()}

    @cached_property
    def replaced(self) -> dict[int, str]:
        """For each event that counts no longer as it was said: what became of it. A correction can be replaced in its turn."""
        found: dict[int, str] = {}
        for number, event in enumerate(self.case.events):
            if isinstance(event, Corrected | Undone):
                fate = f"{'corrected' if isinstance(event, Corrected) else 'taken back'} in step {number}"
                for earlier in (event.number, *self.corrections.get(event.number, ())):
                    if earlier < number:
                        found.setdefault(earlier, fate)
        return found

    @cached_property
    def corrections(self) -> dict[int, tuple[int, ...]]:
        """For each event that was corrected: the steps that did it, in order."""
        found: dict[int, tuple[int, ...]] = {}
        for number, event in enumerate(self.case.events):
            if isinstance(event, Corrected):
                found[event.number] = (*found.get(event.number, ()), number)
        return found

    def told_in(self, number: int) -> int:
        """The step that holds an answer as it counts now: its own, or that of its last correction."""
        return self.corrections.get(number, (number,))[-1]

    def when(self, number: int) -> str:
        """The time of an event in the record's zone; empty when it has none."""
        return shown_time(self.case.events[number].at, self.zone)

    def check(self, check_id: str) -> Check | None:
        return self.knowledge.checks.get(check_id)

    def check_title(self, check_id: str, place: str | None = None) -> str:
        check = self.check(check_id)
        title = check.title if check else check_id
        return f"{title} ({self.machine.told(place)})" if place else title

    def cause_title(self, cause: str, place: str | None = None) -> str:
        entry = self.knowledge.causes.get(cause)
        title = NOT_LISTED_TITLE if cause == NOT_LISTED else entry.title if entry else cause
        return f"{title} ({self.machine.told(place)})" if place else title

    def found(self, repair: Repaired) -> tuple[str, ...]:
        """What was found at a repair, in words: what was chosen, then the technician's own."""
        entry = self.knowledge.causes.get(repair.cause)
        says = {f.id: f.says for f in entry.repair.found} if entry else {}
        return (*(says.get(f, f.replace("-", " ")) for f in repair.found), *((repair.found_words,) if repair.found_words else ()))

    def move_title(self, move: str, point: str | None = None) -> str:
        """A move of the machine in words; in a case of an older version, a setup by its name."""
        entry = self.knowledge.moves.get(move)
        title = entry.title if entry else move.replace("-", " ").capitalize()
        return f"{title} ({point})" if point else title

    @cached_property
    def situation(self) -> Situation:
        """The case as it stands."""
        return self.consultation.situation(self.case)

    def still(self) -> tuple[str, ...]:
        """How the machine stands where that is not as at work, in words."""
        s = self.situation
        told = s.ground.told(s.stand)
        return tuple(value_says(self.knowledge, n, v) for n, v in told.items() if n not in ("position", "pressure"))

    def limit_title(self, what: str) -> str:
        """A tool, a state of the machine or the second person in words."""
        tool = self.knowledge.tools.get(what)
        return "A second person" if what == SECOND_PERSON else tool.title if tool else self.move_title(what)

    def source_title(self, source: str) -> str:
        entry = self.knowledge.sources.get(source)
        return entry.title if entry else source

    def judged(self, reading: Reading) -> Judged:
        from advisor.reasoning.readings import judge

        return judge(self.machine, reading)

    def said(self, by: Answered | Reading) -> str:
        """What an answer or a load test came out as, in words."""
        if isinstance(by, Reading):
            j = self.judged(by)
            return (
                f"Reference {j.reference:.2f} V, loaded {j.loaded:.2f} V: drop {j.drop_volts:.2f} V of {j.limit_volts:.2f} V "
                f"allowed, {VERDICTS[j.verdict]}"
            )
        check = self.check(by.check)
        words = {r.id: r.says for r in check.results} if check else {}
        says = "; ".join(words.get(r, r) for r in (by.result, *by.also))
        says += spot_says(self.machine, by.where, by.side)
        return f"{by.read}: {says}" if by.read else says

    def stayed(self, ran: Ran) -> str:
        """How long a fault stayed away before it came back, as it follows that it did; empty where nobody said."""
        check = self.check(STAYED_GOOD)
        words = {r.id: r.says for r in check.results} if check else {}
        return f". It stayed good: {words.get(ran.stayed, ran.stayed).lower()}" if ran.stayed else ""

    def asked(self, by: Answered | Reading) -> str:
        """The name of the test that an answer or a load test belongs to."""
        if isinstance(by, Reading):
            j = self.judged(by)
            return f"Load test: {j.circuit} from {j.start} to {j.end}"
        return self.check_title(by.check, by.place)


def _apart(one: tuple[Because, ...], other: tuple[Because, ...]) -> tuple[Sequence[Because], Sequence[Because]]:
    """What is only in the one, and what is only in the other. Most of two steps is alike, so what they begin and end with goes."""
    if one is other:
        return (), ()
    begin = _alike(one, other)
    one, other = one[begin:], other[begin:]
    end = _alike(one[::-1], other[::-1])
    one, other = one[: len(one) - end], other[: len(other) - end]
    ids, others = set(map(id, one)), set(map(id, other))
    return [b for b in one if id(b) not in others], [b for b in other if id(b) not in ids]


def _alike(one: tuple[Because, ...], other: tuple[Because, ...]) -> int:
    """With how many of the very same branches two begin."""
    same = list(map(is_, one, other))
    return same.index(False) if False in same else len(same)


def value_says(knowledge: Knowledge, name: str, value: str) -> str:
    """A variable of the machine with its value, in words."""
    variable, _, point = name.partition(":")
    entry = knowledge.variables.get(variable)
    words = next((v.says for v in entry.values if v.id == value), value) if entry is not None else value
    return f"{point}: {words}" if point else words


def per_cent(share: float) -> str:
    """A share in per cent; never 0 or 100 for what is not quite that."""
    if 0 < share < 0.005:
        return "under 1%"
    return "over 99%" if 0.995 <= share < 1 else f"{share:.0%}"


def sure(probability: float) -> str:
    """A measured or reasoned probability in per cent: it never reads as certain, however far its digits have run out."""
    if not 0.001 <= probability <= 0.999:
        return "less than 0.1%" if probability < 0.5 else "more than 99.9%"
    text = f"{probability:.0%}" if 0.05 <= probability <= 0.95 else f"{probability:.1%}"
    return text.replace(".0%", "%")


def times_back(recurrences: int) -> str:
    """How often a fault came back, in words."""
    if not recurrences:
        return "The fault did not come back"
    return f"The fault came back {recurrences} time{'s' if recurrences > 1 else ''}"


def titled(title: str, says: str) -> str:
    """What came of something under its title; a question needs no colon."""
    return f"{title} {says}" if title.endswith("?") else f"{title}: {says}"


def shown_time(at: datetime | None, zone: tzinfo) -> str:
    return "" if at is None else utc(at).astimezone(zone).strftime("%Y-%m-%d %H:%M")


def utc(at: datetime) -> datetime:
    """A time in UTC; one without a zone is taken to be UTC already."""
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)


def gather(consultation: Consultation, case: Case, now: datetime) -> Material:
    """Everything that a record needs of a case. Raises InputError for a case without its opening."""
    state = fold(case)
    if not case.events or not isinstance(case.events[0], Opened) or state.opened is None:
        raise InputError("this case holds no complaint yet", "Open it with a complaint first.")
    trail = consultation.trail(case)
    start = trail[0].before if trail else consultation.assess(case, plan=False)
    return Material(
        consultation, case, state, state.opened, start, trail, consultation.assess(case, robust=True), now.tzinfo or UTC
    )
