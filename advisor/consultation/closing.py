"""Closing a case and opening it again: what is confirmed, what the record will say, and what must be said for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.consultation.situation import Situation
from advisor.errors import InputError, nearest
from advisor.model.case import Case, Closed, fold
from advisor.model.finding import NOT_LISTED, Assessment

if TYPE_CHECKING:
    from advisor.consultation.consultation import Consultation

NO_CAUSE = "none"  # typed in place of a cause


def confirmed(s: Situation) -> tuple[str | None, str | None]:
    """The cause and place that a case is closed with when none is named: the last repair that holds, else the leading one."""
    if s.last is not None and s.last.standing != "failed":
        return s.last.repair.cause, s.last.repair.place
    leading = s.assessment.leading
    return (None, None) if leading.cause == NOT_LISTED else (leading.cause, leading.place)


def differs(assessment: Assessment, cause: str | None, place: str | None) -> str:
    """The leading suspect in words when something else is confirmed, so that a reason is due; else empty."""
    leading = assessment.leading
    if cause == leading.cause and (place is None or leading.place in (None, place)):
        return ""
    named = leading.place is None or leading.place in leading.title
    return leading.title if named else f"{leading.title} ({leading.place})"


def proof_says(s: Situation) -> str:
    """What the record of a case closed now lacks; empty when the repair was retested and ran."""
    if s.last is None:
        return "This case has no repair, and the record will say so."
    return {
        "untested": "The repair was not retested. The record will say: NOT PROVEN.",
        "failed": "The fault was seen again after the repair. The record will say: NOT PROVEN.",
        "passed": "Nobody looked for the fault itself since the retest, and the record will say so."
        if s.comes.always
        else "The machine was not run since the retest, and the record will say so.",
        "cured": "",
    }[s.last.standing]


def closing(consultation: Consultation, case: Case, cause: str | None, place: str | None, by: str, reason: str) -> Closed:
    """The event that closes a case. Raises InputError when it is closed, or for an unknown cause or place."""
    refuse_closed(case)
    causes, elements = consultation.knowledge.causes, consultation.machine.elements
    if cause is not None and cause not in causes:
        raise InputError(f"no cause '{cause}'", _sentence(nearest(cause, [*causes, NO_CAUSE])))
    if place is not None and place not in elements:
        raise InputError(f"no element '{place}' in this layout", _sentence(nearest(place, elements)))
    return Closed(cause=cause, place=place, by=by, reason=reason)


def _sentence(hint: str) -> str:
    return hint[:1].upper() + hint[1:]


def refuse_closed(case: Case) -> None:
    """Raises InputError for a case that is closed."""
    closed = fold(case).closed
    if closed is not None:
        when = f" on {closed.at:%Y-%m-%d %H:%M} UTC" if closed.at else ""
        who = f" by {closed.by}" if closed.by else ""
        raise InputError(f"the case was closed{when}{who}", "Open it again first: advisor reopen CASE --reason TEXT")
