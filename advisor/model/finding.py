"""What reasoning concludes: suspects and their shares, the next step, and why."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, NamedTuple, TypeVar, overload

from advisor.model.rule import NEVER

T = TypeVar("T")

NOT_LISTED = "not-listed"  # the cause id of "something not on this list"
NOT_LISTED_TITLE = "Something not on this list"

StepKind = Literal["check", "reading", "repair", "retest", "run", "done"]


@dataclass(frozen=True, order=True)
class Suspect:
    """A cause at a place, or a cause that has no place."""

    cause: str
    place: str | None = None


class Share(NamedTuple):
    """A line of the ranking: a cause, the place that holds most of it if one does, and the share of all hypotheses.

    A tuple, for a long case has a hundred after every event.
    """

    cause: str
    place: str | None  # named only when it holds more than half of the cause's share
    title: str
    share: float
    places: int = 0  # how many places of the layout it can sit at


class Bearing(NamedTuple):
    """How one answer or rule bears on one suspect, in decibans against the causes the check does not name.

    A tuple, for every answer has one for each cause that its check names.
    """

    cause: str
    decibans: float


SAYS_LITTLE = 0.7  # a chance that the fault shows at which finding nothing says little; a judgement, no source
QUIET = "It was quiet while you looked: this says little."


@dataclass(frozen=True)
class Because:
    """One branch of a trail: what was known, the rule that fired on it, and what it said."""

    rule: str
    premises: tuple[str, ...]
    says: str
    source: str
    moved: tuple[Bearing, ...] = ()
    showing: float = 1.0  # of an answer that was normal: the chance that the fault showed while somebody looked

    @property
    def quiet(self) -> bool:
        """Whether a check found nothing while the fault may well not have shown."""
        return self.showing <= SAYS_LITTLE


@dataclass(frozen=True)
class Held:
    """A hold in force."""

    target: str  # a check, a stage or a cause's repair
    kind: Literal["check", "stage", "cause"]
    until: str  # what has to come first, or that it is not for this machine and why
    rule: str

    @property
    def never(self) -> bool:
        """Whether it is not for this machine, so that nothing ends the hold."""
        return self.until.startswith(NEVER)


@dataclass(frozen=True)
class Outcome:
    """One result a step can have: how likely it is now, and what would lead the ranking then."""

    result: str
    says: str
    chance: float
    leads_to: str
    share: float


@dataclass(frozen=True)
class MoveStep:
    """One move on the way to a step."""

    move: str
    point: str | None
    minutes: float
    to: tuple[tuple[str, str], ...]  # variables of the machine, and their values then


@dataclass(frozen=True)
class Leg:
    """The way to one part of a step, and what that part leaves changed."""

    moves: tuple[MoveStep, ...]
    stand: tuple[tuple[str, str], ...] = ()  # how the machine stands while it is done, every variable
    leaves: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Step:
    """What to do next, and why in words and numbers."""

    kind: StepKind
    id: str  # check id, cause id for a repair; load-test for a reading
    title: str
    place: str | None = None
    circuit: str | None = None
    start: str | None = None
    end: str | None = None
    places: tuple[str, ...] = ()  # every place of one open plug that is done in this step; else empty
    minutes: float = 0  # of the step itself with the moves to it
    legs: tuple[Leg, ...] = ()  # the way to each part of it
    missing: tuple[str, ...] = ()  # tools, states or people that it takes and that are not here
    again: bool = False  # a check that was done before and may show more now
    to_the_end: float = 0  # minutes expected from here until the fault is shown gone, this step included
    reason: tuple[str, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    separates: tuple[str, ...] = ()

    @property
    def key(self) -> tuple[str, ...]:
        """What tells a check or a load test from every other one."""
        if self.circuit is not None:
            return self.id, self.circuit, self.start or "", self.end or ""
        return self.id, self.place or ""


Verdict = Literal["over", "within", "unsure"]


@dataclass(frozen=True)
class Judged:
    """A load-test reading of one run, judged. Volts and ohms; `start` and `end` are in path order."""

    circuit: str
    start: str
    end: str
    reference: float
    loaded: float
    drop_volts: float
    limit_volts: float
    expected_volts: float | None  # from the wire's size and length; None when the layout does not give them
    standard_uncertainty: float
    probability_over: float
    verdict: Verdict
    excess_ohms: float  # beyond a sound run, with an interval of about 95 %
    excess_low: float
    excess_high: float
    meter: str  # its specification
    advice: str = ""  # for an unsure verdict: how to make it decisive
    number: int = -1  # of its event; -1 outside a case

    @property
    def run(self) -> str:
        """The run in words."""
        return f"{self.circuit} from {self.start} to {self.end}"


class Later(Sequence[T]):
    """A tuple that is made when it is first asked for: of a long case that of the last step is, and seldom another one."""

    def __init__(self, make: Callable[[], tuple[T, ...]]) -> None:
        self._make = make

    @cached_property
    def _made(self) -> tuple[T, ...]:
        return self._make()

    @overload
    def __getitem__(self, at: int) -> T: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[T, ...]: ...
    def __getitem__(self, at: int | slice) -> T | tuple[T, ...]:
        return self._made[at]

    def __len__(self) -> int:
        return len(self._made)

    def __eq__(self, other: object) -> bool:
        return self._made == (other._made if isinstance(other, Later) else other)

    def __hash__(self) -> int:
        return hash(self._made)

    def __repr__(self) -> str:
        return repr(self._made)


@dataclass(frozen=True)
class Assessment:
    """Everything concluded from a case as it stands."""

    ranking: tuple[Share, ...]  # causes, greatest first
    suspects: Sequence[tuple[Suspect, str, float]]  # suspect, title, share; greatest first
    because: tuple[Because, ...]
    findings: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()  # caution ids that rules add
    holds: tuple[Held, ...] = ()
    readings: tuple[Judged, ...] = ()
    robustness: float | None = None  # share of single-word changes of the knowledge under which the leader still leads
    next: Step | None = None
    alternatives: tuple[Step, ...] = ()
    to_the_end: Mapping[tuple[str, ...], float] = field(default_factory=dict)  # minutes, by `Step.key` of every open check
    messages: tuple[str, ...] = field(default=())

    @property
    def leading(self) -> Share:
        return self.ranking[0]
