"""Field case files to models: every word in them is held to the knowledge, and each mistake is named by its place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from advisor.errors import InputError, Problem, nearest
from advisor.evidence.rows import OTHERWISE, row, row_for, word_values
from advisor.library.files import built, with_machine
from advisor.library.reader import Document, Path_, read
from advisor.model.case import NORMAL
from advisor.model.field_case import LOAD_TEST, SUM_SLACK, FieldCase, MasterStep, Shown
from advisor.model.knowledge import Check, Intake, Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.model.stage import ASK
from advisor.model.trouble_code import parse_code

MENU = "menu.txt"  # beside field cases: the checks that their authors knew


def read_field_case(file: Path, knowledge: Knowledge) -> FieldCase:
    """A field case. Raises NotFound or InputError with every problem."""
    document = read(file)
    data, problems = with_machine(file, document)
    case = knowledge.retired.field_case(built(FieldCase, file, document, data, problems))
    layout = case.machine or generic_machine()
    found = sorted(set(_Held(document, knowledge, layout).problems(case)))
    if found:
        hint = "Correct the line named." if len(found) == 1 else f"Correct it; {len(found) - 1} more follow."
        raise InputError(str(found[0]), hint, tuple(found[1:]))
    return _of_today(case, knowledge)


def _of_today(case: FieldCase, knowledge: Knowledge) -> FieldCase:
    """A field case with results of a wider, older sense shared out among the results of today.

    Its author could not choose between these: somebody at the machine can. What is seen there is one of them as the fault of
    the case makes it likely. A check of which the author names a newer result stays as written.
    """
    found: dict[str, Shown] = {}
    used, fault = word_values(knowledge), knowledge.causes[case.fault.cause]
    for key, chances in case.found.items():
        check = knowledge.checks[key.partition("@")[0]]
        wide = knowledge.retired.narrowed.get(check.id, {})
        newer = {r for results in wide.values() for r in results} - wide.keys()
        likely = dict(zip((r.id for r in check.results), row(check, row_for(check, fault) or OTHERWISE, used), strict=True))
        shared = dict(chances)
        for old in wide.keys() & chances.keys() if newer.isdisjoint(chances) else ():
            parts = {r: likely[r] for r in wide[old]}
            shared.pop(old)
            for result, weight in parts.items():
                shared[result] = shared.get(result, 0.0) + chances[old] * weight / sum(parts.values())
        found[key] = shared
    return case.model_copy(update={"found": found})


def read_menu(file: Path) -> frozenset[str] | None:
    """The checks that the authors of the field cases in a file's folder knew; None where the folder has no menu."""
    menu = file.with_name(MENU)
    return frozenset(menu.read_text(encoding="utf-8").split()) if menu.is_file() else None


class _Held:
    """Holds a field case to the knowledge and to the layout it is played on."""

    def __init__(self, document: Document, knowledge: Knowledge, layout: Machine) -> None:
        self.document, self.knowledge, self.layout = document, knowledge, layout
        self.places = {*layout.elements, *layout.points}

    def problem(self, path: Path_, what: str, hint: str = "") -> Problem:
        return Problem(self.document.locate(path), what, hint)

    def known(self, path: Path_, name: str, kind: str, names: Iterable[str]) -> Iterator[Problem]:
        known = list(names)
        if name not in known:
            yield self.problem(path, f"no {kind} '{name}'", nearest(name, known) or "leave it out")

    def problems(self, case: FieldCase) -> Iterator[Problem]:
        """Everything in a case that this knowledge or its layout does not have."""
        k = self.knowledge
        yield from self.known(("complaint",), case.complaint, "complaint", k.complaints)
        yield from self._told(case)
        yield from self._fault(case)
        for element in case.ohms:
            yield from self.known(("ohms", element), element, "element", self.layout.elements)
        for i, check in enumerate(case.cannot):
            yield from self.known(("cannot", i), check, "check", k.checks)
        for i, what in enumerate(case.unavailable):
            yield from self.known(("unavailable", i), what, "tool or setup", [*k.tools, *k.retired.setups])
        yield from self._found(case)
        yield from self._spots(case)
        yield from self._master(case)

    def _told(self, case: FieldCase) -> Iterator[Problem]:
        """What is told at the beginning, and what the operator would answer."""
        for i, code in enumerate(case.codes):
            try:
                parse_code(code)
            except InputError as error:
                yield self.problem(("codes", i), error.what, error.hint[:1].lower() + error.hint[1:].rstrip("."))
        for question, given in (case.intake.model_extra or {}).items():
            yield from self._answers(("intake", question), given, "intake question", self.knowledge.intake)
        facts = {c.id: c for c in self.knowledge.checks.values() if c.stage == ASK}
        for question, given in case.facts.items():
            yield from self._answers(("facts", question), given, "question to the operator", facts)

    def _answers(self, path: Path_, given: Any, kind: str, questions: Mapping[str, Intake | Check]) -> Iterator[Problem]:
        """The answers to one question, one or several of them."""
        question = questions.get(str(path[-1]))
        if question is None:
            yield from self.known(path, str(path[-1]), kind, questions)
            return
        several = isinstance(given, list | tuple)
        for i, answer in enumerate(given if several else [given]):
            known = [r.id for r in question.results]
            yield from self.known((*path, i) if several else path, str(answer), f"answer to {question.id}", known)

    def _fault(self, case: FieldCase) -> Iterator[Problem]:
        yield from self.known(("fault", "cause"), case.fault.cause, "cause", self.knowledge.causes)
        if case.fault.place is not None:
            yield from self.known(("fault", "place"), case.fault.place, "place", self.places)
        for i, other in enumerate(case.fault.also):
            cause, at, place = other.partition("@")
            yield from self.known(("fault", "also", i), cause, "cause", self.knowledge.causes)
            if at:
                yield from self.known(("fault", "also", i), place, "place", self.places)

    def _found(self, case: FieldCase) -> Iterator[Problem]:
        checks = self.knowledge.checks
        for key, chances in case.found.items():
            path: Path_ = ("found", key)
            name, at, place = key.partition("@")
            yield from self.known(path, name, "check", checks)
            if at:
                yield from self.known(path, place, "place", self.places)
            if name in checks:
                results = [r.id for r in checks[name].results]
                for result in chances:
                    yield from self.known((*path, result), result, f"result of {name}", [*results, NORMAL])
                yield from self._contradicts(case, key, checks[name])
            if abs(sum(chances.values()) - 1) > SUM_SLACK:
                yield self.problem(path, f"the chances of {key} come to {sum(chances.values()):g}, not to 1", "let them sum to 1")

    def _spots(self, case: FieldCase) -> Iterator[Problem]:
        """Where and on which side checks show the fault."""
        from advisor.evidence.spots import spots

        checks = self.knowledge.checks
        for key, names in (("where", case.where), ("side", case.side)):
            asked = [c.id for c in checks.values() if (c.where is not None if key == "where" else c.sides)]
            for check in names:
                yield from self.known((key, check), check, f"check that asks {'where' if key == 'where' else 'the side'}", asked)
        for check, place in case.where.items():
            spread = checks[check].where if check in checks else None
            if spread is not None:
                known = [s.id for s in spots(self.layout, spread)]
                if place not in self.layout.elements:
                    yield from self.known(("where", check), place, "place on the harness", known)

    def _contradicts(self, case: FieldCase, key: str, check: Check) -> Iterator[Problem]:
        """One check cannot be answered twice for the same place, nor be answered and impossible as well."""
        if check.id in case.cannot:
            what = f"{check.id} is answered here and stands under 'cannot' too"
            yield self.problem(("found", key), what, "keep one of the two")
        if check.at is None and "@" in key and check.id in case.found:
            what = f"{check.id} is done once for the whole machine, but is answered twice"
            yield self.problem(("found", key), what, f"keep '{check.id}' alone")

    def _master(self, case: FieldCase) -> Iterator[Problem]:
        for i, step in enumerate(case.master):
            path: Path_ = ("master", i)
            if step.check is not None:
                yield from self.known((*path, "check"), step.check, "check", self.knowledge.checks)
            else:
                yield from self.known((*path, "repair"), str(step.repair), "cause", self.knowledge.causes)
            if step.place is not None and step.check != LOAD_TEST:
                yield from self.known((*path, "place"), step.place, "place", self.places)
            if step.check == LOAD_TEST:
                yield from self._run(path, step)
        yield from self._end(case)

    def _run(self, path: Path_, step: MasterStep) -> Iterator[Problem]:
        """The run that the master tests under load."""
        key = "circuit" if step.circuit is not None else "place"
        if step.circuit is None and step.place is None:
            yield self.problem(path, "the load test names no run", "add 'place: CIRCUIT' or 'place: CIRCUIT START-END'")
            return
        circuit, start, end = step.run
        if circuit not in self.layout.circuits:
            yield from self.known((*path, key), circuit, "circuit", self.layout.circuits)
            return
        points = self.layout.circuit_points(circuit)
        unknown = [point for point in (start, end) if point is not None and point not in points]
        for point in unknown:
            yield from self.known((*path, key), point, f"point of {circuit}", points)
        if not unknown and self.layout.section(circuit, start or points[0], end or points[-1]) is None:
            yield self.problem((*path, key), f"{circuit} has no run from {start} to {end}", "name two of its points")

    def _end(self, case: FieldCase) -> Iterator[Problem]:
        """The path ends in a repair that cures."""
        last = case.master[-1]
        cures = {case.fault.cause, *(other.partition("@")[0] for other in case.fault.also)}
        if case.fault.cause in self.knowledge.causes and last.repair not in cures:
            what = f"the master's path does not end in the repair of {case.fault.cause}"
            yield self.problem(("master", len(case.master) - 1), what, f"end it with 'repair: {case.fault.cause}'")
