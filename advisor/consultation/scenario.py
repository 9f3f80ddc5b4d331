"""Scenarios: lines of answers to events, a whole case replayed, and the result held to what was expected."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from advisor.consultation import answers, counts
from advisor.consultation.closing import refuse_closed
from advisor.consultation.consultation import Consultation
from advisor.consultation.intake_told import hint, intake_answers, laid_out, machine_says
from advisor.consultation.this_machine import for_machine
from advisor.errors import InputError, short
from advisor.model.case import (
    HOURS,
    OCCURRENCES,
    STAYED_GOOD,
    Answered,
    Case,
    Closed,
    Corrected,
    Event,
    Noted,
    Opened,
    Ran,
    Reading,
    Repaired,
    Retested,
    TaughtWord,
    Undone,
    fold,
)  # fmt: skip
from advisor.model.finding import Assessment
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.model.scenario import Expectation, Line, Scenario
from advisor.model.trouble_code import parse_code
from advisor.model.undo import last_undoable

TAUGHT: tuple[str, ...] = get_args(TaughtWord)


def opening(knowledge: Knowledge, scenario: Scenario) -> Opened:
    """The opening event of a scenario. Raises InputError for an unknown complaint, intake answer or code."""
    if scenario.complaint not in knowledge.complaints:
        raise InputError(f"no complaint '{scenario.complaint}'", hint(scenario.complaint, knowledge.complaints))
    intake: dict[str, tuple[str, ...]] = {}
    told: dict[str, Any] = dict(machine_says(knowledge, scenario.machine))
    for question, given in {**told, **(scenario.intake.model_extra or {})}.items():
        intake[question] = intake_answers(knowledge, question, given if isinstance(given, list | tuple) else [given])
        if intake[question] != told.get(question, intake[question]):
            what = f"the machine file answers {question} with '{told[question][0]}', the intake with '{intake[question][0]}'"
            raise InputError(what, "Correct one of them, or leave it out of the intake.")
    for code in scenario.codes:
        parse_code(code)
    machine = None if scenario.machine is None else scenario.machine.model_dump(mode="json", by_alias=True, exclude_none=True)
    given = counts.counted(OCCURRENCES, scenario.intake.occurrences)
    occurrences, hours = None if given is None else int(given), counts.counted(HOURS, scenario.intake.hours)
    return Opened(
        complaint=scenario.complaint, machine=machine, layout=scenario.layout, codes=scenario.codes, intake=intake,
        occurrences=occurrences, hours=hours, unavailable=scenario.unavailable, alone=scenario.alone,
        operator_words=scenario.operator_words,
    )  # fmt: skip


def to_event(knowledge: Knowledge, machine: Machine, case: Case, line: Line) -> Event:
    """The event that a line of answers stands for, given the case so far. Raises InputError."""
    event = _event(knowledge, machine, case, line)
    where, side = line.values.get("where"), line.values.get("side")
    if isinstance(event, Retested | Corrected) and isinstance(event.by, Answered):
        by = answers.with_spot(machine, knowledge.checks[event.by.check], event.by, where, side)
        return event.model_copy(update={"by": by})
    return answers.with_spot(machine, knowledge.checks[event.check], event, where, side) if isinstance(event, Answered) else event


def _event(knowledge: Knowledge, machine: Machine, case: Case, line: Line) -> Event:
    """The same without where on the harness and on which side."""
    v = line.values
    place = v.get("place")
    refuse_closed(case)
    match line.kind:
        case "check":
            given = v.get("result")
            first, *also = [str(g) for g in given] if isinstance(given, list | tuple) and given else [str(given)]
            return answers.answer(knowledge, machine, v["check"], first, place, also)
        case "reading":
            return _reading(knowledge, machine, case, v["reading"], v)
        case "correct":
            return _correction(knowledge, machine, case, v)
        case "skip":
            return answers.skipped(knowledge, machine, v["skip"], place, str(v.get("why", "")))
        case "note":
            return Noted(text=str(v["note"]))
        case "undo":
            number = last_undoable(case)
            if number is None:
                raise InputError("nothing is left to take back", "Answer a check first.")
            return Undone(number=number)
        case "repair":
            return told_of(knowledge, repair(knowledge, machine, v["repair"], place, v.get("minutes")), v)
        case "retest":
            if v["retest"] == answers.LOAD_TEST:
                return Retested(by=_reading(knowledge, machine, Case(), v["retest"], v))
            if "value" in v or "values" in v:
                return Retested(by=_reading(knowledge, machine, case, v["retest"], v))
            return Retested(by=answers.answer(knowledge, machine, v["retest"], str(v.get("result")), place))
        case "run":
            return stayed(knowledge, run(v["run"], v.get("recurrences", 0)), v.get("stayed"))
    cause = None if v["close"] is None else repair(knowledge, machine, v["close"], place, None).cause
    return Closed(cause=cause, place=place, by=str(v.get("by", "")), reason=str(v.get("reason", "")))


def repair(knowledge: Knowledge, machine: Machine, cause: str, place: str | None, minutes: Any) -> Repaired:
    """A repair that was done. Raises InputError for an unknown cause or place."""
    if cause not in knowledge.causes:
        raise InputError(f"no cause '{cause}'", hint(cause, knowledge.causes))
    if place is not None and place not in machine.elements:
        raise InputError(f"no element '{place}' in this layout", hint(place, machine.elements))
    return Repaired(cause=cause, place=place, minutes=counts.minutes(minutes))


def told_of(knowledge: Knowledge, event: Repaired, v: Mapping[str, Any]) -> Repaired:
    """A repair with what was found, fitted, kept and taught. Raises InputError for what is not offered."""
    given = v.get("found", ())
    found = tuple(str(f) for f in (given if isinstance(given, list | tuple) else [given]))
    offered = [f.id for f in knowledge.causes[event.cause].repair.found]
    for name in found:
        if name not in offered:
            raise InputError(f"'{name}' is nothing that may be found at {event.cause}", hint(name, offered))
    taught = v.get("taught")
    if taught not in (None, *TAUGHT):
        raise InputError(f"'{taught}' does not say whether it was calibrated again", f"Write one of: {', '.join(TAUGHT)}.")
    words = {key: str(v[key]) for key in ("found_words", "fitted", "kept") if v.get(key) is not None}
    return event.model_copy(update={"found": found, "taught": taught, **words})


def run(hours: Any, recurrences: Any = 0) -> Ran:
    """Hours run. Raises InputError for anything but a number that is not negative."""
    return Ran(hours=counts.run_hours(hours), recurrences=counts.times(recurrences))


def stayed(knowledge: Knowledge, ran: Ran, given: Any) -> Ran:
    """A run with how long the fault stayed away before it came back. Raises InputError for no answer to that."""
    if given is None:
        return ran
    check = knowledge.checks.get(STAYED_GOOD)
    known = [] if check is None else [r.id for r in check.results]
    if not ran.recurrences:
        raise InputError("the fault did not come back, so it did not stay away for a time", "Leave 'stayed' away.")
    if given not in known:
        raise InputError(f"'{given}' does not say how long it stayed away", hint(str(given), known))
    return ran.model_copy(update={"stayed": str(given)})


def _reading(knowledge: Knowledge, machine: Machine, case: Case, name: str, v: dict[str, Any]) -> Answered | Reading:
    if name == answers.LOAD_TEST:
        kept = {
            k: x for k, x in v.items() if k not in ("reading", "retest", "place", "value", "values", "supply", "unit", "result")
        }
        for key in ("circuit", "from", "to", "reference", "loaded"):
            if key not in kept:
                raise InputError(f"a load test needs '{key}'", "Give circuit, from, to, reference and loaded.")
        for key in ("reference", "loaded"):
            if isinstance(kept[key], bool) or not isinstance(kept[key], int | float):
                raise InputError(f"'{kept[key]}' is not a voltage", f"Give {key} as a number of volts, such as 11.84.")
        return answers.load_test(machine, kept, tuple(fold(case).readings.values()))
    if "values" in v:
        return _both_ends(knowledge, machine, case, name, v)
    return answers.measured(knowledge, machine, name, _number(name, v.get("value")), v.get("unit"), v.get("place"))


def _number(name: str, value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e12:
        raise InputError(f"'{short(value)}' is not a number", f"Give the value read for {name} as a number.")
    return float(value)


def _both_ends(knowledge: Knowledge, machine: Machine, case: Case, name: str, v: dict[str, Any]) -> Answered:
    """Several numbers, judged by the supply given with them, or else by the one read last in this case."""
    given = v["values"] if isinstance(v["values"], list | tuple) else [v["values"]]
    supply = v.get("supply", answers.supply_read(fold(case)))
    for number in (*given, *(() if supply is None else (supply,))):
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise InputError(f"'{number}' is not a number", f"Give the values read for {name} as numbers, such as [0.52, 4.46].")
    return answers.both_ends(knowledge, machine, name, [float(n) for n in given], v.get("unit"), supply, v.get("place"))


def _correction(knowledge: Knowledge, machine: Machine, case: Case, v: dict[str, Any]) -> Corrected:
    name, place = v["correct"], v.get("place")
    answers.find_check(knowledge, name)
    numbers = [n for n, a in fold(case).answers.items() if a.check == name and place in (None, a.place)]
    if not numbers:
        raise InputError(f"{name} has no answer to correct", "Answer it first.")
    number = max(numbers)
    spot = fold(case).answers[number].place
    if "values" in v:
        by = _both_ends(knowledge, machine, case, name, {**v, "place": spot})
    elif "value" in v:
        by = answers.measured(knowledge, machine, name, _number(name, v["value"]), v.get("unit"), spot)
    else:
        given = v.get("result")
        first, *also = [str(g) for g in given] if isinstance(given, list | tuple) and given else [str(given)]
        by = answers.answer(knowledge, machine, name, first, spot, also)
    return Corrected(number=number, by=by)


@dataclass(frozen=True)
class Replayed:
    """A scenario run in memory: the case, the leader after each line, and whether it met its expectation."""

    scenario: Scenario
    consultation: Consultation
    case: Case
    final: Assessment
    leads: tuple[tuple[str, str | None, float], ...]  # after each line of answers
    differs: tuple[str, ...]


def events_of(knowledge: Knowledge, scenario: Scenario) -> Iterator[tuple[int, Event, Case]]:
    """Each line's number, its event and the case before it. Raises InputError naming the line."""
    machine = scenario.machine or laid_out(scenario.layout)
    case = Case((opening(knowledge, scenario),))
    for i, line in enumerate(scenario.answers):
        try:
            event = to_event(knowledge, machine, case, line)
        except InputError as error:
            raise InputError(f"answer {i + 1}: {error.what}", error.hint) from None
        yield i, event, case
        case = case.then(event)


def replay(knowledge: Knowledge, scenario: Scenario) -> Replayed:
    """Runs a scenario and compares what came out with what it expects."""
    machine = scenario.machine or laid_out(scenario.layout)
    consultation = Consultation(for_machine(knowledge, machine), machine)
    case = Case((opening(knowledge, scenario),))
    leads = []
    for _, event, before in events_of(knowledge, scenario):
        case = before.then(event)
        leading = consultation.assess(case, plan=False).leading
        leads.append((leading.cause, leading.place, leading.share))
    final = consultation.assess(case)
    differs = tuple(_differences(scenario.expect, final, leads)) if scenario.expect else ()
    return Replayed(scenario, consultation, case, final, tuple(leads), differs)


def _differences(expect: Expectation, final: Assessment, leads: list[tuple[str, str | None, float]]) -> Iterator[str]:
    leading = final.leading
    if leading.cause != expect.leading:
        yield f"{expect.leading} should lead, but {leading.cause} does ({leading.share:.0%})"
        return
    share = leading.share
    if expect.place is not None:
        share = next(
            (s for suspect, _, s in final.suspects if (suspect.cause, suspect.place) == (expect.leading, expect.place)),
            0.0,
        )
        if leading.place != expect.place:
            yield f"{expect.leading} should sit at {expect.place}, but the ranking says {leading.place or 'no one place'}"
    if share < expect.share:
        yield f"{expect.leading} holds {share:.3f}, less than {expect.share}"
    if expect.within is not None:
        wrong = [i for i, (cause, _, _) in enumerate(leads) if cause != expect.leading]
        needed = (wrong[-1] + 2) if wrong else 1
        if needed > expect.within:
            yield f"{expect.leading} leads for good only after {needed} answers, not within {expect.within}"
