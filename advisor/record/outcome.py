"""Complaint, cause and correction: what was found, what shows it, what was done about it, and what is still open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from advisor.model.case import Ran, Reading, Repaired
from advisor.model.finding import NOT_LISTED
from advisor.reasoning.proof import CONFIDENCE
from advisor.record.material import Material
from advisor.record.steps import times_back

Standing = Literal["unfinished", "closed-without-repair", "not-proven", "failed", "retest-passed", "ran-without-fault"]

NO_RECALIBRATION = "none"

_ALARMS: dict[str, tuple[str, str]] = {
    "not-proven": ("NOT PROVEN", "The repair was not retested. Nothing measured shows that the fault is gone."),
    "failed": ("NOT PROVEN", "The fault was seen again after the repair. The machine is not right."),
}
_STANDINGS = {
    "untested": "not retested", "failed": "the fault was seen again", "passed": "retest passed",
    "cured": "retest passed and ran without the fault",
}  # fmt: skip


@dataclass(frozen=True)
class Point:
    """A workmanship point of a repair; `answer` is yes, no or open."""

    text: str
    answer: Literal["yes", "no", "open"]


@dataclass(frozen=True)
class RepairView:
    """A repair that was done. `book_minutes` is what the knowledge says, without setups."""

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
    points: tuple[Point, ...]
    keep: tuple[str, ...]
    recalibrate: str  # empty when nothing has to be taught again


@dataclass(frozen=True)
class Run:
    """Hours run after the last repair, and what they show."""

    hours: float
    recurrences: int
    says: str
    occurrences: int | None
    exposure: float | None
    needed: float | None  # quiet hours in all, for CONFIDENCE
    quiet: float | None  # chance that a fault still present would have stayed quiet so long


@dataclass(frozen=True)
class OutcomeView:
    """The head of a record."""

    standing: Standing
    status: str
    alarm: str  # empty, or what nobody may miss
    alarm_says: str
    complaint: str
    complaint_words: str
    cause: str | None
    cause_title: str
    cause_says: str
    mechanism: str
    proof: tuple[str, ...]
    repairs: tuple[RepairView, ...]
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
    run = _run(m) if repairs else None
    proof = _proof(m, cause, place) if cause else ()
    return OutcomeView(
        standing, _status(m, standing), alarm, alarm_says,
        complaint.title if complaint else m.opened.complaint, complaint.asks if complaint else "",
        cause, m.cause_title(cause, place) if cause else "Not found yet", says, entry.mechanism if entry else "",
        proof, repairs, run,
        tuple(_open_points(m, standing, repairs, run, proof)),
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
    return words[standing] + (". Case closed." if m.state.closed else ". Case open.")


def _alarm(m: Material, standing: Standing) -> tuple[str, str]:
    if standing == "closed-without-repair":
        named = m.state.closed is not None and m.state.closed.cause is not None
        says = "The case was closed with a cause named, but no repair and no retest stand in it."
        return ("NOT PROVEN", says) if named else ("NO CAUSE FOUND", "The case was closed without a cause and without a repair.")
    return _ALARMS.get(standing, ("", ""))


def _cause(m: Material, standing: Standing) -> tuple[str | None, str | None, str]:
    """The cause that the record names, its place, and how sure that is."""
    lead = m.final.leading
    closed, repairs = m.state.closed, m.state.repairs
    if closed is not None and closed.cause is not None:
        return closed.cause, closed.place, "As named on closing."
    if repairs and standing != "failed":
        last = repairs[max(repairs)]
        return last.cause, last.place, "As repaired."
    says = f"Leading now: {lead.title}, {lead.share:.0%} of what is possible."
    if standing == "failed":
        says = f"What was repaired did not cure it. {says}"
    return None, None, says


def _proof(m: Material, cause: str, place: str | None) -> tuple[str, ...]:
    """Tests that show the cause directly, with what they gave."""
    entry = m.knowledge.causes.get(cause)
    if entry is None or cause == NOT_LISTED:
        return ()
    last = max((n for n, r in m.state.repairs.items() if r.cause == cause), default=len(m.case.events))
    found = [
        f"{m.asked(a)}: {m.said(a)} (step {m.told_in(n)})" for n, a in sorted(m.state.answers.items())
        if n < last and entry.proof.get(a.check) == a.result and a.place in (None, place)
    ]  # fmt: skip
    if entry.proof.get("load-test") == "over":
        found += [
            f"{m.asked(r)}: {m.said(r)} (step {m.told_in(n)})" for n, r in sorted(m.state.readings.items())
            if n < last and m.judged(r).verdict == "over" and _through(m, r, place)
        ]  # fmt: skip
    return tuple(found)


def _through(m: Material, reading: Reading, place: str | None) -> bool:
    section = m.machine.section(reading.circuit, reading.start, reading.end)
    return section is not None and (place is None or place in section.elements)


def _repair(m: Material, number: int, repair: Repaired) -> RepairView:
    from advisor.consultation.after_repair import standing

    entry = m.knowledge.causes.get(repair.cause)
    listed = entry.repair.workmanship if entry else ()
    texts = (*listed, *(t for t in repair.points if t not in listed))
    answers: dict[bool | None, Literal["yes", "no", "open"]] = {True: "yes", False: "no", None: "open"}
    stands = standing(m.knowledge, m.state, number, m.machine)
    recalibrate = entry.repair.recalibrate if entry else ""
    return RepairView(
        number, m.when(number), repair.cause, m.cause_title(repair.cause, repair.place), repair.place, repair.minutes,
        entry.repair.minutes if entry else None, repair.early, stands, _STANDINGS[stands],
        tuple(Point(t, answers[repair.points.get(t)]) for t in texts), entry.repair.keep if entry else (),
        "" if recalibrate.strip().lower() == NO_RECALIBRATION else recalibrate,
    )  # fmt: skip


def _run(m: Material) -> Run:
    from advisor.reasoning import proof

    last = max(m.state.repairs)
    runs = [r for n, r in m.state.runs.items() if n > last]
    hours, back = sum(r.hours for r in runs), sum(r.recurrences for r in runs)
    says = _run_words(hours, back, runs)
    occurrences, exposure = m.opened.occurrences, m.opened.hours
    if not occurrences or not exposure:
        says += " How often it came in how many hours before is not known, so no number of hours proves it gone."
        return Run(hours, back, says, occurrences, exposure, None, None)
    needed = proof.hours_needed(occurrences, exposure, CONFIDENCE)
    says += (
        f" Before the repair it came {occurrences} times in {exposure:g} h. {needed:.1f} quiet hours make it {CONFIDENCE:.0%} sure "
        "that a fault still present would have shown itself."
    )
    quiet = proof.quiet_probability(occurrences, exposure, hours) if hours and not back else None
    if quiet is not None:
        plain = proof.quiet_probability_known_rate(occurrences, exposure, hours)
        says += (
            f" A fault still present would stay quiet for {hours:g} h with a chance of {quiet:.1%} "
            f"({plain:.1%} with its rate taken as exactly known)."
        )
    return Run(hours, back, says, occurrences, exposure, needed, quiet)


def _run_words(hours: float, back: int, runs: list[Ran]) -> str:
    return f"Ran {hours:g} h. {times_back(back)}." if runs else "Not run since the repair."


def _open_points(
    m: Material, standing: Standing, repairs: tuple[RepairView, ...], run: Run | None, proof: tuple[str, ...]
) -> list[str]:
    """What is left to do or to look at, the gravest first."""
    found = [_ALARMS[standing][1]] if standing in _ALARMS else []
    if repairs and standing != "failed" and not proof:
        found.append("The repaired cause was not shown by a direct test before the repair.")
    for repair in repairs[-1:]:
        found += [f"Workmanship point not fulfilled: {p.text}" for p in repair.points if p.answer == "no"]
        unanswered = sum(p.answer == "open" for p in repair.points)
        if unanswered:
            found.append(f"{unanswered} workmanship point{'s' if unanswered > 1 else ''} of the repair not ticked off.")
        if repair.recalibrate:
            found.append(f"Teach again after this repair: {repair.recalibrate}.")
    if repairs and m.opened.codes:
        found.append("Clear the codes and see that they stay away.")
    if run is not None and not run.recurrences and run.needed is not None and run.hours < run.needed:
        found.append(f"{run.needed - run.hours:.1f} quiet hours still to run under the conditions that used to bring the fault.")
    if standing == "retest-passed" and run is not None and run.needed is None:
        found.append("Run the machine under the conditions that used to bring the fault.")
    found += [f"Still in place: {m.setup_title(s)}" for s in m.state.setups]
    found += [f"Too close to call: {j.circuit} from {j.start} to {j.end}" for j in m.final.readings if j.verdict == "unsure"]
    if standing in ("unfinished", "failed"):
        found += [f"Has to come first: {h.until}" for h in m.final.holds]
    found += m.final.messages
    return found
