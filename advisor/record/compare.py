"""Two records side by side: what is alike, what is not, and where the two cases first parted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest

from advisor.record.material import sure
from advisor.record.steps import StepView
from advisor.record.view import RecordView

TESTS = ("answered", "reading", "corrected")  # events that gave a result
NOT_DONE = "not done"


@dataclass(frozen=True)
class Row:
    """One thing in both cases."""

    name: str
    left: str
    right: str

    @property
    def differs(self) -> bool:
        return self.left != self.right


@dataclass(frozen=True)
class Parting:
    """The first test at which two cases parted; a side without a further test has none."""

    alike: int  # tests before it that were the same, with the same result
    says: str
    left: str
    right: str


@dataclass(frozen=True)
class Comparison:
    """Two cases. `rows` tell of the whole, `checks` of every test that either case holds."""

    left: RecordView
    right: RecordView
    parting: Parting | None  # None when one test followed the other alike to the end
    rows: tuple[Row, ...]
    checks: tuple[Row, ...]


def compare(left: RecordView, right: RecordView) -> Comparison:
    """Two records side by side."""
    pairs = zip(_rows(left), _rows(right), strict=True)
    rows = tuple(Row(name, one, other) for (name, one), (_, other) in pairs)
    return Comparison(left, right, _parting(left, right), (*rows, *_intake(left, right)), _checks(left, right))


def _rows(r: RecordView) -> Iterator[tuple[str, str]]:
    yield "Complaint", r.outcome.complaint
    yield "Machine", r.known.machine
    yield "Codes", "; ".join(c.raw for c in r.known.codes) or "none"
    lead = r.now.ranking[0]
    yield "Cause", r.outcome.cause_title if r.outcome.cause else f"not found yet; {lead.title} leads with {sure(lead.share)}"
    yield "Place", next((x.place for x in reversed(r.outcome.repairs) if x.place), None) or "none named"
    yield "Shown by", "; ".join(r.outcome.proof) or "no direct test"
    pair = r.pairs[-1] if r.pairs else None
    yield "Test of the repair", pair.title if pair else "not done"
    yield "Before the repair", (pair.before_figure or pair.before) if pair else "no retest"
    yield (
        "After the repair",
        (pair.after_figure or pair.after) if pair else "NOT PROVEN: no retest" if r.outcome.repairs else "no repair",
    )
    yield "Repair", "; ".join(f"{x.title} ({x.standing_words})" for x in r.outcome.repairs) or "none"
    yield "Did not cure", " ".join(r.outcome.not_cured) or "nothing"
    run = r.outcome.run
    yield "Hours run", "none" if run is None or not run.hours else f"{run.hours:g} h, came back {run.recurrences} times"
    yield "Probability of a cure", "not known" if run is None or run.cured is None else sure(run.cured)
    yield "Status", r.outcome.status
    yield "Checks", f"{r.minutes.checks}"
    yield (
        "Minutes",
        (
            f"{r.minutes.total:.0f} (checks {r.minutes.checks_minutes:.0f}, moves {r.minutes.moves_minutes:.0f}, "
            f"repairs {r.minutes.repairs_minutes:.0f})"
        ),
    )
    yield "Open points", f"{len(r.outcome.open_points)}"


def _intake(left: RecordView, right: RecordView) -> Iterator[Row]:
    """The answers of the intake, as far as they differ."""
    mine, other = dict(left.known.intake), dict(right.known.intake)
    for question in dict.fromkeys((*mine, *other)):
        row = Row(question, mine.get(question, "not asked"), other.get(question, "not asked"))
        if row.differs:
            yield row


def _tests(r: RecordView) -> list[StepView]:
    return [s for s in r.steps if s.kind in TESTS and not s.replaced]


def _in_words(s: StepView) -> str:
    return f"step {s.number}, {s.subject}: {s.result}"


def _parting(left: RecordView, right: RecordView) -> Parting | None:
    """The first test in order that was another one, or that came out otherwise."""
    for alike, (one, other) in enumerate(zip_longest(_tests(left), _tests(right))):
        if one is None or other is None:
            last = "no further test"
            return Parting(
                alike, "One case went on, the other did not.", _in_words(one) if one else last, _in_words(other) if other else last
            )
        if one.subject != other.subject:
            return Parting(alike, "They went on with different checks.", _in_words(one), _in_words(other))
        if one.result != other.result:
            return Parting(alike, "The same check had another result.", _in_words(one), _in_words(other))
    return None


def _checks(left: RecordView, right: RecordView) -> tuple[Row, ...]:
    """Every test of either case with what it gave last, in the order of the first case, then of the second."""
    mine, other = ({s.subject: f"{s.result} (step {s.number})" for s in _tests(r)} for r in (left, right))
    return tuple(Row(name, mine.get(name, NOT_DONE), other.get(name, NOT_DONE)) for name in dict.fromkeys((*mine, *other)))
