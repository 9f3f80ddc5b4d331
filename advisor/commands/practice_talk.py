"""Practice: a session like that of a real case, whose answers a machine gives; at the end it says what each choice cost."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from advisor.consultation.advice import Advice, search
from advisor.consultation.answers import normal_result
from advisor.consultation.consultation import Consultation
from advisor.consultation.situation import Situation
from advisor.errors import ExitCode
from advisor.model.case import Answered, Case, Opened, fold
from advisor.model.finding import Step
from advisor.model.question import Question
from advisor.model.stage import ASK
from advisor.practice.exercise import Judgement, judge
from advisor.practice.plant import Plant, answer_events
from advisor.session.commands import COMMANDS
from advisor.session.conversation import OWED
from advisor.session.session import Session
from advisor.terminal.client import Answerer, Person, play, refused
from advisor.terminal.environment import Terminal

GO = ("go", "", "done")  # words that do the step on the screen
SMALL = 1.0  # expected minutes that are not worth a word
# Asked of a machine, not of a person.
SHOWN = ("step", "where", "side", "places", "recurrences")  # what the machine answers that the person wants to read


@dataclass
class Practice:
    """What a technician types, and what the machine answers; the minutes go up with every step."""

    terminal: Terminal
    person: Answerer
    plant: Plant
    session: Session
    judged: list[Judgement] = field(default_factory=list)
    minutes: float = 0.0
    until_cure: float = 0.0  # minutes up to the beginning of the right repair
    _typed: dict[str, str] | None = None  # what the machine says to the questions that follow; None: the person is asked

    def answer(self, prompt: Question) -> str:
        """What is typed at a prompt. Raises EndOfInput when the person leaves."""
        if prompt.kind in ("step", "choice"):
            self._typed = None
        elif self._typed is not None:
            return self._said(prompt, self._typed.get(prompt.kind, _any(prompt)))
        while True:
            text = self.person.answer(prompt)
            word = text.split(" ")[0].lower()
            if prompt.kind != "step" or word in COMMANDS or word == "pause":
                self._typed = self._run() if word == "run" else None
                return text
            if word in GO:
                return self._said(prompt, self._do())
            refused(self.terminal, "the machine answers here, not you", "Type go to do this step, or other for another one.")

    def _said(self, prompt: Question, text: str) -> str:
        """Shows what the machine answers, in the words of the question where it has them."""
        words = {c.id: c.says for c in prompt.choices}
        said = "; ".join(words[w] for w in text.split()) if text and all(w in words for w in text.split()) else text
        if said and prompt.kind in SHOWN:
            self.terminal.line(f"The machine: {said}{' times' if prompt.kind == 'recurrences' else ''}", "bold", hang=2)
        return text

    # ---- a step

    def _do(self) -> str:
        """Does the step on the screen: what is typed for it."""
        talk = self.session.conversation
        assert talk is not None, "a step belongs to a conversation"
        step, s = talk.chosen or talk.next, talk.situation
        self._typed = self._run()
        if step.kind in ("check", "reading", "repair"):
            known = Advice((talk.next,), talk.assessment.to_the_end)
            verdict = judge(s, search(s) if talk.next.kind in OWED else known, step)
        match step.kind:
            case "check" | "retest" if step.circuit is None:
                text = self._check(s, step)
            case "reading" | "retest":
                reading = self.plant.load_test(step.circuit or "", step.start or "", step.end or "")
                text = f"{reading.reference:.2f} {reading.loaded:.2f}"
            case "repair":
                text = self._repair(s, step)
            case "run":
                text = f"{self.plant.hours():g} h"
            case _:
                return "close" if step.id == "close" else "pause"
        if step.kind in ("check", "reading", "repair") and not text.startswith("skip"):
            self.judged.append(verdict)
        if step.kind != "run" and not text.startswith("skip"):
            asks = step.kind == "check" and s.knowledge.checks[step.id].stage == ASK
            self.minutes += s.knowledge.words.ask_minutes if asks else step.minutes
        return text

    def _check(self, s: Situation, step: Step) -> str:
        """The result of a check, or that it cannot be done or is not known."""
        check = s.knowledge.checks[step.id]
        if check.stage == ASK:
            return " ".join(self.plant.told(check)) or "skip why not known"
        if step.kind == "check" and not self.plant.can(check.id):
            return "skip why it cannot be done on this machine"
        found = answer_events(self.plant, s, step)
        odd = [a for a in found if a.result != normal_result(check)]
        first = (odd or list(found))[0]
        self._typed = {"where": first.where or "", "side": first.side or "", "places": _places(odd, first.result)}
        return first.result

    def _run(self) -> dict[str, str]:
        """What a run shows."""
        return {"recurrences": str(int(not self.plant.cured))}

    def _repair(self, s: Situation, step: Step) -> str:
        before = self.plant.cured
        if not before:
            self.until_cure = self.minutes
        self.plant.mend(step.id, step.place)
        if not self.plant.cured:
            self.minutes += self.plant.vain_minutes(s)
        return "done"


def _any(prompt: Question) -> str:
    """An answer to what no machine can tell: not known where that is allowed, else that it was done as asked."""
    if prompt.optional:
        return ""
    return next((c.id for c in prompt.choices if c.id == "yes"), prompt.choices[0].id if prompt.choices else prompt.example)


def _places(odd: Sequence[Answered], result: str) -> str:
    return " ".join(str(a.place) for a in odd if a.result == result)


def exercise(
    terminal: Terminal, consultation: Consultation, case: Case, plant: Plant, told: Callable[[Practice], Iterator[str]],
    person: Answerer | None = None,
) -> ExitCode:  # fmt: skip
    """A search at the terminal on a machine that answers, and its review. `told` is what is said of it once its fault is found."""
    session = Session.going_on(consultation.knowledge, case, lambda *events: None, consultation=consultation, blind=True)
    done = Practice(terminal, person or Person(terminal), plant, session)
    opened = fold(case).opened
    assert opened is not None
    _begin(terminal, consultation, opened)
    play(terminal, done, session)
    review(terminal, done, told)
    return ExitCode.OK if plant.cured else ExitCode.PAUSED


def _begin(terminal: Terminal, consultation: Consultation, opened: Opened) -> None:
    """What the operator tells, and how an exercise goes."""
    knowledge = consultation.knowledge
    entry = knowledge.complaints[opened.complaint]
    terminal.rule(entry.title)
    terminal.line(f"The operator says: {entry.asks}")
    for question, given in opened.intake.items():
        asked = knowledge.intake[question]
        says = [r.says for r in asked.results if r.id in given]
        terminal.line(f"{asked.title}: {'; '.join(says)}.", hang=2)
    terminal.line("Find the cause and repair it in as few minutes as you can. You choose every step.")
    terminal.line("other: the steps by number. A check's name chooses it. go: do what is on the screen.", hang=2)
    terminal.line("why: what the program would do. repair CAUSE: repair it. pause: stop, and see what it cost.", hang=2)


def review(terminal: Terminal, done: Practice, told: Callable[[Practice], Iterator[str]]) -> None:
    """What each choice cost against the program's own, then what is `told` of the machine where its fault was found."""
    terminal.rule("What your choices cost")
    for i, j in enumerate(done.judged, 1):
        terminal.line(f"{i}. {j.title}: {j.minutes:.0f} min", hang=3)
        if j.cost < SMALL or j.title == j.best_title:
            terminal.line("As good as any.", indent=3)
        else:
            terminal.line(f"{j.cost:+.0f} min to the end, by what was known then. Better: {j.best_title}.", indent=3)
    if not done.plant.cured:
        terminal.line("The fault is not found yet. The same command brings the same machine again.")
        return
    for text in told(done):
        terminal.line(text, hang=2)
    cost = sum(j.cost for j in done.judged)
    terminal.line(
        f"Your choices cost {cost:.0f} min more than the best ones, as expected before the results were known. The rest is luck.",
        hang=2,
    )


def whole(minutes: float, checks: int, repairs: int) -> str:
    """A whole search in a few words."""
    return f"{minutes:.0f} min, {_count(checks, 'check')}, {_count(repairs, 'repair')}"


def _count(n: int, word: str) -> str:
    return f"{n} {word}" + ("" if n == 1 else "s")
