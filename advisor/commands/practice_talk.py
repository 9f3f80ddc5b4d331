"""The dialogue on a simulated machine: the technician chooses, the machine answers, and at the end it says what that cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from advisor.consultation.consultation import Consultation
from advisor.consultation.reading_words import reading_lines
from advisor.consultation.safety import cautions_of
from advisor.consultation.steps import work_of
from advisor.errors import EndOfInput, ExitCode, InputError, nearest
from advisor.model.finding import Step
from advisor.model.question import Question
from advisor.practice.exercise import Exercise, open_checks
from advisor.reasoning.likelihoods import places
from advisor.session import typed
from advisor.session.picking import pick
from advisor.session.room import choices as offered
from advisor.terminal import stage, views
from advisor.terminal.client import Answerer, refused
from advisor.terminal.environment import Terminal

WORDS = "why other repair show pause help"
HELP = (
    ("SYSTEM", "list the checks of a system"),
    ("CHECK or CHECK PLACE", "choose a check by its name; load-test CIRCUIT FROM TO for a load test"),
    ("a number", "choose from the list shown last"),
    ("other", "list the systems"),
    ("go", "do the step that is shown"),
    ("repair CAUSE", "name the cause and repair it; repair alone lists the causes"),
    ("why", "what the program would do here, and why"),
    ("show", "the ranking and what was done so far"),
    ("pause", "stop here and see what it cost so far"),
)
SMALL = 1.0  # expected minutes that are not worth a word


@dataclass
class PracticeTalk:
    """One exercise at the terminal. Nothing is saved."""

    terminal: Terminal
    answerer: Answerer
    exercise: Exercise
    consultation: Consultation
    _offered: list[str] = field(default_factory=list)  # what a number stands for: words as they could be typed
    _shown: Step | None = None  # the step on the screen that go does

    def run(self) -> ExitCode:
        """Until the fault is gone or the technician pauses."""
        complaint = self.exercise.job.machine.complaint
        entry = self.consultation.knowledge.complaints[complaint]
        self.terminal.rule(entry.title)
        self.terminal.line(f"The operator says: {entry.asks}")
        self._told()
        self.terminal.line("Find the cause and repair it in as few minutes as you can. You choose every step.")
        self._other("")
        while not self.exercise.job.over:
            self.terminal.line(f"[{WORDS}]")
            try:
                text = self.answerer.answer(Question(kind="step", text="Your step?", prompt="your step"))
            except EndOfInput:
                text = "pause"
            if text.lower() == "pause":
                self._review()
                return ExitCode.PAUSED
            try:
                self._take(text)
            except InputError as error:
                refused(self.terminal, error.what, error.hint)
        self._review()
        return ExitCode.OK

    def _told(self) -> None:
        """What the operator tells at the start: the machine, and how the fault comes."""
        s = self.exercise.situation
        opened = s.state.opened
        for question, given in (opened.intake if opened else {}).items():
            entry = s.knowledge.intake[question]
            says = [r.says for r in entry.results if r.id in given]
            self.terminal.line(f"{entry.title}: {'; '.join(says)}.", hang=2)

    # ---- words

    def _take(self, text: str) -> None:
        if text.isascii() and text.isdigit() and len(text) < 10:
            text = pick(text, [(words, words) for words in self._offered]) if self._offered else text
        word, _, rest = text.partition(" ")
        match word.lower():
            case "":
                self.terminal.line("Type the name of a check, or a word; help lists the words.")
            case "go":
                self._go()
            case "other":
                self._other(rest.strip())
            case "repair":
                self._repair(rest.split())
            case "why":
                self._why()
            case "show":
                self._show()
            case "help" | "?":
                for name, says in HELP:
                    self.terminal.line(f"{name}: {says}", indent=2, hang=2)
            case _ if word.lower() in open_checks(self.exercise):
                self._other(word.lower())
            case _:
                self._check(text.split())

    def _offer(self, rows: Sequence[tuple[str, str]]) -> None:
        self._offered = [words for words, _ in rows]
        views.options(self.terminal, rows)

    def _other(self, system: str) -> None:
        """The systems, or the open checks of one."""
        found = open_checks(self.exercise)
        if not system:
            self.terminal.line("Where do you look? Type a number, or the name of a check.", "bold")
            self._offer([(f"other {name}", f"{name}: {_count(len(checks), 'check')}") for name, checks in found.items()])
            return
        if system not in found:
            raise InputError(f"'{system}' is no system with a check left", nearest(system, found))
        checks = self.consultation.knowledge.checks
        self._offer([(name, f"{checks[name].title} ({checks[name].minutes:.0f} min)") for name in found[system]])

    def _check(self, words: list[str]) -> None:
        """A check chosen: its cautions, the way to it and its steps, before anything is done."""
        spots, _ = typed.spots_for(self.exercise.situation, words)
        place = self._place(spots) if spots else None
        self._present(typed.step_named(self.exercise.situation, words, "check", place))

    def _place(self, spots: Sequence[str]) -> str:
        """A place of the simulated machine; a check at a point is done at one point here, for the machine answers at one."""
        choices = tuple((p, p) for p in spots)
        self.terminal.line("At which place?", "bold")
        views.options(self.terminal, choices)
        return pick(
            self.answerer.answer(Question(kind="place", text="At which place?", prompt="place", choices=offered(choices))), choices
        )

    def _repair(self, words: list[str]) -> None:
        s = self.exercise.situation
        if not words:
            causes = dict.fromkeys(x.cause for x in s.space.suspects if x.cause in s.knowledge.causes)
            self.terminal.line("Which cause is it?", "bold")
            self._offer([(f"repair {name}", s.knowledge.causes[name].title) for name in causes])
            return
        cause = s.knowledge.causes.get(words[0])
        if cause is None:
            raise InputError(f"no cause '{words[0]}'", nearest(words[0], s.knowledge.causes))
        spots = [p for p in places(cause, s.machine) if p is not None]
        place = (words[1] if len(words) > 1 else self._place(spots)) if spots else None
        index = self.exercise.index(cause.id, place)
        if index is None:
            raise InputError(f"{' '.join(words)} cannot be here", "Type repair alone for the causes that can.")
        for hold in s.held_repair(cause.id):
            self.terminal.line(f"A rule says to wait with this repair until: {hold.until}", "bold", hang=2)
        self._present(self.exercise.repair_step(index))

    def _present(self, step: Step) -> None:
        """The step as the real dialogue shows it: cautions before the way to it, the way before its steps."""
        s = self.exercise.situation
        self._shown = step
        self.terminal.rule("Repair" if step.kind == "repair" else "Check")
        self.terminal.line(f"{step.title} ({step.minutes:.0f} min with the way to it)", "bold", hang=2)
        own = cautions_of(s.knowledge, s.machine, step, work_of(s, step))
        stage.work(self.terminal, s, step, (*own, *s.assessment.cautions))
        self.terminal.line("Type go to do it, or choose another step.", "bold")

    def _go(self) -> None:
        if self._shown is None:
            raise InputError("no step is chosen yet", "Type the name of a check, or other for the list.")
        step, self._shown = self._shown, None
        done = self.exercise.do(step)
        s = self.exercise.situation
        self.terminal.rule("Found")
        if done.kind == "repair":
            said = "The retest passes, and the fault is gone." if done.result == "cured" else "The fault is still there."
            self.terminal.line(said, "bold")
        elif done.kind == "reading":
            for text in reading_lines(self.consultation, s.state):
                self.terminal.line(text)
        else:
            check = s.knowledge.checks[step.id]
            self.terminal.line(check.question)
            for result in done.result.split("+"):
                says = next(r for r in check.results if r.id == result)
                self.terminal.line(f"{says.says}{' (normal)' if says.normal else ''}.", "bold")
        self.terminal.line(f"{self.exercise.job.minutes:.0f} min so far.")

    def _why(self) -> None:
        step = self.exercise.advised().next
        self.terminal.line(f"The program would now choose: {self.exercise.title(step)}", "bold", hang=2)
        if step.kind == "done":
            self.terminal.line("It would look beyond the list. Here the cause is always on the list.")
            return
        for text in step.reason:
            self.terminal.line(text)
        words = ("repair", step.id, step.place) if step.kind == "repair" else step.key
        self._offered = [" ".join(word for word in words if word)]
        self.terminal.line("Type 1 to choose it too.")

    def _show(self) -> None:
        self.terminal.rule("Ranking")
        views.ranking(self.terminal, self.exercise.situation.assessment.ranking, shown=8)
        self.terminal.rule("Done so far")
        for i, j in enumerate(self.exercise.judged, 1):
            self.terminal.line(f"{i}. {j.title}: {j.done.result}, {j.done.minutes:.0f} min", hang=3)

    # ---- afterwards

    def _review(self) -> None:
        """What each choice cost against the program's own, and the whole against the program's way."""
        exercise, job = self.exercise, self.exercise.job
        space = exercise.situation.space
        self.terminal.rule("What your choices cost")
        for i, j in enumerate(exercise.judged, 1):
            self.terminal.line(f"{i}. {j.title}: {j.done.minutes:.0f} min", hang=3)
            if j.cost < SMALL or j.title == j.best_title:
                self.terminal.line("As good as any.", indent=3)
            else:
                self.terminal.line(
                    f"{j.cost:+.0f} min to the end, as far as could be known then. Better: {j.best_title}.", indent=3
                )
        if not job.cured:
            self.terminal.line("The fault is not found yet. The same seed brings the same machine again.")
            return
        self.terminal.line(f"It was: {space.title(exercise.hidden)}.", "bold")
        own = sum(d.kind == "repair" for d in job.done)
        self.terminal.line(f"You: {_whole(job.minutes, len(job.done) - own, own)}.")
        told = exercise.programs_way()
        self.terminal.line(f"The program, on the same machine: {_whole(told.minutes, told.checks, told.repairs)}.")
        self.terminal.line(
            f"Your choices cost {sum(j.cost for j in exercise.judged):.0f} min more than the best ones, as was to be expected."
        )
        self.terminal.line("The rest of the difference is luck.")


def _count(n: int, word: str) -> str:
    return f"{n} {word}" + ("" if n == 1 else "s")


def _whole(minutes: float, checks: int, repairs: int) -> str:
    return f"{minutes:.0f} min, {_count(checks, 'check')}, {_count(repairs, 'repair')}"
