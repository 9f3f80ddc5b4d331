"""What is typed at a step, as the values of one line of answers or as the step that is meant."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

from advisor.consultation import answers, counts, quantities
from advisor.consultation.actions import READING_MINUTES
from advisor.consultation.situation import Situation
from advisor.consultation.steps import prepared
from advisor.errors import InputError, nearest
from advisor.model.finding import Step
from advisor.model.knowledge import Check
from advisor.model.machine import Machine
from advisor.model.scenario import CONDITIONS
from advisor.model.words import ResultWords
from advisor.reasoning.likelihoods import check_places
from advisor.session.results import result_of, several
from advisor.session.wording import CHOSEN

WORDED = ("adapter", "meter", "fresh")  # conditions of a load test that are no numbers


def two(text: str) -> tuple[str | None, str | None]:
    """The first word and the second, where there are any."""
    words = text.split()
    return (words[0] if words else None), (words[1] if len(words) > 1 else None)


def reason(text: str) -> tuple[str, str | None]:
    """What stands before the word `why`, and the reason after it where there is one."""
    head = text.split()  # the first one counts: a reason may hold the word again
    at = next((i for i, word in enumerate(head) if word.lower() == "why"), None)
    if at is None:
        return text, None
    rest = text.split(maxsplit=at + 1)[at + 1 :]
    return " ".join(head[:at]), rest[0].strip() if rest else None


OVER_RANGE = ("ol", "o.l", "o.l.", "0l", "0.l")  # what ohmmeters show without a way for the current


def outcome(check: Check, text: str, words: ResultWords) -> dict[str, Any]:
    """The result chosen by number or words, or the number read in a measuring check. Raises InputError.

    A measuring check takes a word as well: its limits may not be this machine's.
    """
    if check.many:
        return {"result": several(text, [(r.id, r.says) for r in check.results])}
    worded = text[:1].isalpha() and any(r.id.startswith(text.lower()) for r in check.results)
    if check.measure is None or worded:
        return {"result": text if text == "normal" else result_of(check, text, words)}
    if check.measure.of == answers.ENDS:
        return _both_ends(text)
    if text.lower() in OVER_RANGE and check.measure.unit in ("ohm", "kohm"):
        beyond = [r.id for r in check.results if r.above is not None and r.below is None]
        if beyond:
            return {"result": beyond[0]}
    if not any(c.isdigit() for c in text) and not quantities.spoken_number(text):
        try:
            return {"result": result_of(check, text, words)}
        except InputError:
            known = ", ".join(r.id for r in check.results)
            raise InputError(f"'{text}' is neither a number nor a result", f"Type the number, or one of: {known}.") from None
    value, unit = quantities.number(text)
    return {"value": value, "unit": unit}


def _both_ends(text: str) -> dict[str, Any]:
    """Volts at both ends of travel, with `supply=` where that is typed as well. Raises InputError."""
    words = text.split()
    found: dict[str, Any] = {"values": quantities.volts([w for w in words if "=" not in w])}
    for word in words:
        key, equals, value = word.partition("=")
        if equals and key != "supply":
            raise InputError(f"'{key}' does not belong to both ends", "Type two or four voltages, and supply=4.98 after them.")
        if equals:
            found["supply"] = quantities.volts([value])[0]
    return found


def result(check: Check, text: str, step: Step, words: ResultWords) -> dict[str, Any]:
    """An answer to a step as the values of a line. Raises InputError."""
    found = outcome(check, text, words)
    kind = "retest" if step.kind == "retest" else "check" if "result" in found else "reading"
    return {kind: check.id, "place": step.place, **found}


def load_test(text: str, step: Step, meter: str = "") -> dict[str, Any]:
    """Reference and loaded volts, with changed conditions as key=value; `meter` is the usual one here. Raises InputError."""
    words = text.split()
    volts = quantities.volts([w for w in words if "=" not in w])
    if len(volts) != 2:
        raise InputError("a load test has two readings", "Type the reference and the loaded volts, such as 11.84 11.52.")
    values: dict[str, Any] = {"retest" if step.kind == "retest" else "reading": step.id}
    values |= {"circuit": step.circuit, "from": step.start, "to": step.end, "reference": volts[0], "loaded": volts[1]}
    for word in words:
        key, equals, value = word.partition("=")
        if not equals:
            continue
        if key not in CONDITIONS:
            raise InputError(f"'{key}' does not belong to a load test", nearest(key, CONDITIONS))
        values[key] = value if key in WORDED else quantities.number(value)[0]
    return {"meter": meter, **values} if meter else values


def spots_for(s: Situation, words: list[str]) -> tuple[tuple[str, ...], bool]:
    """The places among which one must be chosen for a check that was named, and whether it may stay unknown.

    Empty where a place was typed or where there is nothing to choose. Raises InputError for an unknown check.
    """
    check = answers.find_check(s.knowledge, words[0])
    if check.id == answers.LOAD_TEST or len(words) > 1 or check.at is None:
        return (), True
    spots = tuple(p for p in check_places(check, s.machine) if p is not None)
    optional = check.at == "point"
    return (spots if len(spots) > 1 or (spots and not optional) else ()), optional


def step_named(s: Situation, words: list[str], kind: Literal["check", "retest"], place: str | None = None) -> Step:
    """A step chosen by name: CHECK, CHECK PLACE, or load-test CIRCUIT FROM TO. Raises InputError.

    `place` is what was chosen among `spots_for`, where no place was typed.
    """
    check = answers.find_check(s.knowledge, words[0])
    step = Step(kind, check.id, check.title, minutes=check.minutes, reason=(CHOSEN,))
    if check.id == answers.LOAD_TEST:
        return prepared(s, _run_named(s.machine, step, words[1:]))
    place = words[1] if len(words) > 1 else place
    place = answers.check_place(s.knowledge, s.machine, check, place)
    step = replace(step, place=place, title=check.title + (f" ({s.machine.told(place)})" if place else ""))
    return prepared(s, step)


def repair_named(s: Situation, name: str, place: str | None) -> Step:
    """The repair of a cause, as a step that the technician chose."""
    cause = s.knowledge.causes[name]
    title = cause.title + (f" ({s.machine.told(place)})" if place else "")
    return prepared(s, Step("repair", name, title, place, minutes=cause.repair.minutes, reason=(CHOSEN,)))


def _run_named(machine: Machine, step: Step, words: list[str]) -> Step:
    """A load test of the run that was typed."""
    if len(words) != 3 or machine.section(*words) is None:
        runs = [f"{x.circuit} {x.start} {x.end}" for x in machine.sections()]
        hint = f"Type load-test CIRCUIT FROM TO: {nearest(' '.join(words), runs)}"
        raise InputError(f"'{' '.join(words)}' is no run of this layout", hint)
    circuit, start, end = words
    kind = "reading" if step.kind == "check" else step.kind
    title = f"{step.title}: {circuit} from {start} to {end}"
    return replace(step, kind=kind, title=title, circuit=circuit, start=start, end=end, minutes=READING_MINUTES)


def times(text: str) -> int:
    """How often a fault came back. Nothing typed is no answer: it would call a machine good that nobody asked about."""
    if not text:
        raise InputError("nobody said how often it came back", "Type 0 when it did not come back.")
    return counts.times(*quantities.number(text))


def times_back(text: str) -> int:
    """How often a fault came back that did come back. Raises InputError."""
    found = times(text)
    if not found:
        raise InputError("it came back, so it was at least once", "Type 1 or more; back when it did not come back.")
    return found


def minutes(text: str) -> float | None:
    """How long a repair took; nothing typed is not known. Raises InputError."""
    return counts.minutes(*quantities.number(text)) if text else None
