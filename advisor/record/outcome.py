"""Complaint, cause and correction: what was found, what shows it, what was done about it, and what is still open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from advisor.consultation.retest_words import not_repeated, repeat_says
from advisor.model.case import Reading, Repaired
from advisor.model.finding import NOT_LISTED
from advisor.record.hours import Run, run
from advisor.record.ledger import holds
from advisor.record.material import Material, sure, titled

Standing = Literal["unfinished", "closed-without-repair", "not-proven", "failed", "retest-passed", "ran-without-fault"]

NO_RECALIBRATION = "none"

_ALARMS: dict[str, tuple[str, str]] = {
    "not-proven": ("NOT PROVEN", "The repair was not retested. Nothing measured shows that the fault is gone."),
    "failed": ("NOT PROVEN", "The fault was seen again after the repair. The machine is not right yet."),
}
_STANDINGS = {
    "untested": "NOT RETESTED", "failed": "the fault was seen again", "passed": "retest passed",
    "cured": "retest passed and ran without the fault",
}  # fmt: skip


@dataclass(frozen=True)
class Point:
    """A workmanship point of a repair; `answer` is yes, no or open."""

    text: str
    answer: Literal["yes", "no", "open"]


@dataclass(frozen=True)
class RepairView:
    """A repair that was done. `book_minutes` is what the knowledge says, without moves."""

    number: int
    when: str
    cause: str
    title: str
    place: str | None
    minutes: float | None
    book_minutes: float | None
    early: bool
    standing: str
    standing_words: str
    in_vain: bool  # the fault was seen again after it, or another repair followed without a retest between
    points: tuple[Point, ...]
    steps: tuple[str, ...]  # how the knowledge says it is done
    parts: tuple[str, ...]  # what the repair fits, in general words
    keep: tuple[str, ...]
    recalibrate: str  # empty when nothing has to be taught again
    taught: Literal["yes", "no", "not-needed", "open"]  # whether that was done
    found: tuple[str, ...]  # what was found, as it was told
    fitted: str
    kept: str

    @property
    def ticked(self) -> int:
        """How many workmanship points were answered with yes."""
        return sum(p.answer == "yes" for p in self.points)


@dataclass(frozen=True)
class OutcomeView:
    """The head of a record."""

    standing: Standing
    status: str
    alarm: str  # empty, or what nobody may miss
    alarm_says: str
    complaint: str
    complaint_words: str
    operator_words: str  # as the operator of this machine said it; empty when nobody asked
    cause: str | None
    cause_title: str
    cause_says: str
    confirmed: str  # who confirmed the cause on closing, and the reason given; empty while the case is open
    differs: str  # how the cause differs from what the ranking led with; empty when it does not
    mechanism: str
    proof: tuple[str, ...]
    repairs: tuple[RepairView, ...]
    not_cured: tuple[str, ...]  # repairs, with the parts they fit, that did not cure or were never shown to
    run: Run | None
    open_points: tuple[str, ...]


def outcome(m: Material) -> OutcomeView:
    """The head of a record from everything the case holds."""
    repairs = tuple(_repair(m, n, r) for n, r in sorted(m.state.repairs.items()))
    standing = _standing(m, repairs)
    alarm, alarm_says = _alarm(m, standing)
    cause, place, says = _cause(m, standing)
    entry = m.knowledge.causes.get(cause or "")
    complaint = m.knowledge.complaints.get(m.opened.complaint)
    ran = run(m) if repairs else None
    proof = _proof(m, cause, place) if cause else ()
    differs = _differs(m, cause, place)
    return OutcomeView(
        standing, _status(m, standing), alarm, alarm_says,
        complaint.title if complaint else m.opened.complaint, complaint.asks if complaint else "",
        m.opened.operator_words,
        cause, m.cause_title(cause, place) if cause else "Not found yet", says, _confirmed(m), differs,
        entry.mechanism if entry else "", proof, repairs, tuple(_not_cured(repairs)), ran,
        tuple(_open_points(m, standing, repairs, ran, proof, differs)),
    )  # fmt: skip


def _standing(m: Material, repairs: tuple[RepairView, ...]) -> Standing:
    if not repairs:
        return "closed-without-repair" if m.state.closed else "unfinished"
    found: dict[str, Standing] = {
        "untested": "not-proven", "failed": "failed", "passed": "retest-passed", "cured": "ran-without-fault"
    }  # fmt: skip
    return found[repairs[-1].standing]


def _status(m: Material, standing: Standing) -> str:
    words = {
        "unfinished": "Not finished: the cause is not found yet", "closed-without-repair": "No repair was done",
        "not-proven": "Repaired, not proven", "failed": "Repaired, and the fault was seen again",
        "retest-passed": "Repaired, retest passed, not run yet",
        "ran-without-fault": "Repaired, retest passed, ran without the fault",
    }  # fmt: skip
    if standing == "retest-passed" and m.situation.comes.always:
        words[standing] = "Repaired, retest passed, the fault itself not looked for yet"
    return words[standing] + (". Case closed." if m.state.closed else ". Case open.")


def _alarm(m: Material, standing: Standing) -> tuple[str, str]:
    if standing == "closed-without-repair":
        named = m.state.closed is not None and m.state.closed.cause is not None
        says = "The case was closed with a cause named, but without a repair and a retest."
        return ("NOT PROVEN", says) if named else ("NO CAUSE FOUND", "The case was closed without a cause and without a repair.")
    return _ALARMS.get(standing, ("", ""))


def _cause(m: Material, standing: Standing) -> tuple[str | None, str | None, str]:
    """The cause that the record names, its place, and how sure that is."""
    lead = m.final.leading
    closed, repairs = m.state.closed, m.state.repairs
    if closed is not None and closed.cause is not None:
        return closed.cause, closed.place, "As named at closing."
    if repairs and standing != "failed":
        last = repairs[max(repairs)]
        return last.cause, last.place, "As repaired."
    says = f"Leading now: {lead.title}, {lead.share:.0%}."
    if standing == "failed":
        says = f"The repair did not cure it. {says}"
    return None, None, says


def _confirmed(m: Material) -> str:
    closed = m.state.closed
    if closed is None:
        return ""
    who = f"Confirmed by {closed.by}." if closed.by else "It does not say who confirmed it."
    return f"{who} Reason given: {closed.reason}" if closed.reason else who


def _differs(m: Material, cause: str | None, place: str | None) -> str:
    """How a cause that was closed or repaired differs from what led the ranking before that."""
    closing = m.state.closed is not None and m.state.closed.cause is not None
    if cause is None:
        return ""
    number = next((n for n, e in enumerate(m.case.events) if e is m.state.closed), None) if closing else max(m.state.repairs)
    before = next(s.before for s in m.trail if s.number == number)
    lead = before.leading
    if (lead.cause, lead.place or place) == (cause, place or lead.place):
        return ""
    share = sum(s for suspect, _, s in before.suspects if suspect.cause == cause and place in (None, suspect.place))
    return f"First in the ranking then: {lead.title} ({sure(lead.share)}); this cause held {sure(share)}."


def _not_cured(repairs: tuple[RepairView, ...]) -> Iterator[str]:
    """Repairs in vain, with the parts they fit."""
    for repair in repairs:
        if repair.in_vain:
            words = "did not cure it" if repair.standing == "failed" else "was never tested"
            fitted = f" Parts it fits: {'; '.join(repair.parts)}." if repair.parts else ""
            yield f"{repair.title} (step {repair.number}) {words}.{fitted}"


def _proof(m: Material, cause: str, place: str | None) -> tuple[str, ...]:
    """Tests that show the cause directly, with what they gave."""
    entry = m.knowledge.causes.get(cause)
    if entry is None or cause == NOT_LISTED:
        return ()
    last = max((n for n, r in m.state.repairs.items() if r.cause == cause), default=len(m.case.events))
    found = [
        f"{titled(m.asked(a), m.said(a))} (step {m.told_in(n)})" for n, a in sorted(m.state.answers.items())
        if n < last and entry.proof.get(a.check) == a.result and a.place in (None, place)
    ]  # fmt: skip
    if entry.proof.get("load-test") == "over":
        found += [
            f"{titled(m.asked(r), m.said(r))} (step {m.told_in(n)})" for n, r in sorted(m.state.readings.items())
            if n < last and m.judged(r).verdict == "over" and _through(m, r, place)
        ]  # fmt: skip
    return tuple(found)


def _through(m: Material, reading: Reading, place: str | None) -> bool:
    section = m.machine.section(reading.circuit, reading.start, reading.end)
    return section is not None and (place is None or place in section.elements)


def _repair(m: Material, number: int, repair: Repaired) -> RepairView:
    entry = m.knowledge.causes.get(repair.cause)
    listed = entry.repair.workmanship if entry else ()
    texts = (*listed, *(t for t in repair.points if t not in listed))
    answers: dict[bool | None, Literal["yes", "no", "open"]] = {True: "yes", False: "no", None: "open"}
    stands = next(e.standing for e in m.situation.episodes if e.number == number)
    recalibrate = entry.repair.recalibrate if entry else ""
    return RepairView(
        number, m.when(number), repair.cause, m.cause_title(repair.cause, repair.place), repair.place, repair.minutes,
        entry.repair.minutes if entry else None, repair.early, stands, _STANDINGS[stands],
        stands == "failed" or (stands == "untested" and number < max(m.state.repairs)),
        tuple(Point(t, answers[repair.points.get(t)]) for t in texts),
        entry.repair.steps if entry else (),
        entry.repair.parts if entry else (), entry.repair.keep if entry else (),
        "" if recalibrate.strip().lower() == NO_RECALIBRATION else recalibrate,
        repair.taught or "open", m.found(repair), repair.fitted, repair.kept,
    )  # fmt: skip


def _open_points(
    m: Material, standing: Standing, repairs: tuple[RepairView, ...], ran: Run | None, proof: tuple[str, ...], differs: str
) -> list[str]:
    """What is left to do or to look at, the gravest first."""
    found = [_ALARMS[standing][1]] if standing in _ALARMS else []
    if standing == "closed-without-repair":
        found.append("The complaint is still there.")
    if repairs and standing != "failed" and not proof:
        found.append("No direct test showed the cause before the repair.")
    for repair in repairs[-1:]:
        found += [f"Workmanship point not met: {p.text}" for p in repair.points if p.answer == "no"]
        unanswered = sum(p.answer == "open" for p in repair.points)
        if unanswered:
            found.append(f"{unanswered} workmanship point{'s' if unanswered > 1 else ''} of the repair not ticked off.")
        if repair.recalibrate and repair.taught in ("no", "open"):
            found.append(f"Teach again after this repair: {repair.recalibrate}.")
        left = tuple(not_repeated(m.knowledge, m.machine, m.state))
        if left and standing != "failed":
            found.append(f"Failed before the repair and not repeated: {'; '.join(left)}.")
        episode = m.situation.episodes[-1]
        found += [x for x in (repeat_says(episode.retests, episode.proving),) if x]
    if repairs and m.opened.codes:
        found.append("Clear the codes and check that they stay away.")
    always = m.situation.comes.always  # then one look proves it, and no hours
    if ran is not None and not ran.recurrences and ran.remaining and not always:
        found.append(f"{ran.remaining:.1f} more hours to run without the fault, under the conditions that brought it.")
    if standing == "retest-passed" and ran is not None and ran.needed is None and not always:
        found.append("Run the machine under the conditions that brought the fault.")
    if standing == "retest-passed" and always:
        found.append("Look for the fault as at the beginning. It was always there, so one look is enough.")
    if differs and m.state.closed is not None and not m.state.closed.reason:
        found.append("The cause differs from the leading suspect, and no reason was given.")
    found += [f"Still so: {text}" for text in m.still()]
    found += [f"Too close to call: {j.circuit} from {j.start} to {j.end}" for j in m.final.readings if j.verdict == "unsure"]
    if standing in ("unfinished", "failed"):
        waiting = [h for h in holds(m) if h.gone_step is None and not h.never]
        found += [f"First: {h.until}. Then: {'; '.join(h.waits)}." for h in waiting]
    found += m.final.messages
    return found
