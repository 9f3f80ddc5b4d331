"""The lines of a scenario, typed as a person would."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from advisor.consultation.closing import NO_CAUSE
from advisor.errors import EndOfInput, InputError, short
from advisor.model.question import Asked, Question
from advisor.model.scenario import CONDITIONS, Line, Scenario

NOT_KNOWN = ""
# What is typed at the two questions on the wiring, by the layout of the scenario.
_LAYOUTS = {
    "two-tracks-shared-supply": {"layout:signal": "two-tracks", "layout:shared": "supply"},
    "two-tracks-shared-ground": {"layout:signal": "two-tracks", "layout:shared": "ground"},
    "one-track": {"layout:signal": "one-track"},
    "bus-sensor": {"layout:signal": "bus-sensor"},
}


@dataclass
class Script:
    """A scenario, typed at the prompts of the same session that a person answers."""

    scenario: Scenario
    _left: list[Line] = field(default_factory=list)
    _codes: list[str] = field(default_factory=list)
    _current: dict[str, Any] = field(default_factory=dict)
    _asked_for: int = -1  # how many lines were left when a step was last asked for by name
    _last: tuple[str, str, int, str] | None = None  # question and reply of before

    def __post_init__(self) -> None:
        self._left = list(self.scenario.answers)
        self._codes = list(self.scenario.codes)

    def answer(self, prompt: Question) -> str:
        """What is typed at a prompt. Raises EndOfInput when no line is left, InputError for a line that fits no step."""
        text = self._answer(prompt)
        now = prompt.kind, prompt.text, len(self._left), text
        if now == self._last:  # it was refused, and would be for ever
            raise InputError(f"'{short(text)}' is no answer to: {prompt.text}", "Correct the scenario.")
        self._last = now
        return text

    def _answer(self, prompt: Question) -> str:
        intake = self.scenario.intake
        match prompt.kind.split(":"):
            case ["complaint"]:
                return self.scenario.complaint
            case ["operator-words"]:
                return self.scenario.operator_words
            case ["heard", question, answer]:
                return "y" if self._fits(question, answer) else "n"
            case ["code"]:
                return self._codes.pop(0) if self._codes else NOT_KNOWN
            case ["occurrences"]:
                return NOT_KNOWN if intake.occurrences is None else str(intake.occurrences)
            case ["hours"]:
                return NOT_KNOWN if intake.hours is None else str(intake.hours)
            case ["layout", _]:
                return _LAYOUTS.get(self.scenario.layout or "", {}).get(prompt.kind, NOT_KNOWN)
            case ["intake", question]:
                given = (intake.model_extra or {}).get(question, [])
                return " ".join(map(str, given if isinstance(given, list | tuple) else [given]))
            case ["point"] | ["unproven"]:
                return "yes"
            case ["found"]:
                found = self._current.get("found", ())
                ids = [str(f) for f in (found if isinstance(found, list | tuple) else [found])]
                return "; ".join(x for x in (" ".join(ids), str(self._current.get("found_words", NOT_KNOWN))) if x)
            case ["fitted"] | ["kept"] | ["taught"]:
                return str(self._current.get(prompt.kind, NOT_KNOWN))
            case ["minutes"]:
                minutes = self._current.get("minutes")
                return "" if minutes is None else str(minutes)
            case ["recurrences"]:
                return str(self._current.get("recurrences", 0))
            case ["where"] | ["side"] | ["stayed"]:
                return str(self._current.get(prompt.kind, NOT_KNOWN))
            case ["place"] | ["warmth"] | ["conditions"] | ["machine-hours"]:
                return NOT_KNOWN
            case ["name"]:
                return str(self._current.get("by", ""))
            case ["reason"]:
                return str(self._current.get("reason", ""))
        return self._command(prompt.step)

    def _fits(self, question: str, answer: str) -> bool:
        """Whether the intake, or a line with this one result, says what was found in the words; that line is then done."""
        given = (self.scenario.intake.model_extra or {}).get(question)
        if given is not None:
            return [str(g) for g in (given if isinstance(given, list | tuple) else [given])] == [answer]
        at = next((i for i, line in enumerate(self._left) if line.values.get("check") == question), None)
        if at is None or self._left[at].values.get("result") not in (answer, [answer]):
            return False
        self._left.pop(at)
        return True

    def _command(self, step: Asked | None) -> str:
        """The next line of the scenario as typed at a step's prompt; another step is asked for by name first."""
        if not self._left:
            raise EndOfInput
        values = self._left[0].values
        wanted = self._left[0].kind
        if step is not None and not _asked(step, wanted, values):
            if wanted not in _STEPS:
                return self._one_liner(wanted, values)
            if self._asked_for == len(self._left):
                raise InputError(f"'{_ask_for(wanted, values)}' leads to no step that this answer fits", "Correct the scenario.")
            self._asked_for = len(self._left)
            return _ask_for(wanted, values)
        self._current = values
        self._left.pop(0)
        return _reply(wanted, values)

    def _one_liner(self, wanted: str, v: dict[str, Any]) -> str:
        """A line that needs no step of its own."""
        self._current = v
        self._left.pop(0)
        place = f" {v['place']}" if v.get("place") else ""
        match wanted:
            case "correct":
                return f"correct {v['correct']}{place} = {_value(v)}"
            case "skip":
                why = f" why {v['why']}" if v.get("why") else ""
                return f"skip {v['skip']}{place}{why}"
            case "note":
                return f"note {v['note']}"
            case "run":
                return f"run {v['run']}"
            case "close":
                return f"close {v['close'] or NO_CAUSE}{place}"
        return "back"


_STEPS = ("check", "reading", "repair", "retest")


def _asked(step: Asked, wanted: str, v: dict[str, Any]) -> bool:
    """Whether the step asked for is the one that a scenario's line answers."""
    kinds = {"check": ("check",), "reading": ("check", "reading"), "repair": ("repair",), "retest": ("retest",)}
    if step.kind not in kinds.get(wanted, ()) or step.id != v[wanted]:
        return False
    if "circuit" in v:
        return (step.circuit, step.start, step.end) == (v["circuit"], v["from"], v["to"])
    return step.place == v.get("place")


def _ask_for(wanted: str, v: dict[str, Any]) -> str:
    word = {"repair": "repair", "retest": "retest"}.get(wanted, "other")
    rest = [v[wanted], *(str(v[k]) for k in ("circuit", "from", "to", "place") if v.get(k) is not None)]
    return " ".join([word, *rest])


def _value(v: dict[str, Any]) -> str:
    if "value" in v:
        return f"{v['value']} {v.get('unit', '')}".strip()
    if "values" in v:
        read = [f"{x}{v.get('unit', '')}" for x in v["values"]]
        return " ".join([*read, *([f"supply={v['supply']}"] if "supply" in v else [])])
    given = v.get("result")
    return " ".join(map(str, given)) if isinstance(given, list | tuple) else str(given)


def _typed(value: Any) -> str:
    """A condition of a reading as one word."""
    return "yes" if value is True else "".join(str(value).split())


def _reply(wanted: str, v: dict[str, Any]) -> str:
    """What is typed at the step's own prompt."""
    if wanted == "repair":
        return "done"
    if "reference" in v:
        extra = [f"{k}={_typed(v[k])}" for k in CONDITIONS if v.get(k) is not None]
        return " ".join([str(v["reference"]), str(v["loaded"]), *extra])
    return _value(v)
