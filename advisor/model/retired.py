"""Ids that are no longer in the knowledge: what stands for them where a case, a scenario or a field case still names them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pydantic import Field

from advisor.model.case import (
    HEARD,
    Answered,
    Case,
    Closed,
    Corrected,
    Event,
    Limited,
    Overridden,
    Repaired,
    Retested,
    Skipped,
    Told,
)  # fmt: skip
from advisor.model.entry import Entry, Id
from advisor.model.states import Needs

if TYPE_CHECKING:
    from advisor.model.field_case import FieldCase
    from advisor.model.scenario import Line, Scenario


class Retired(Entry):
    """The file retired.yaml: old ids, and what they are now."""

    setups: dict[Id, Needs] = Field(default={}, description="An old setup, and how the machine stands in it.")
    checks: dict[Id, Id] = {}
    causes: dict[Id, Id] = {}
    results: dict[Id, dict[Id, Id]] = Field(default={}, description="For a check, by its id now: an old result and what it is now.")
    narrowed: dict[Id, dict[Id, tuple[Id, ...]]] = Field(
        default={},
        description="For a check, a result that once meant more, and its parts now. Field cases use the old sense.",
    )
    tools: dict[Id, Id] = {}

    def check(self, name: str) -> str:
        return self.checks.get(name, name)

    def cause(self, name: str) -> str:
        return self.causes.get(name, name)

    def tool(self, name: str) -> str:
        return self.tools.get(name, name)

    def result(self, check: str, name: str) -> str:
        """A result of a check that is named by its id now."""
        return self.results.get(check, {}).get(name, name)

    def _answered(self, a: Answered) -> Answered:
        check = self.check(a.check)
        also = tuple(self.result(check, r) for r in a.also)
        return a.model_copy(update={"check": check, "result": self.result(check, a.result), "also": also})

    def event(self, event: Event) -> Event:
        """An event with its ids as they are now."""
        match event:
            case Answered():
                return self._answered(event)
            case Retested() | Corrected():
                return event.model_copy(update={"by": self._answered(event.by)}) if isinstance(event.by, Answered) else event
            case Skipped() | Overridden():
                return event.model_copy(update={"check": self.check(event.check)})
            case Repaired():
                return event.model_copy(update={"cause": self.cause(event.cause)})
            case Closed():
                return event if event.cause is None else event.model_copy(update={"cause": self.cause(event.cause)})
            case Limited():
                return event.model_copy(update={"what": self.tool(event.what)})
            case Told(question=question) if question.startswith(HEARD):
                check = self.check(question.removeprefix(HEARD))
                words = tuple(self.result(check, r) for r in event.words)
                return event.model_copy(update={"question": f"{HEARD}{check}", "words": words})
        return event

    def case(self, case: Case) -> Case:
        """A case with its ids as they are now; the numbers of its events stay."""
        return Case(tuple(map(self.event, case.events)))

    def line(self, line: Line) -> Line:
        """A line of answers with its ids as they are now."""
        values: dict[str, Any] = line.values
        kind = line.kind
        if kind in ("check", "reading", "correct", "skip", "retest"):
            values[kind] = check = self.check(str(values[kind]))
            given = values.get("result")
            if isinstance(given, list | tuple):
                values["result"] = [self.result(check, str(r)) for r in given]
            elif given is not None:
                values["result"] = self.result(check, str(given))
        elif kind in ("repair", "close") and values[kind] is not None:
            values[kind] = self.cause(str(values[kind]))
        from advisor.model.scenario import Line

        return Line.model_validate(values)

    def scenario(self, scenario: Scenario) -> Scenario:
        """A scenario with its ids as they are now."""
        expect = scenario.expect
        changes = {
            "answers": tuple(map(self.line, scenario.answers)),
            "unavailable": tuple(map(self.tool, scenario.unavailable)),
            "expect": expect and expect.model_copy(update={"leading": self.cause(expect.leading)}),
        }
        return scenario.model_copy(update=changes)

    def field_case(self, case: FieldCase) -> FieldCase:
        """A field case with its ids as they are now."""
        fault = case.fault.model_copy(update={"cause": self.cause(case.fault.cause), "also": tuple(map(self._at, case.fault.also))})
        found = {}
        for key, chances in case.found.items():
            name, at, place = key.partition("@")
            check = self.check(name)
            found[f"{check}{at}{place}"] = {self.result(check, r): chance for r, chance in chances.items()}
        steps = (
            s.model_copy(update={"check": s.check and self.check(s.check), "repair": s.repair and self.cause(s.repair)})
            for s in case.master
        )
        changes = {
            "fault": fault, "found": found, "master": tuple(steps), "cannot": tuple(map(self.check, case.cannot)),
            "unavailable": tuple(map(self.tool, case.unavailable)),
        }  # fmt: skip
        return case.model_copy(update=changes)

    def _at(self, repair: str) -> str:
        """A repair named as CAUSE or CAUSE@PLACE."""
        cause, at, place = repair.partition("@")
        return f"{self.cause(cause)}{at}{place}"
