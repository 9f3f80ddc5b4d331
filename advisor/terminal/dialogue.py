"""The session: shows the next step, takes an answer or a word, appends the event, shows what it meant."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from advisor.consultation import answers, counts
from advisor.consultation.consultation import Consultation
from advisor.consultation.episodes import retest_fits
from advisor.consultation.ground import limits
from advisor.consultation.reading_words import meaning
from advisor.consultation.safety import cautions_of
from advisor.consultation.scenario import to_event
from advisor.consultation.situation import Situation
from advisor.consultation.steps import back_to_work, moved, prepared, work_of
from advisor.errors import ExitCode, InputError, nearest, short
from advisor.model.case import (
    Case,
    Event,
    Limited,
    Moved,
    Noted,
    Overridden,
    Ran,
    Repaired,
    Undone,
    fold,
    taken_back,
)  # fmt: skip
from advisor.model.finding import Assessment, Share, Step
from advisor.model.scenario import Line
from advisor.reasoning.likelihoods import places
from advisor.terminal import stage, typed, views
from advisor.terminal.closing import ask_closing
from advisor.terminal.describe import describe
from advisor.terminal.environment import EndOfInput, Terminal
from advisor.terminal.intake import tell
from advisor.terminal.questions import Answerer, Prompt, pick
from advisor.terminal.standing import ask_stand

HELP = (
    ("number or word", "the answer to the question"),
    ("why", "why this is asked, what each answer would do, what else could be done"),
    ("skip", "leave this step out (skip CHECK for another one; skip why TEXT says why)"),
    ("other", "list other checks; other CHECK chooses one"),
    ("back", "take the last answer back"),
    ("note TEXT", "write something down for the record"),
    ("show", "the whole ranking and what was done so far"),
    ("correct CHECK = RESULT", "change an earlier answer"),
    ("missing TOOL", "this tool, setup or second-person is not here; have TOOL when it is again"),
    ("repair CAUSE", "say what was repaired; retest CHECK; run HOURS; close CAUSE (or close none)"),
    ("stands", "how the machine stands; say what is different when somebody moved it"),
    ("pause", "save and leave; advisor resume goes on"),
)


@dataclass
class Dialogue:
    """One session on one case. `append` stores an event before anything is shown of it."""

    terminal: Terminal
    answerer: Answerer
    consultation: Consultation
    case: Case
    append: Callable[[Event], None]
    resumed: bool = False  # somebody may have moved the machine since
    _chosen: Step | None = None
    _warned: set[str] = field(default_factory=set)
    _standing: set[str] = field(default_factory=set)  # cautions told for the step before
    _assessment: Assessment | None = None
    _situation: Situation | None = None

    def run(self) -> ExitCode:
        """Until the case is closed, paused or the input ends."""
        self._reassess()
        self._overview()
        if self.resumed and fold(self.case).closed is None:
            try:
                self._stands()
            except EndOfInput:
                return ExitCode.OK if self.has_result else ExitCode.PAUSED
        presented: Step | None = None
        while fold(self.case).closed is None:
            step = self._chosen or self._next
            if step == presented:
                stage.again(self.terminal, self.situation, step)
            else:
                self._present(step)
            presented = step
            try:
                if not self._take(step):
                    return ExitCode.OK if self.has_result else ExitCode.PAUSED
            except EndOfInput:
                return ExitCode.OK if self.has_result else ExitCode.PAUSED
        self.terminal.line("The case is closed.", "bold")
        return ExitCode.OK

    @property
    def assessment(self) -> Assessment:
        assert self._assessment is not None
        return self._assessment

    @property
    def last_ranking(self) -> tuple[Share, ...]:
        """The ranking shown last; empty before the first."""
        return self._assessment.ranking if self._assessment else ()

    @property
    def _next(self) -> Step:
        assert self.assessment.next is not None
        return self.assessment.next

    @property
    def has_result(self) -> bool:
        """Whether the case has come to a cause: repaired, or the repair is what comes next."""
        return bool(fold(self.case).repairs) or self._next.kind in ("repair", "run")

    def _reassess(self) -> None:
        self._situation = self.consultation.situation(self.case)
        self._assessment = self.consultation.assessed(self._situation)

    @property
    def situation(self) -> Situation:
        assert self._situation is not None
        return self._situation

    # ---- showing

    def _overview(self) -> None:
        self.terminal.rule("Likely causes")
        views.ranking(self.terminal, self.assessment.ranking)
        stage.news(self.terminal, Assessment((), (), ()), self.assessment)

    def _present(self, step: Step) -> None:
        """A step in full. A caution that was told for the step before and still holds is said in one line."""
        work = None if step.kind in ("run", "done") else work_of(self.situation, step)
        own = cautions_of(self.consultation.knowledge, self.consultation.machine, step, work)
        extra = [c for c in self.assessment.cautions if c not in self._warned]
        ids = list(dict.fromkeys([*extra, *own]))
        new = [c for c in ids if c not in self._standing]
        stage.present(self.terminal, self.situation, step, new, [c for c in ids if c in self._standing])
        self._warned.update(extra)
        self._standing = set(ids)

    # ---- taking an answer

    def _take(self, step: Step) -> bool:
        """One line of input. False when the technician pauses."""
        text = self.answerer.answer(Prompt("step", "answer", step=step))
        word, _, rest = text.partition(" ")
        command = self._commands().get(word.lower())
        try:
            if not text:
                self.terminal.line("Type a number or a word; help lists the words.")
            elif word.lower() == "pause":
                return False
            elif command is not None:
                command(rest.strip(), step)
            else:
                self._answer(text, step)
        except InputError as error:
            tell(self.terminal, error)
        return True

    def _commands(self) -> dict[str, Callable[[str, Step], None]]:
        return {
            "why": lambda _, step: self._why(step),
            "show": lambda _, step: stage.show(self.terminal, self.consultation, self.case, self.assessment),
            "help": lambda _, step: self._help(),
            "?": lambda _, step: self._help(),
            "skip": self._skip,
            "other": self._other,
            "back": lambda _, step: self._back(),
            "note": self._note,
            "stands": lambda _, step: self._stands(),
            "correct": self._correct,
            "missing": lambda what, _: self._limit(what, available=False),
            "have": lambda what, _: self._limit(what, available=True),
            "repair": self._choose_repair,
            "retest": self._choose_retest,
            "run": self._ran,
            "close": lambda cause, _: self._close(cause),
        }

    def _why(self, step: Step) -> None:
        assessment = self.consultation.assess(self.case, robust=True)
        views.why(self.terminal, step, assessment, self.consultation.knowledge)

    def _help(self) -> None:
        for word, says in HELP:
            self.terminal.line(f"{word}: {says}", indent=2, hang=2)

    def _line(self, **values: Any) -> None:
        """Appends the event of one line of answers, the same way as a scenario's line."""
        self._append(self._event(**values))

    def _event(self, **values: Any) -> Event:
        line = Line.model_validate({k: v for k, v in values.items() if v is not None})
        return to_event(self.consultation.knowledge, self.consultation.machine, self.case, line)

    def _append(self, *events: Event) -> None:
        before = self.assessment
        for event in events:
            self.append(event)
            self.case = self.case.then(event)
        self._chosen = None
        self._reassess()
        new = [b for b in self.assessment.because if b not in before.because]
        told = [e for e in events if not isinstance(e, Moved)]
        for text in meaning(self.consultation, fold(self.case), told[-1]) if told else ():
            self.terminal.line(text)
        views.meaning(self.terminal, new, self.consultation.knowledge)
        stage.news(self.terminal, before, self.assessment)
        self.terminal.rule("Likely causes")
        views.ranking(self.terminal, self.assessment.ranking, before.ranking)

    def _answer(self, text: str, step: Step) -> None:
        """An answer to the step itself."""
        if step.kind in ("check", "retest") and step.circuit is None:
            values = typed.result(self.consultation.knowledge.checks[step.id], text, step)
        elif step.kind in ("reading", "retest"):
            values = typed.load_test(text, step)
        elif step.kind == "repair":
            return self._repaired(text, step)
        elif step.kind == "run":
            return self._ran(text, step)
        else:
            raise InputError(f"'{text}' is no word known here", "Type help for the list of words.")
        event = self._event(**values)
        if step.kind != "retest":
            self._override(step)
        before, after = moved(step)
        self._append(*before, event, *after)

    def _override(self, step: Step) -> None:
        """A step done although a rule says to wait is written down as such."""
        check = self.consultation.knowledge.checks[step.id]
        for hold in self.assessment.holds:
            if (hold.kind == "check" and hold.target == check.id) or (hold.kind == "stage" and hold.target == check.stage):
                event = Overridden(check=check.id, hold=hold.until)
                self.append(event)
                self.case = self.case.then(event)

    def _stands(self) -> None:
        """Shows how the machine stands, and writes down what is different by now."""
        changed = ask_stand(self.terminal, self.answerer, self.situation)
        if changed:
            event = Moved(to=changed, found=True)
            self.append(event)
            self.case = self.case.then(event)
            self._reassess()

    # ---- words

    def _skip(self, what: str, step: Step) -> None:
        """`skip [CHECK [PLACE]] [why TEXT]`: the reason goes into the record."""
        what, why = typed.reason(what)
        name, place = typed.two(what)
        if name is None:
            if step.kind not in ("check", "reading", "retest"):
                raise InputError("this step cannot be skipped", "Choose another with other, or pause.")
            name, place = step.id, step.place
        self._line(skip=name, place=place, why=why)

    def _back(self) -> None:
        numbers = taken_back(self.case)
        if self._chosen is not None:
            self._chosen = None
        elif not numbers:
            raise InputError("nothing is left to take back", "Answer the question, or pause.")
        else:
            self.terminal.line(f"Taken back: {describe(self.consultation, self.case.events[numbers[0]])}", hang=2)
            self._append(*(Undone(number=n) for n in numbers))

    def _note(self, text: str, step: Step) -> None:
        text = text or self.answerer.answer(Prompt("note", "note"))
        if text:
            self.append(Noted(text=text))
            self.case = self.case.then(Noted(text=text))
            self.terminal.line("Noted.")

    def _correct(self, what: str, step: Step) -> None:
        """`correct CHECK [PLACE] = RESULT or number`."""
        left, equals, right = what.partition("=")
        name, place = typed.two(left)
        if not equals or name is None:
            raise InputError("what is to be corrected?", "Type correct CHECK = RESULT; show lists what was answered.")
        check = answers.find_check(self.consultation.knowledge, name)
        self._line(correct=name, place=place, **typed.outcome(check, right.strip()))

    def _limit(self, what: str, *, available: bool) -> None:
        known = limits(self.consultation.knowledge)
        if what not in known:
            raise InputError(f"'{what}' is no tool or state of the machine", nearest(what, known))
        self._append(Limited(what=what, available=available))

    def _other(self, what: str, step: Step) -> None:
        """Lists other steps, or chooses one: another check, a place, or a load test of a run."""
        if not what:
            for i, other in enumerate(self.assessment.alternatives, 1):
                extra = other.to_the_end - self._next.to_the_end
                self.terminal.line(
                    f"{i}  {other.title}: {other.minutes:.0f} min now, {extra:+.0f} min to the end", indent=2, hang=3
                )
            self._list_checks()
            self.terminal.line("Type other and a number or a name.")
            return
        if what.isascii() and what.isdigit():
            if not 1 <= int(what[:9]) <= len(self.assessment.alternatives):
                raise InputError(f"there is no step {short(what)}", "Type other alone for the list.")
            self._chosen = self.assessment.alternatives[int(what) - 1]
            return
        self._chosen = typed.step_named(self.situation, what.split(), "check", self._pick_place)
        self._say_price(self._chosen)
        self._say_hold(self._chosen)

    def _list_checks(self) -> None:
        state = fold(self.case)
        done = {a.check for a in state.answers.values()} | {s.check for s in state.skipped.values()}
        systems: dict[str, list[str]] = {}
        for check in self.consultation.knowledge.checks.values():
            if check.id not in done:
                systems.setdefault(check.system, []).append(check.id)
        for system, names in systems.items():
            self.terminal.line(f"{system}: {', '.join(names)}", indent=2, hang=2)

    def _say_price(self, step: Step) -> None:
        """What a step that the technician chose costs against the one advised."""
        if step.key in self.assessment.to_the_end and step.key != self._next.key:
            extra = self.assessment.to_the_end[step.key] - self._next.to_the_end
            self.terminal.line(f"Chosen instead of what is advised: about {max(extra, 0):.0f} min more to the end.", hang=2)

    def _say_hold(self, step: Step) -> None:
        check = self.consultation.knowledge.checks[step.id]
        for hold in self.assessment.holds:
            if (hold.kind == "check" and hold.target == check.id) or (hold.kind == "stage" and hold.target == check.stage):
                says = f"A rule says: {hold.until}" if hold.never else f"A rule says to wait with this until: {hold.until}"
                self.terminal.line(says, "bold", hang=2)
                self.terminal.line("If you go on, the record says that you did.", hang=2)

    def _pick_place(self, spots: list[str], optional: bool) -> str | None:
        """One of the places by number or name; None when it need not be known and is not."""
        choices = tuple((p, p) for p in spots)
        self.terminal.line("At which place?" + (" (Enter alone: not known)" if optional else ""), "bold")
        views.options(self.terminal, choices)
        text = self.answerer.answer(Prompt("place", "place", choices))
        return None if optional and not text else pick(text, choices)

    def _choose_repair(self, what: str, step: Step) -> None:
        """`repair CAUSE [PLACE]`: the repair chosen by the technician, shown before it is done."""
        name, place = typed.two(what)
        if name is None:
            raise InputError("which cause was repaired?", "Type repair CAUSE, or repair CAUSE PLACE.")
        entry = self.consultation.knowledge.causes.get(name)
        spots = [p for p in places(entry, self.consultation.machine) if p is not None] if entry else []
        if place is None and spots:
            place = self._pick_place(spots, True)
        event = self._event(repair=name, place=place)
        assert isinstance(event, Repaired)
        cause = self.consultation.knowledge.causes[event.cause]
        share = next((s.share for s in self.assessment.ranking if s.cause == event.cause), 0.0)
        if share < 0.01:
            self.terminal.line(f"Think again: {cause.title.lower()} holds {share:.1%} of what is left.", "bold", hang=2)
        title = cause.title + (f" ({place})" if place else "")
        chosen = Step("repair", event.cause, title, place, minutes=cause.repair.minutes, reason=("Chosen by the technician.",))
        self._chosen = prepared(self.situation, chosen)

    def _choose_retest(self, what: str, step: Step) -> None:
        if not what:
            raise InputError("which test is repeated?", "Type retest CHECK, or retest load-test CIRCUIT FROM TO.")
        state, knowledge, machine = fold(self.case), self.consultation.knowledge, self.consultation.machine
        if not state.repairs:
            raise InputError("nothing was repaired yet", "Do it as a check: type other CHECK. Or say first: repair CAUSE.")
        step = typed.step_named(self.situation, what.split(), "retest", self._pick_place)
        run = (step.circuit, step.start or "", step.end or "") if step.circuit else None
        if not retest_fits(knowledge, machine, state, state.repairs[max(state.repairs)], step.id, step.place, run):
            self.terminal.line("This is another test, or another place, than that of the repair: it does not prove it.", "bold")
            self.terminal.line("It is written down, and the retest stays open.")
        self._chosen = step

    def _repaired(self, text: str, step: Step) -> None:
        if text.lower() not in ("done", "yes", "y"):
            raise InputError(
                f"'{text}' is no answer to a repair", "Type done when it is repaired, or another word; help lists them."
            )
        repair = self.consultation.knowledge.causes[step.id].repair
        points = {}
        choices = (("yes", "Yes"), ("no", "No"))
        self.terminal.line("Tick off the work:", "bold")
        for point in repair.workmanship:
            self.terminal.line(f"- {point}", indent=2, hang=2)
            points[point] = self._until(Prompt("point", "yes or no", choices), lambda text: pick(text, choices)) == "yes"
        minutes = self._until(Prompt("minutes", "minutes it took"), typed.minutes)
        early = not self.situation.proofs_seen(step.id, step.place)
        event = self._event(repair=step.id, place=step.place, minutes=minutes)
        assert isinstance(event, Repaired)
        if early:
            self.terminal.line("The record will say that it was repaired before it was proven.", hang=2)
        before, after = moved(step)
        self._append(*before, event.model_copy(update={"points": points, "early": early}), *after)

    def _until(self, prompt: Prompt, parse: Callable[[str], Any]) -> Any:
        while True:
            try:
                return parse(self.answerer.answer(prompt))
            except InputError as error:
                tell(self.terminal, error)

    def _ran(self, text: str, step: Step) -> None:
        event = self._event(run=counts.run_hours(*answers.number(text)))
        again = self._until(Prompt("recurrences", "how often did the fault come back"), typed.times)
        assert isinstance(event, Ran)
        # A machine that has run stands as at work: the way back is part of the run.
        before, _ = moved(step if step.kind == "run" else back_to_work(self.situation, step))
        self._append(*before, event.model_copy(update={"recurrences": again}))

    def _close(self, what: str) -> None:
        closed = ask_closing(self.terminal, self.answerer, self.consultation, self.situation, what)
        self.append(closed)
        self.case = self.case.then(closed)
