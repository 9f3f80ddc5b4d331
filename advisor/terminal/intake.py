"""The questions before the first check: complaint, codes, conditions, how often in how many hours."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from advisor.consultation.answers import number
from advisor.consultation.scenario import intake_answers, machine_says
from advisor.errors import AdvisorError, InputError
from advisor.model.case import Opened
from advisor.model.knowledge import Intake, Knowledge
from advisor.model.machine import Machine
from advisor.model.trouble_code import TroubleCode, parse_code
from advisor.terminal import views
from advisor.terminal.environment import EndOfInput, Terminal
from advisor.terminal.questions import Answerer, Prompt, pick

T = TypeVar("T")


def tell(terminal: Terminal, error: AdvisorError) -> None:
    """One line that says what is wrong, one that says what to do."""
    terminal.line(f"Not taken: {error.what}.", "bold", hang=2)
    if error.hint:
        terminal.line(error.hint, hang=2)


@dataclass
class Interrupted(Exception):
    """The intake broke off; what was known by then is kept."""

    opened: Opened | None
    by: BaseException


@dataclass
class IntakeDialogue:
    """Asks what must be known at the start. Enter alone always means: not known."""

    terminal: Terminal
    answerer: Answerer
    knowledge: Knowledge

    def run(self, complaint: str | None, fixed: dict[str, Any]) -> Opened:
        """The opening event. `fixed` holds what needs no question (the machine, limits). Raises Interrupted."""
        known: dict[str, Any] = dict(fixed)
        try:
            known["complaint"] = complaint or self._complaint()
            entry = self.knowledge.complaints[known["complaint"]]
            self.terminal.line(f"Complaint: {entry.title}", "bold")
            self.terminal.line(f"First: {entry.first}", hang=2)
            known["codes"] = self._codes()
            machine = Machine.model_validate(fixed["machine"]) if fixed.get("machine") else None
            known["intake"] = machine_says(self.knowledge, machine)
            for question in self.knowledge.intake.values():
                if question.id in known["intake"]:
                    continue
                given = self._conditions(question)
                if given:
                    known["intake"][question.id] = given
            known["occurrences"] = self._count("occurrences", "How many times did it happen?", whole=True)
            known["hours"] = self._count("hours", "In how many working hours?", whole=False)
        except (EndOfInput, KeyboardInterrupt) as stop:
            raise Interrupted(Opened(**known) if "complaint" in known else None, stop) from None
        return Opened(**known)

    def _ask(self, prompt: Prompt, parse: Callable[[str], T]) -> T:
        """Asks until the answer can be read; nothing given before is lost."""
        while True:
            text = self.answerer.answer(prompt)
            if text in ("help", "?"):
                self.terminal.line("Type a number or the word. Enter alone: not known. Ctrl-C saves and leaves.")
                continue
            try:
                return parse(text)
            except InputError as error:
                tell(self.terminal, error)

    def _complaint(self) -> str:
        choices = tuple((c.id, c.title) for c in self.knowledge.complaints.values())
        self.terminal.rule("What is the complaint?")
        views.options(self.terminal, choices)

        def parse(text: str) -> str:
            if not text:
                raise InputError("a case starts with its complaint", "Type the number of the line that comes nearest.")
            return pick(text, choices)

        return self._ask(Prompt("complaint", "complaint", choices), parse)

    def _codes(self) -> tuple[str, ...]:
        self.terminal.rule("Fault codes on the display")
        self.terminal.line(
            "Type them as shown, one a line: SPN 522990 FMI 10 OC 6, or 522990/10, or the four raw bytes B8 04 03 0A."
        )
        self.terminal.line("Enter alone: no more codes.")
        found: list[str] = []
        while True:
            code = self._ask(Prompt("code", "code"), lambda text: (parse_code(text), text) if text else None)
            if code is None:
                return tuple(found)
            found.append(code[1])
            self.terminal.line(code_words(self.knowledge, code[0]), hang=2)

    def _conditions(self, question: Intake) -> tuple[str, ...]:
        choices = tuple((r.id, r.says) for r in question.results)
        self.terminal.rule(question.title)
        self.terminal.line(question.question + (" (several numbers are allowed)" if question.many else ""))
        views.options(self.terminal, choices)

        def parse(text: str) -> tuple[str, ...]:
            words = text.replace(",", " ").split() if question.many else [text] if text else []
            return intake_answers(self.knowledge, question.id, [pick(w, choices) for w in words])

        return self._ask(Prompt(f"intake:{question.id}", question.id, choices), parse)

    def _count(self, kind: str, question: str, *, whole: bool) -> Any:
        self.terminal.line(question)

        def parse(text: str) -> Any:
            if not text:
                return None
            value, unit = number(text)
            if unit is not None or value < 0 or value > 1e6 or (whole and value != int(value)) or (not whole and value == 0):
                raise InputError(f"'{text}' cannot be a count of {kind}", "Type a number such as 6, or Enter when it is not known.")
            return int(value) if whole else value

        return self._ask(Prompt(kind, kind), parse)


def code_words(knowledge: Knowledge, code: TroubleCode) -> str:
    """What the controller saw, in plain words."""
    mode = knowledge.fault_modes.get(code.fmi)
    says = mode.says if mode else "this failure mode is not in the knowledge"
    if code.ambiguous:
        return f"The bytes do not tell which parameter is meant (old packing). Failure mode {code.fmi}: {says}"
    times = f", {code.occurrences} times" if code.occurrences else ""
    return f"Parameter {code.spn}, failure mode {code.fmi}{times}: {says}"
