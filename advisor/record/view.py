"""The record of a case as one value: everything the templates show, computed beforehand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from advisor.model.case import Case
from advisor.record import charts, ledger, measured
from advisor.record.known import Known, Now, known, standing_now
from advisor.record.material import Material, gather, shown_time
from advisor.record.minutes import Minutes, minutes
from advisor.record.outcome import OutcomeView, outcome
from advisor.record.report import numbers
from advisor.record.steps import StepView, steps
from advisor.record.trail import Said, TrailRow, said, trail

if TYPE_CHECKING:
    from advisor.consultation.consultation import Consultation

# The blanks at the head of a record, in order: the key of `--set`, and the words printed.
BLANKS = {
    "order": "Order number", "machine": "Machine and its number", "machine_hours": "Machine hours", "customer": "Customer or site",
    "technician": "Technician", "date": "Date of work",
}  # fmt: skip
# Who signs, and the key of `--set` that prints a name there.
SIGNATURES = {"technician": "Technician", "shop": "Shop", "customer": "Customer or operator"}


@dataclass(frozen=True)
class RecordView:
    """Everything a record shows. `numbers` are the keys that other programs read."""

    case_id: str
    written: str
    zone: str  # of every time that is shown, such as UTC+01:00
    knowledge: str  # its digest, SHA-256
    blanks: tuple[tuple[str, str], ...]
    job: tuple[tuple[str, str], ...]  # what the case adds to the head: codes, minutes
    extra: tuple[tuple[str, str], ...]
    signatures: tuple[tuple[str, str], ...]
    outcome: OutcomeView
    known: Known
    now: Now
    steps: tuple[StepView, ...]
    readings: tuple[measured.ReadingRow, ...]
    remarks: tuple[str, ...]
    values: tuple[measured.ValueRow, ...]
    pairs: tuple[measured.Pair, ...]
    ruled_out: tuple[ledger.RuledOut, ...]
    holds: tuple[ledger.HoldRow, ...]
    cautions: tuple[ledger.CautionRow, ...]
    machine_moves: tuple[ledger.MoveRow, ...]
    minutes: Minutes
    changes: tuple[ledger.Change, ...]
    notes: tuple[ledger.NoteRow, ...]
    moves: charts.Moves
    harness: charts.HarnessPath | None
    narrow_harness: charts.HarnessPath | None  # the same for a telephone's window
    trail: tuple[TrailRow, ...]
    said: tuple[Said, ...]
    numbers: dict[str, Any]


def build(
    consultation: Consultation, case: Case, case_id: str, now: datetime, details: Mapping[str, str] | None = None
) -> RecordView:
    """The record of a case as it stands, finished or not.

    `details` fill the blanks at the head; keys that are no blank become lines of their own. Raises InputError for a case
    without its opening.
    """
    m = gather(consultation, case, now)
    given = dict(details or {})
    repaired = frozenset(r.place for r in m.state.repairs.values() if r.place is not None)
    readings = measured.reading_rows(m)
    spent, stepped = minutes(m), steps(m)
    drawn = any(not r.replaced for r in readings)
    filled = {**_filled(m), **given}
    return RecordView(
        case_id=case_id,
        written=shown_time(now, m.zone),
        zone=_zone(now),
        knowledge=consultation.knowledge.digest,
        blanks=tuple((words, filled.get(key, "")) for key, words in BLANKS.items()),
        job=_job(m, spent),
        extra=tuple((key, value) for key, value in given.items() if key not in BLANKS and key not in SIGNATURES),
        signatures=tuple((words, given.get(key, "")) for key, words in SIGNATURES.items()),
        outcome=outcome(m),
        known=known(m),
        now=standing_now(m),
        steps=stepped,
        readings=readings,
        remarks=measured.remarks(m),
        values=measured.value_rows(m),
        pairs=measured.pairs(m),
        ruled_out=ledger.ruled_out(m),
        holds=ledger.holds(m),
        cautions=ledger.cautions(m),
        machine_moves=ledger.moves(m),
        minutes=spent,
        changes=ledger.changes(m),
        notes=ledger.notes(m),
        moves=charts.moves(m),
        harness=charts.harness_path(m.machine, readings, repaired) if drawn else None,
        narrow_harness=charts.harness_path(m.machine, readings, repaired, charts.NARROW) if drawn else None,
        trail=trail(m, stepped, spent),
        said=said(stepped),
        numbers=numbers(m),
    )


def _filled(m: Material) -> dict[str, str]:
    """What the case itself knows of the blanks: the machine by its file, the day of the last event."""
    days = [m.when(n)[:10] for n in range(len(m.case.events))]
    known = {"date": next((day for day in reversed(days) if day), "")}
    if m.state.closed is not None and m.state.closed.machine_hours is not None:
        known["machine_hours"] = f"{m.state.closed.machine_hours:g}"
    return known if m.machine.generic else {**known, "machine": m.machine.title}


def _job(m: Material, spent: Minutes) -> tuple[tuple[str, str], ...]:
    """Codes as they were typed, and the minutes of all steps."""
    codes = "; ".join(m.opened.codes) or "none"
    return ("Codes", codes), ("Minutes, all steps", f"{spent.total:.0f} min")


def _zone(now: datetime) -> str:
    offset = now.strftime("%z") if now.utcoffset() else ""
    return f"UTC{offset[:3]}:{offset[3:5]}" if offset else "UTC"
