"""The dialogue on a simulated machine: the technician chooses, the machine answers, and at the end it says what that cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from advisor.consultation import answers
from advisor.consultation.consultation import Consultation
from advisor.consultation.next_step import prepared
from advisor.consultation.reading_words import reading_lines
from advisor.errors import ExitCode, InputError, nearest
from advisor.model.case import Case, Opened, Repaired, SetupChanged, fold
from advisor.model.finding import NOT_LISTED, Step
from advisor.practice.exercise import Exercise, open_checks
from advisor.practice.policies import Choice
from advisor.reasoning.likelihoods import places
from advisor.terminal import typed, views
from advisor.terminal.environment import EndOfInput, Terminal
from advisor.terminal.intake import tell
from advisor.terminal.questions import Answerer, Prompt, pick

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
    _case: Case = field(default_factory=Case)
    _offered: list[str] = field(default_factory=list)  # what a number stands for: words as they could be typed
    _shown: tuple[Step, Choice] | None = None  # the step on the screen that go does

    def run(self) -> ExitCode:
        """Until the fault is gone or the technician pauses."""
        complaint = self.exercise.job.machine.complaint
        self._case = Case((Opened(complaint=complaint),))
        entry = self.consultation.knowledge.complaints[complaint]
        self.terminal.rule(entry.title)
        self.terminal.line(f"The operator says: {entry.asks}")
        self.terminal.line("Find the cause and repair it in as few minutes as you can. You choose every step.")
        self._other("")
        while not self.exercise.job.cured:
            self.terminal.line(f"[{WORDS}]")
            try:
                text = self.answerer.answer(Prompt("step", "your step"))
            except EndOfInput:
                text = "pause"
            if text.lower() == "pause":
                self._review()
                return ExitCode.PAUSED
            try:
                self._take(text)
            except InputError as error:
                tell(self.terminal, error)
        self._review()
        return ExitCode.OK

    # ---- words

    def _take(self, text: str) -> None:
        if text.isdigit():
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
        """A check chosen: its cautions, setups and steps, before anything is done."""
        step = typed.step_named(self.consultation, fold(self._case), words, "check", self._place)
        job = self.exercise.job
        if step.circuit is not None:
            key = (step.id, step.circuit, str(step.start), str(step.end))
            choice: Choice | None = next((a for a in job.left() if a.key == key), None)
        else:
            choice = self.exercise.action(step.id, step.place)
            choice = None if choice.key in {d.key for d in job.done} else choice
        if choice is None:
            raise InputError(f"{step.title} is done already", "show lists what was done; choose another step.")
        self._present(step, choice)

    def _place(self, spots: list[str], optional: bool = False) -> str:
        """A place of the simulated machine; a check at a point is done at one point here, for the machine answers at one."""
        choices = tuple((p, p) for p in spots)
        self.terminal.line("At which place?", "bold")
        views.options(self.terminal, choices)
        return pick(self.answerer.answer(Prompt("place", "place", choices)), choices)

    def _repair(self, words: list[str]) -> None:
        knowledge, space = self.consultation.knowledge, self.exercise.job.setting.space
        if not words:
            causes = dict.fromkeys(s.cause for s in space.suspects if s.cause in knowledge.causes)
            self.terminal.line("Which cause is it?", "bold")
            self._offer([(f"repair {name}", knowledge.causes[name].title) for name in causes])
            return
        cause = knowledge.causes.get(words[0])
        if cause is None:
            raise InputError(f"no cause '{words[0]}'", nearest(words[0], knowledge.causes))
        spots = [p for p in places(cause, self.consultation.machine) if p is not None]
        place = (words[1] if len(words) > 1 else self._place(spots)) if spots else None
        index = self.exercise.index(cause.id, place)
        if index is None:
            raise InputError(f"{' '.join(words)} cannot bring this complaint here", "Type repair alone for the causes that can.")
        if index in self.exercise.job.failed:
            raise InputError("that was repaired already, and the fault is still there", "Choose another step.")
        title = cause.title + (f" ({place})" if place else "")
        step = Step("repair", cause.id, title, place, minutes=cause.repair.minutes)
        self._present(prepared(self.consultation, fold(self._case), step), index)

    def _present(self, step: Step, choice: Choice) -> None:
        """The step as the real dialogue shows it: cautions before setups, setups before steps."""
        knowledge, state = self.consultation.knowledge, fold(self._case)
        extra = self.consultation.assess(self._case, plan=False).cautions
        self._shown = step, choice
        self.terminal.rule("Repair" if step.kind == "repair" else "Check")
        job = self.exercise.job
        minutes = float(job.costs[choice]) if isinstance(choice, int) else job.cost(choice)
        kind = "with its retest and setups" if step.kind == "repair" else "with its setups"
        self.terminal.line(f"{step.title} ({minutes:.0f} min {kind})", "bold", hang=2)
        views.cautions(self.terminal, knowledge, views.caution_ids(knowledge, step, extra))
        views.setups(self.terminal, knowledge, step, state)
        if step.kind == "repair":
            views.repair(self.terminal, knowledge, knowledge.causes[step.id].repair)
        else:
            views.check(self.terminal, knowledge, knowledge.checks[step.id])
        self.terminal.line("Type go to do it, or choose another step.", "bold")

    def _go(self) -> None:
        if self._shown is None:
            raise InputError("no step is chosen yet", "Type the name of a check, or other for the list.")
        (step, choice), self._shown = self._shown, None
        done = self.exercise.do(choice)
        for name in step.leaves:
            self._case = self._case.then(SetupChanged(setup=name, entered=False))
        for name in step.setups:
            self._case = self._case.then(SetupChanged(setup=name, entered=True))
        self.terminal.rule("Found")
        if done.kind == "repair":
            self._case = self._case.then(Repaired(cause=step.id, place=step.place))
            said = "The retest passes, and the fault is gone." if done.result == "cured" else "The fault is still there."
            self.terminal.line(said, "bold")
        elif done.kind == "reading":
            section = self.consultation.machine.section(*done.key[1:])
            assert section is not None, "a load test is of a run of the layout"
            self._case = self._case.then(self.exercise.job.machine.readings[section])
            for text in reading_lines(self.consultation, fold(self._case)):
                self.terminal.line(text)
        else:
            answer = self.exercise.job.machine.answer(step.id, step.place)
            self._case = self._case.then(answer)
            check = self.consultation.knowledge.checks[step.id]
            says = next(r.says for r in check.results if r.id == answer.result)
            normal = " (normal)" if answer.result == answers.normal_result(check) else ""
            self.terminal.line(check.question)
            self.terminal.line(f"{says}{normal}.", "bold")
        self.terminal.line(f"{self.exercise.job.minutes:.0f} min so far.")

    def _why(self) -> None:
        choice = self.exercise.advised()
        self.terminal.line(f"The program would now choose: {self.exercise.title(choice)}", "bold", hang=2)
        if isinstance(choice, int):
            suspect = self.exercise.job.setting.space.suspects[choice]
            if suspect.cause == NOT_LISTED:
                self.terminal.line("It would look beyond the list. Here the cause is always on the list.")
                return
            words: tuple[str | None, ...] = ("repair", suspect.cause, suspect.place)
        else:
            self.terminal.line(self.consultation.knowledge.checks[choice.key[0]].purpose)
            words = choice.key
        self._offered = [" ".join(word for word in words if word)]
        self.terminal.line("Type 1 to choose it too.")

    def _show(self) -> None:
        self.terminal.rule("Ranking")
        views.ranking(self.terminal, self.exercise.job.lines, shown=8)
        self.terminal.rule("Done so far")
        for i, j in enumerate(self.exercise.judged, 1):
            self.terminal.line(f"{i}. {j.title}: {j.done.result}, {j.done.minutes:.0f} min", hang=3)

    # ---- afterwards

    def _review(self) -> None:
        """What each choice cost against the program's own, and the whole against the program's way."""
        exercise, job = self.exercise, self.exercise.job
        space = job.setting.space
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
