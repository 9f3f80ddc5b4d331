"""The questions before the first check: complaint, codes, conditions, how often in how many hours."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from advisor.consultation.answers import number
from advisor.consultation.counts import counted
from advisor.consultation.scenario import intake_answers
from advisor.errors import AdvisorError, InputError
from advisor.model.case import CODES, HOURS, OCCURRENCES, Event, State, Told
from advisor.model.knowledge import Intake, Knowledge
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
class IntakeDialogue:
    """Asks what must be known at the start. Enter alone always means: not known."""

    terminal: Terminal
    answerer: Answerer
    knowledge: Knowledge

    def complaint(self) -> str:
        """The complaint that a case begins with."""
        choices = tuple((c.id, c.title) for c in self.knowledge.complaints.values())
        self.terminal.rule("What is the complaint?")
        views.options(self.terminal, choices)

        def parse(text: str) -> str:
            if not text:
                raise InputError("a case starts with its complaint", "Type the number of the line that comes nearest.")
            return pick(text, choices)

        return self._ask(Prompt("complaint", "complaint", choices), parse)

    def pending(self, state: State) -> tuple[str, ...]:
        """The questions that were not answered yet, in order; none for a case that began with all its answers."""
        if state.opened is None or not state.opened.asks:
            return ()
        answered = {*state.told, *state.opened.intake}
        if state.told and state.told[-1] == CODES and state.opened.codes:
            answered.remove(CODES)  # nothing says that the last code was typed
        return tuple(q for q in (CODES, *self.knowledge.intake, OCCURRENCES, HOURS) if q not in answered)

    def run(self, state: State, append: Callable[[Event], None]) -> None:
        """Asks what is pending. Each answer goes to `append` before the next question is asked."""
        assert state.opened is not None
        pending = self.pending(state)
        if not pending:
            return
        entry = self.knowledge.complaints[state.opened.complaint]
        self.terminal.line(f"Complaint: {entry.title}", "bold")
        self.terminal.line(f"First: {entry.first}", hang=2)
        for question in pending:
            if question == CODES:
                self._codes(state.opened.codes, append)
            elif question == OCCURRENCES:
                times = self._count(OCCURRENCES, "How many times did it happen?")
                append(Told(question=OCCURRENCES, number=times))
            elif question == HOURS:
                append(Told(question=HOURS, number=self._count(HOURS, "In how many working hours?")))
            else:
                append(Told(question=question, words=self._conditions(self.knowledge.intake[question])))

    def _ask(self, prompt: Prompt, parse: Callable[[str], T]) -> T:
        """Asks until the answer can be read. Raises EndOfInput for the word `pause` too."""
        while True:
            text = self.answerer.answer(prompt)
            if text in ("help", "?"):
                self.terminal.line("Type a number or the word. Enter alone: not known. pause saves and leaves.")
                continue
            if text.lower() == "pause":
                raise EndOfInput
            try:
                return parse(text)
            except InputError as error:
                tell(self.terminal, error)

    def _codes(self, known: tuple[str, ...], append: Callable[[Event], None]) -> None:
        self.terminal.rule("Fault codes on the display")
        self.terminal.line(
            "Type them as shown, one a line: SPN 522990 FMI 10 OC 6, or 522990/10, or the four raw bytes B8 04 03 0A."
        )
        self.terminal.line("Enter alone: no more codes.")
        if known:
            self.terminal.line(f"Typed so far: {'; '.join(known)}", hang=2)
        found = known
        while True:
            code = self._ask(Prompt("code", "code"), lambda text: (parse_code(text), text) if text else None)
            if code is None:
                break
            found = (*found, code[1])
            append(Told(question=CODES, words=found))
            self.terminal.line(code_words(self.knowledge, code[0]), hang=2)
        if not found:
            append(Told(question=CODES))

    def _conditions(self, question: Intake) -> tuple[str, ...]:
        choices = tuple((r.id, r.says) for r in question.results)
        self.terminal.rule(question.title)
        self.terminal.line(question.question + (" (several numbers are allowed)" if question.many else ""))
        views.options(self.terminal, choices)

        def parse(text: str) -> tuple[str, ...]:
            words = text.replace(",", " ").split() if question.many else [text] if text else []
            return intake_answers(self.knowledge, question.id, [pick(w, choices) for w in words])

        return self._ask(Prompt(f"intake:{question.id}", question.id, choices), parse)

    def _count(self, kind: str, question: str) -> float | None:
        self.terminal.line(question)

        def parse(text: str) -> float | None:
            if not text:
                return None
            return counted(kind, *number(text))

        return self._ask(Prompt(kind, kind), parse)


def code_words(knowledge: Knowledge, code: TroubleCode) -> str:
    """What the controller saw, in plain words."""
    mode = knowledge.fault_modes.get(code.fmi)
    says = mode.says if mode else "this failure mode is not in the knowledge"
    if code.ambiguous:
        return f"The bytes do not tell which parameter is meant (old packing). Failure mode {code.fmi}: {says}"
    times = f", {code.occurrences} times" if code.occurrences else ""
    return f"Parameter {code.spn}, failure mode {code.fmi}{times}: {says}"
