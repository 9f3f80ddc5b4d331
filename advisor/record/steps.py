"""Every event of a case as a step of the record: what was asked, what came back, why it counts, how the ranking moved."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from advisor.consultation.intake_words import told_says, told_title
from advisor.model.case import (
    Answered,
    Closed,
    Corrected,
    Event,
    KnowledgeChanged,
    Limited,
    MachineChanged,
    Moved,
    Noted,
    Opened,
    Overridden,
    Ran,
    Reading,
    Reopened,
    Repaired,
    Retested,
    SetupChanged,
    Skipped,
    Taught,
    Told,
    Undone,
    intake_events,
)  # fmt: skip
from advisor.model.finding import Assessment, Because
from advisor.model.knowledge import layers
from advisor.record.material import Material, per_cent, times_back, utc, value_says

if TYPE_CHECKING:
    from advisor.consultation.consultation import TrailStep

SHOWN = 3  # lines of the ranking under each step
STILL = 0.0005  # a share that changes by less did not move
FAINT = 0.5  # decibans under which a rule's word on a cause is left out
SILENT_KINDS = ("noted", "taught", "moved", "setup", "limited", "overridden", "closed", "reopened")
PLAYS = 0.01  # share from which a cause plays a part: its weights are named before those of the rest


@dataclass(frozen=True)
class Weight:
    """What a rule says of one cause, in decibans: above zero for it, below zero against it."""

    cause: str
    title: str
    decibans: float


@dataclass(frozen=True)
class Why:
    """A rule that began to count with a step, that counts otherwise since then, or that counts no longer."""

    rule: str
    says: str
    source: str
    change: Literal["new", "other", "gone"]
    weights: tuple[Weight, ...]


@dataclass(frozen=True)
class Place:
    """A line of the ranking after a step, with its change in the step."""

    cause: str
    title: str
    share: float
    change: float


@dataclass(frozen=True)
class StepView:
    """One event. `at` is UTC in ISO 8601 or empty; `replaced` tells what became of it later."""

    number: int
    at: str
    when: str
    kind: str
    title: str
    question: str
    purpose: str
    came_back: str
    subject: str  # the test that gave a result, with its place; empty for every other event
    result: str  # what it gave
    replaced: str
    why: tuple[Why, ...]
    moved: bool
    ranking: tuple[Place, ...]

    @property
    def tells(self) -> bool:
        """Whether the step could have moved the ranking: moves, notes and the like never do."""
        return self.kind not in SILENT_KINDS


@dataclass(frozen=True)
class _Words:
    """An event in words."""

    title: str
    came_back: str = ""
    question: str = ""
    purpose: str = ""


def steps(m: Material) -> tuple[StepView, ...]:
    """Every event after the opening and its intake, in order."""
    return tuple(_step(m, s) for s in m.trail[intake_events(m.case) :])


def opening_whys(m: Material) -> tuple[Why, ...]:
    """The rules that counted from the start: on the complaint, the codes, the intake and the layout."""
    return _whys(m, 0, None, m.start)


def places(after: Assessment, before: Assessment | None = None, count: int = SHOWN) -> tuple[Place, ...]:
    """The head of a ranking with the change of each share."""
    earlier = {s.cause: s.share for s in before.ranking} if before else {}
    return tuple(Place(s.cause, s.title, s.share, s.share - earlier.get(s.cause, s.share)) for s in after.ranking[:count])


def _step(m: Material, step: TrailStep) -> StepView:
    number, event = step.number, step.event
    words = in_words(m, event)
    was, now = m.shares[number - 1], m.shares[number]
    moved = was is not now and any(abs(share - was.get(cause, 0.0)) >= STILL for cause, share in now.items())
    ranking = tuple(Place(s.cause, s.title, s.share, s.share - was.get(s.cause, s.share)) for s in step.after.ranking[:SHOWN])
    at = utc(event.at).isoformat() if event.at else ""
    by = event if isinstance(event, Answered | Reading) else event.by if isinstance(event, Corrected | Retested) else None
    return StepView(
        number, at, m.when(number), event.event, words.title, words.question, words.purpose, words.came_back,
        m.asked(by) if by else "", m.said(by) if by else "", m.replaced.get(number, ""),
        _whys(m, number, step.before, step.after), moved, ranking,
    )  # fmt: skip


def _whys(m: Material, number: int, before: Assessment | None, after: Assessment) -> tuple[Why, ...]:
    """The rules whose part a step changed: a second look can halve what a first one said, a correction can end it."""
    was, now = _changed(m, number, before, after)
    if not was and not now:
        return ()
    shares = m.shares[number] | m.shares[max(0, number - 1)]
    new = [_why(m, b, "new", shares) for key, b in now.items() if key not in was]
    other = [_why(m, b, "other", shares) for key, b in now.items() if key in was and was[key].moved != b.moved]
    gone = [_why(m, b, "gone", shares) for key, b in was.items() if key not in now and b.moved]
    return (*new, *other, *gone)


Branches = dict[tuple[str, tuple[str, ...]], Because]


def _changed(m: Material, number: int, before: Assessment | None, after: Assessment) -> tuple[Branches, Branches]:
    """The rules in force before a step and after it, without those that stand in both just as they were."""
    if before is None:
        return {}, _telling(after.because, m.waiting[id(after.holds)])
    # The consultation hands out one and the same branch, and the same holds, for as long as nothing of them changes.
    held = before.holds is not after.holds and before.holds != after.holds
    if before.because is after.because and not held:
        return {}, {}
    waited, waiting = m.waiting[id(before.holds)], m.waiting[id(after.holds)]
    if waited != waiting:
        return _telling(before.because, waited), _telling(after.because, waiting)
    gone, came = m.branches_moved[number]
    return _telling(gone, waited), _telling(came, waiting)


def _telling(because: Iterable[Because], waiting: frozenset[str]) -> Branches:
    """Of some rules in force all but those that only make something wait: these have a list of their own."""
    return {(b.rule, b.premises): b for b in because if b.moved or b.rule not in waiting}


def _why(m: Material, b: Because, change: Literal["new", "other", "gone"], shares: dict[str, float]) -> Why:
    weights = [Weight(x.cause, m.cause_title(x.cause), x.decibans) for x in b.moved if abs(x.decibans) >= FAINT]
    weights.sort(key=lambda w: (shares.get(w.cause, 0.0) < PLAYS, -abs(w.decibans), w.cause))
    return Why(b.rule, _said_once(b.says), m.source_title(b.source), change, tuple(weights))


@lru_cache(maxsize=1024)
def _said_once(says: str) -> str:
    """A rule that concludes one thing for several causes gives its text once for each."""
    parts: list[str] = []
    for part in says.split("; "):
        if not any(p.endswith(part) for p in parts):
            parts.append(part)
    return "; ".join(parts)


def in_words(m: Material, event: Event) -> _Words:
    """An event as a title, what was asked, why, and what came back."""
    match event:
        case Answered() | Reading():
            return _test(m, event, m.asked(event), m.said(event))
        case Retested():
            return _test(m, event.by, f"Retest. {m.asked(event.by)}", m.said(event.by))
        case Corrected():
            before = m.case.events[event.number]
            was = m.said(before) if isinstance(before, Answered | Reading) else ""
            return _test(
                m,
                event.by,
                f"Step {event.number} corrected. {m.asked(event.by)}",
                f"Now: {m.said(event.by)}. Before: {was}",
            )
        case Skipped():
            return _Words(f"Left out. {m.check_title(event.check, event.place)}", event.why)
        case Undone():
            return _Words(f"Step {event.number} taken back", in_words(m, m.case.events[event.number]).title)
    return _work(m, event)


def _test(m: Material, by: Answered | Reading, title: str, came_back: str) -> _Words:
    check = m.check("load-test" if isinstance(by, Reading) else by.check)
    return _Words(title, came_back, check.question if check else "", check.purpose if check else "")


def _work(m: Material, event: Event) -> _Words:
    """Everything that is no test."""
    match event:
        case Noted():
            return _Words("Note", event.text)
        case Taught():
            return _Words("Calibrated again", {"yes": "Yes", "no": "Not yet", "not-needed": "Not needed"}[event.taught])
        case Moved():
            if event.move is not None:
                return _Words(f"Move. {m.move_title(event.move, event.point)}")
            return _Words("Machine", "; ".join(value_says(m.knowledge, n, v) for n, v in event.to.items()))
        case SetupChanged():
            return _Words(f"{'Made' if event.entered else 'Undone'}. {m.move_title(event.setup)}")
        case Limited():
            return _Words(f"{'Here again' if event.available else 'Not here'}. {m.limit_title(event.what)}")
        case Repaired():
            minutes = "" if event.minutes is None else f"{event.minutes:g} min"
            early = "Done before it was proven" if event.early else ""
            found = "; ".join(m.found(event))
            told = (minutes, early, f"Found: {found}" if found else "")
            return _Words(f"Repair. {m.cause_title(event.cause, event.place)}", "; ".join(x for x in told if x))
        case Ran():
            return _Words(f"Run of {event.hours:g} h", times_back(event.recurrences) + m.stayed(event))
        case Overridden():
            return _Words(f"Hold overridden. {m.check_title(event.check)}", f"It said: {event.hold}")
        case Closed():
            cause = m.cause_title(event.cause, event.place) if event.cause else "no cause named"
            return _Words("Closed", "; ".join(x for x in (cause, event.reason, f"by {event.by}" if event.by else "") if x))
        case MachineChanged():
            title = str(event.machine.get("title", "without a title"))
            return _Words("Another machine file", f"{title}. Answers that did not fit were taken back.")
        case Reopened():
            return _Words("Opened again", event.reason)
        case KnowledgeChanged():
            return _Words("Went on with other knowledge", _both_rankings(m, event))
        case Told():
            return _Words(f"Told. {told_title(m.knowledge, event)}", told_says(m.knowledge, event))
        case Opened():
            return _Words("Opened again with other data")
    raise AssertionError(f"an event without words: {event.event}")


def _both_rankings(m: Material, event: KnowledgeChanged) -> str:
    """The head of the ranking by the knowledge before and by that now in use, both on what was answered until then."""
    now = next(s.after for s in m.trail if s.event is event)
    old = "; ".join(f"{title} {per_cent(share)}" for title, share in list(event.before.items())[:SHOWN])
    new = "; ".join(f"{s.title} {per_cent(s.share)}" for s in now.ranking[:SHOWN])
    return f"Knowledge {layers(event.digest)}. Ranking before: {old or 'not kept'}. Ranking by the knowledge of this record: {new}"
