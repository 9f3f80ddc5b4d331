"""A case: an append-only list of events about one machine's complaint, and the state that is a fold of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

NORMAL = "normal"  # stands for whichever result of a check is its normal one
SKIPPED = "skipped"
# Questions of the intake that are not the knowledge's. The layout is asked where no machine file was given.
HOW_LONG = "how-long"  # the question how long the fault stays once it has come
STAYED_GOOD = "stayed-good"  # the question how long the fault stayed away after something was tried
CODES, OCCURRENCES, HOURS, LAYOUT = "codes", "occurrences", "hours", "layout"
COMPLAINT, OPERATOR_WORDS = "complaint", "operator-words"
HEARD = "heard:"  # before the id of a question to the operator that his words answer


Side = Literal["left", "right", "both"]


class _Event(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, defer_build=True)

    at: datetime | None = Field(default=None, description="UTC; None in scenarios.")


class Opened(_Event):
    """The case begins: complaint, machine, codes and conditions."""

    event: Literal["opened"] = "opened"
    complaint: str
    machine: dict[str, Any] | None = None  # the whole machine file, so that a case travels alone; None: generic layout
    layout: str | None = None  # which generic layout, where it is not the first of them
    codes: tuple[str, ...] = ()  # as typed
    intake: dict[str, tuple[str, ...]] = {}
    occurrences: int | None = None
    hours: float | None = None
    unavailable: tuple[str, ...] = ()  # tools and setups this technician does not have here
    alone: bool = False  # no second person
    asks: bool = False  # codes, intake, occurrences and hours follow, each in an event of its own
    operator_words: str = ""  # what the operator of this machine said, as it was typed
    heard: dict[str, tuple[str, ...]] = {}  # answers to questions to the operator that were found in his words and confirmed


class Told(_Event):
    """An answer of the intake, written down as it was given. A later one to the same question stands for it."""

    event: Literal["told"] = "told"
    question: str  # of the knowledge's intake, or one of the names above; HEARD with the id of a check
    words: tuple[str, ...] = ()  # all codes so far as typed, ids of answers, or one text as it was said; empty: not known
    number: float | None = None  # of times or of hours; None: not known


class Answered(_Event):
    """A check was done and had this result."""

    event: Literal["answered"] = "answered"
    check: str
    result: str
    also: tuple[str, ...] = ()  # further answers to a question that takes several
    place: str | None = None
    value: float | None = None  # for a measuring check: the number read, in the check's unit
    unit: str | None = None
    values: tuple[float, ...] = ()  # for a check of both ends of travel: volts of the first track, then of the second
    supply: float | None = None  # volts at the sensor's plug that these were judged by; None stands for the nominal supply
    where: str | None = None  # where on the harness it reacted: a point, an element, a circuit or a run; None: not sure
    side: Side | None = None  # on which side it showed; None: not sure

    @property
    def read(self) -> str:
        """The numbers read, with their unit; empty for an answer in words."""
        numbers = self.values or (() if self.value is None else (self.value,))
        return f"{', '.join(f'{v:g}' for v in numbers)} {self.unit or ''}".strip() if numbers else ""


class Reading(_Event):
    """A load test of one run of a circuit. Volts, ohms, amperes."""

    event: Literal["reading"] = "reading"
    circuit: str
    start: str = Field(alias="from")
    end: str = Field(alias="to")
    reference: float
    loaded: float
    load_ohms: float | None = None
    load_amps: float | None = None
    adapter: str | None = None  # adapters and lead set between source, load and meter
    meter: str | None = None  # its specification as printed; None stands for a usual one
    copper_celsius: float | None = None
    fresh: bool = False  # the reference was taken again, though it is the number read with other fittings


class Skipped(_Event):
    """The check was not done."""

    event: Literal["skipped"] = "skipped"
    check: str
    place: str | None = None
    why: str = ""


class Undone(_Event):
    """The event with this number counts no longer; it stays visible."""

    event: Literal["undone"] = "undone"
    number: int


class Corrected(_Event):
    """The event with this number is replaced by another."""

    event: Literal["corrected"] = "corrected"
    number: int
    by: Answered | Reading = Field(discriminator="event")


class Noted(_Event):
    event: Literal["noted"] = "noted"
    text: str


class Moved(_Event):
    """How the machine stands has changed: by a move, by what a step left behind, or as somebody found it."""

    event: Literal["moved"] = "moved"
    move: str | None = None  # None: what the step before left, or as it was found
    point: str | None = None  # at which plug
    to: dict[str, str] = {}  # variables and their values now
    found: bool = False  # somebody looked and said so; no step before or after it is part of it


class SetupChanged(_Event):
    """A setup was entered or left: in cases of older versions, whose machine had setups instead of a state."""

    event: Literal["setup"] = "setup"
    setup: str
    entered: bool


class Limited(_Event):
    """A tool, setup or second person is not to be had here (or is again)."""

    event: Literal["limited"] = "limited"
    what: str  # a tool id, a setup id or "second-person"
    available: bool = False


TaughtWord = Literal["yes", "no", "not-needed"]


class Repaired(_Event):
    event: Literal["repaired"] = "repaired"
    cause: str
    place: str | None = None
    minutes: float | None = None
    points: dict[str, bool] = {}  # workmanship points, answered
    early: bool = False  # done before its proof; the record says so
    found: tuple[str, ...] = ()  # ids of what the knowledge offers as found
    found_words: str = ""
    fitted: str = ""
    kept: str = ""  # photographs, numbers, old parts
    taught: TaughtWord | None = None  # whether what the repair names was calibrated again; None: not said


class Taught(_Event):
    """What a repair wants to be calibrated again was calibrated later, or need not be."""

    event: Literal["taught"] = "taught"
    number: int  # of the repair's event
    taught: TaughtWord


class Retested(_Event):
    """The test that found the fault, done again after the repair."""

    event: Literal["retested"] = "retested"
    by: Answered | Reading = Field(discriminator="event")
    like: Literal["like", "colder", "warmer"] | None = None  # how warm, against the same test before the repair; None: not said


class Ran(_Event):
    """Hours run after the repair, with the number of recurrences."""

    event: Literal["ran"] = "ran"
    hours: float = Field(ge=0)
    recurrences: int = Field(default=0, ge=0)
    stayed: str | None = None  # how long it stayed away before it came back: an answer to STAYED_GOOD; None: not known


class Overridden(_Event):
    """The technician went on although a hold said to wait."""

    event: Literal["overridden"] = "overridden"
    check: str
    hold: str


class Closed(_Event):
    event: Literal["closed"] = "closed"
    cause: str | None = None
    place: str | None = None
    by: str = ""
    reason: str = ""
    machine_hours: float | None = Field(default=None, ge=0)  # hour meter at closing


class Reopened(_Event):
    event: Literal["reopened"] = "reopened"
    reason: str = ""


class MachineChanged(_Event):
    """From here on the case has another machine file. What did not fit was taken back or judged anew by the events after this."""

    event: Literal["machine-changed"] = "machine-changed"
    machine: dict[str, Any]  # the whole machine file, as at the opening


class KnowledgeChanged(_Event):
    """The case goes on with other knowledge than before."""

    event: Literal["knowledge-changed"] = "knowledge-changed"
    digest: str
    before: dict[str, float] = {}  # the ranking as it was shown last, titles and shares; empty when it was not kept


Event = (
    Opened | Told | Answered | Reading | Skipped | Undone | Corrected | Noted | Moved | SetupChanged | Limited | Repaired
    | Taught | Retested | Ran | Overridden | Closed | Reopened | KnowledgeChanged | MachineChanged
)  # fmt: skip
EVENT: TypeAdapter[Event] = TypeAdapter(Annotated[Event, Field(discriminator="event")], config=ConfigDict(defer_build=True))


@dataclass(frozen=True)
class Case:
    """Events in order; an event's number is its index."""

    events: tuple[Event, ...] = ()

    def then(self, event: Event) -> Case:
        return replace(self, events=(*self.events, event))


@dataclass(frozen=True)
class State:
    """What a case's events add up to."""

    opened: Opened | None = None  # with what the intake told since
    told: tuple[str, ...] = ()  # questions of the intake that were answered after the case was opened, in order
    answers: dict[int, Answered] = field(default_factory=dict)  # by event number; corrected and undone ones are gone
    readings: dict[int, Reading] = field(default_factory=dict)
    skipped: dict[int, Skipped] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    stand: dict[str, str] = field(default_factory=dict)  # variables of the machine that were changed, with their values
    setups: tuple[str, ...] = ()  # of a case of an older version
    unavailable: frozenset[str] = frozenset()
    repairs: dict[int, Repaired] = field(default_factory=dict)
    retests: dict[int, Retested] = field(default_factory=dict)
    runs: dict[int, Ran] = field(default_factory=dict)
    withdrawn: frozenset[int] = frozenset()  # numbers of events that were undone or corrected
    closed: Closed | None = None


COLLECTIONS = {
    Answered: "answers", Reading: "readings", Skipped: "skipped", Repaired: "repairs", Retested: "retests", Ran: "runs"
}  # fmt: skip


REMEMBERED = 64  # events after which a growing state is copied


class _Growing:
    """A state while events are added to it: each costs the same, however many there are."""

    def __init__(self) -> None:
        self.opened: Opened | None = None
        self.told: list[str] = []
        self.counted: dict[str, dict[int, Any]] = {name: {} for name in COLLECTIONS.values()}
        self.notes: list[str] = []
        self.stand: dict[str, str] = {}
        self.setups: dict[str, None] = {}
        self.unavailable: set[str] = set()
        self.withdrawn: set[int] = set()
        self.closed: Closed | None = None
        self._given: dict[str, dict[int, Any]] = {}  # the copies that the last state holds, as long as nothing changes them

    def copy(self) -> _Growing:
        """The same, to grow by itself."""
        other = _Growing()
        other.opened, other.closed, other._given = self.opened, self.closed, dict(self._given)
        other.told, other.notes, other.stand, other.setups = [*self.told], [*self.notes], {**self.stand}, {**self.setups}
        other.unavailable, other.withdrawn = {*self.unavailable}, {*self.withdrawn}
        other.counted = {name: dict(kept) for name, kept in self.counted.items()}
        return other

    def grow(self, events: Sequence[Event], start: int, end: int, undone: Set[int]) -> None:
        """Adds the events from one number up to another, but those that were undone."""
        for number in range(start, end):
            if number not in undone:
                self.add(number, events[number])

    def add(self, number: int, event: Event) -> None:
        name = COLLECTIONS.get(type(event))
        if name is not None:
            self._changed(name)[number] = event
            return
        match event:
            case Opened():
                self.opened = event
                self.unavailable = {*event.unavailable, *(("second-person",) if event.alone else ())}
            case Told():
                self.opened = _told(self.opened, event)
                self.told.append(event.question)
            case MachineChanged() if self.opened is not None:
                self.opened = self.opened.model_copy(update={"machine": event.machine})
            case Corrected():
                self.withdrawn.add(event.number)
                for name in [name for name, kept in self.counted.items() if event.number in kept]:
                    del self._changed(name)[event.number]
                self.add(number, event.by)
            case Noted():
                self.notes.append(event.text)
            case Taught():
                if event.number in self.counted["repairs"]:
                    before = self.counted["repairs"][event.number]
                    self._changed("repairs")[event.number] = before.model_copy(update={"taught": event.taught})
            case Moved():
                self.stand.update(event.to)
            case SetupChanged():
                self.setups.pop(event.setup, None)
                if event.entered:
                    self.setups[event.setup] = None
            case Limited():
                (self.unavailable.discard if event.available else self.unavailable.add)(event.what)
            case Closed():
                self.closed = event
            case Reopened():
                self.closed = None

    def _changed(self, name: str) -> dict[int, Any]:
        """What is counted under a name, to be changed."""
        self._given.pop(name, None)
        return self.counted[name]

    def state(self, undone: Set[int]) -> State:
        """The state by now. What did not change is the very object that the state before holds."""
        for name, kept in self.counted.items():
            if name not in self._given:
                self._given[name] = dict(kept)
        return State(
            opened=self.opened, told=tuple(self.told), notes=tuple(self.notes), stand=dict(self.stand), setups=tuple(self.setups),
            unavailable=frozenset(self.unavailable), withdrawn=frozenset(self.withdrawn | undone), closed=self.closed,
            **self._given,
        )  # fmt: skip


def _told(opened: Opened | None, told: Told) -> Opened | None:
    """The opening with an answer of the intake in it."""
    if opened is None:
        return None
    match told.question:
        case "codes":
            return opened.model_copy(update={"codes": told.words})
        case "occurrences":
            return opened.model_copy(update={"occurrences": None if told.number is None else int(told.number)})
        case "hours":
            return opened.model_copy(update={"hours": told.number})
        case "layout":
            return opened.model_copy(update={"layout": next(iter(told.words), None)})
        case "complaint":
            return opened.model_copy(update={"complaint": told.words[0] if told.words else opened.complaint})
        case "operator-words":
            return opened.model_copy(update={"operator_words": " ".join(told.words)})
    if told.question.startswith(HEARD):
        name = told.question.removeprefix(HEARD)
        others = {question: given for question, given in opened.heard.items() if question != name}
        return opened.model_copy(update={"heard": {**others, **({name: told.words} if told.words else {})}})
    kept = {question: given for question, given in opened.intake.items() if question != told.question}
    return opened.model_copy(update={"intake": {**kept, **({told.question: told.words} if told.words else {})}})


def intake_events(case: Case) -> int:
    """How many events at the beginning are answers of the intake: they belong to the opening."""
    return next((n for n, event in enumerate(case.events[1:]) if not isinstance(event, Told)), len(case.events) - 1)


def fold(case: Case) -> State:
    """State of a case: the fold of its events in order.

    An event that was undone is passed over as if it had never been: undoing a correction brings the corrected answer back.
    """
    undone = {e.number for e in case.events if isinstance(e, Undone)}
    growing = _Growing()
    growing.grow(case.events, 0, len(case.events), undone)
    return growing.state(undone)


def folds(case: Case) -> Iterator[State]:
    """The state after each event, each equal to `fold` of the case up to there; all of them for little more than the last.

    Every so many events it is remembered, so that taking one back begins shortly before that one.
    """
    undone: set[int] = set()
    growing, remembered = _Growing(), [(0, _Growing())]
    for number, event in enumerate(case.events):
        if number % REMEMBERED == 0 and number:
            remembered.append((number, growing.copy()))
        if isinstance(event, Undone):
            undone.add(event.number)
            while remembered[-1][0] > max(0, event.number):
                remembered.pop()
            start, before = remembered[-1]
            growing = before.copy()
            growing.grow(case.events, start, number + 1, undone)
        elif number not in undone:
            growing.add(number, event)
        yield growing.state(undone)
