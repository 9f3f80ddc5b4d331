"""The record of a case as one value: everything the templates show, computed beforehand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from advisor.model.case import Case
from advisor.record import charts, ledger, measured
from advisor.record.known import Known, Now, known, now
from advisor.record.material import gather, shown_time
from advisor.record.outcome import OutcomeView, outcome
from advisor.record.report import numbers
from advisor.record.steps import StepView, steps

if TYPE_CHECKING:
    from advisor.consultation.consultation import Consultation

# The blanks at the head of a record, in order: the key of `--set`, and the words printed.
BLANKS = {
    "order": "Order number", "machine": "Machine and its number", "machine_hours": "Machine hours", "customer": "Customer or site",
    "technician": "Technician", "date": "Date of work",
}  # fmt: skip
SIGNATURES = ("Technician", "Shop", "Customer or operator")


@dataclass(frozen=True)
class RecordView:
    """A record. `numbers` are the same facts for other programs."""

    case_id: str
    written: str
    knowledge: str
    blanks: tuple[tuple[str, str], ...]
    extra: tuple[tuple[str, str], ...]
    signatures: tuple[str, ...]
    outcome: OutcomeView
    known: Known
    now: Now
    steps: tuple[StepView, ...]
    readings: tuple[measured.ReadingRow, ...]
    values: tuple[measured.ValueRow, ...]
    pairs: tuple[measured.Pair, ...]
    ruled_out: tuple[ledger.RuledOut, ...]
    holds: tuple[ledger.HoldRow, ...]
    cautions: tuple[ledger.CautionRow, ...]
    setups: tuple[ledger.SetupRow, ...]
    minutes: ledger.Minutes
    changes: tuple[ledger.Change, ...]
    notes: tuple[ledger.NoteRow, ...]
    moves: charts.Moves
    harness: charts.HarnessPath | None
    numbers: dict[str, Any]


def build(
    consultation: Consultation, case: Case, case_id: str, now_: datetime, details: Mapping[str, str] | None = None
) -> RecordView:
    """The record of a case as it stands, finished or not.

    `details` fill the blanks at the head; keys that are no blank become lines of their own. Raises InputError for a case
    without its opening.
    """
    m = gather(consultation, case, now_)
    given = dict(details or {})
    setups, readings = ledger.setups(m), measured.reading_rows(m)
    return RecordView(
        case_id=case_id,
        written=shown_time(now_, m.zone),
        knowledge=consultation.knowledge.digest[:12],
        blanks=tuple((words, given.get(key, "")) for key, words in BLANKS.items()),
        extra=tuple((key, value) for key, value in given.items() if key not in BLANKS),
        signatures=SIGNATURES,
        outcome=outcome(m),
        known=known(m),
        now=now(m),
        steps=steps(m),
        readings=readings,
        values=measured.value_rows(m),
        pairs=measured.pairs(m),
        ruled_out=ledger.ruled_out(m),
        holds=ledger.holds(m),
        cautions=ledger.cautions(m),
        setups=setups,
        minutes=ledger.minutes(m, setups),
        changes=ledger.changes(m),
        notes=ledger.notes(m),
        moves=charts.moves(m),
        harness=charts.harness_path(m.machine, readings) if readings else None,
        numbers=numbers(m),
    )
