"""What stands on the screen before each answer: the step in full, its question, and on request the whole case."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from advisor.consultation.advice import RUN_ON
from advisor.consultation.answers import ENDS
from advisor.consultation.consultation import Consultation
from advisor.consultation.situation import Situation
from advisor.model.case import Case, Noted, Reopened, fold
from advisor.model.finding import Assessment, Step
from advisor.model.knowledge import Check, Knowledge, Measure, Repair
from advisor.model.machine import Machine, layout_of
from advisor.model.place_words import place_says
from advisor.model.stage import ASK
from advisor.session.describe import describe
from advisor.session.said import Presented, Why
from advisor.session.wording import CHOSEN
from advisor.terminal import reasons, views
from advisor.terminal.environment import SCREEN, Terminal
from advisor.terminal.layout import layout

WORDS = "why skip other back note show more cautions pause help"
CONDITIONS_TYPED = "Add what differs from usual: adapter=NAME load_ohms=5 meter=0.5%+2."
FEW_WORDS = "why skip other back more cautions help"  # on a narrow screen; help lists all


def news(terminal: Terminal, before: Assessment, now: Assessment) -> None:
    """Findings, advice and messages that were not there before."""
    for text in now.findings:
        if text not in before.findings:
            terminal.line(f"Found: {text}", hang=2)
    for text in now.advice:
        if text not in before.advice:
            terminal.line(f"Advice: {text}", hang=2)
    for text in now.messages:
        if text not in before.messages:
            terminal.line(f"Note: {text}", "bold", hang=2)


def present(terminal: Terminal, told: Presented) -> None:
    """Cautions, the way there, steps, then the question.

    Where that is more than a screen, the rest of the reason, what the step before told as well, and the common mistakes wait for
    the word more. Where it still is more, the whole reason waits; then titles of lists stand on the line of what follows. What no
    screen holds is told in its widest form, with the title again at the question.
    """
    terminal.new_page()
    for form in FORMS[:-1] if terminal.accessible else FORMS:  # a screen reader wants one statement a line
        tried = terminal.silent()
        _present(tried, told, form)
        if tried.lines <= SCREEN:
            _present(terminal, told, form)
            return
    _present(terminal, told, LONG, titled=True)


@dataclass(frozen=True)
class Form:
    """How much of a step stands on the screen, and how close together."""

    short: bool = False  # what was told lately, and common mistakes, wait for the word more
    long: bool = False  # the reason too
    dense: bool = False  # titles of lists, and steps of a move, need no lines of their own


LONG = Form(short=True, long=True)
FORMS = (Form(), Form(short=True), LONG, Form(short=True, long=True, dense=True))


def _present(terminal: Terminal, told: Presented, form: Form, *, titled: bool = False) -> None:
    short, long = form.short, form.long
    step = told.step
    terminal.line()
    _heading(terminal, step)
    told_of = 0 if long and step.kind in ("check", "reading") else 1 if short else 2
    reasons = step.reason if step.kind in ("run", "done") else step.reason[:told_of]
    for text in reasons:
        if text != CHOSEN:
            terminal.line(text)
    _places(terminal, told.situation.machine, step, short=short)
    for name in step.missing:
        terminal.line(f"Missing for this step: {name}.", "bold", hang=2)
    if short:
        known = Known(told.moves, told.tools, told.stood, told.named, familiar=long and told.familiar, asked=long, dense=form.dense)
    else:
        known = Known(whole=True)
    work(terminal, told.situation, step, told.new, told.standing, known)
    again = titled and step.circuit is None and step.kind != "run" and not _only_asked(told.situation, step)  # the others say it
    asked = terminal.silent()
    _ask(asked, told.situation, step, mistakes=short, dense=form.dense)
    terminal.together(asked.lines + again + 1)
    if again:
        terminal.line(step.title, "bold")
    _ask(terminal, told.situation, step, mistakes=short, dense=form.dense)


def _only_asked(s: Situation, step: Step) -> bool:
    """Whether a step is a question to the operator, which its title says in other words."""
    return step.kind == "check" and s.knowledge.checks[step.id].stage == ASK


def _heading(terminal: Terminal, step: Step) -> None:
    """What kind of step it is, and its title; in one line where they fit it."""
    title = step.title + (f" ({step.minutes:.0f} min)" if step.minutes >= 1 else "")
    both = f"{views.heading(step)}: {title}"
    if not terminal.accessible and len(both) + len("--  -") <= terminal.width:
        terminal.rule(both)
        return
    terminal.rule(views.heading(step))
    terminal.line(title, "bold")


@dataclass(frozen=True)
class Known:
    """What a step need not tell in full, for it was told lately: `tools` and `stood` by the step before."""

    moves: Collection[str] = ()
    tools: Collection[str] = ()
    stood: Collection[tuple[str, str]] = ()
    named: Collection[str] = ()  # tools that have short names now
    familiar: bool = False  # the work itself
    asked: bool = False  # what is asked after a repair need not stand before it
    dense: bool = False  # titles of lists need no lines of their own
    whole: bool = False  # all is told, common mistakes too


def work(
    terminal: Terminal, s: Situation, step: Step, cautions: Sequence[str], standing: Sequence[str], known: Known
) -> None:  # fmt: skip
    """What is needed, cautions, then the way and the work, part by part."""
    knowledge = s.knowledge
    entry: Check | Repair | None = None
    if step.kind == "repair":
        entry = knowledge.causes[step.id].repair
    elif step.kind in ("check", "reading", "retest"):
        entry = knowledge.checks[step.id]
    if entry is not None:
        views.needed(terminal, knowledge, entry, known.tools, known.named, dense=known.dense)
    views.cautions(terminal, knowledge, cautions, standing, dense=known.dense)
    views.stands(
        terminal, knowledge, step, dict(zip(s.ground.names, s.ground.value_names(s.ground.work), strict=True)), known.stood
    )
    if entry is None:
        told = set(known.moves)
        for n, leg in enumerate(step.legs):
            views.way(terminal, knowledge, leg, told, first=n == 0, dense=known.dense)
        return
    views.doing(terminal, knowledge, entry, step.legs, known.moves, headed=known.whole, familiar=known.familiar, dense=known.dense)
    if isinstance(entry, Check):
        views.check_end(terminal, entry, again=step.again, mistakes=known.whole)
    else:
        views.repair_end(terminal, entry, asked=known.asked)


def _places(terminal: Terminal, machine: Machine, step: Step, *, short: bool = False) -> None:
    """What the cavities of an open plug carry, and whose names these are where no machine file was given."""
    if step.places:
        terminal.line("Cavities: " + "; ".join(map(machine.told, step.places)) + ".", hang=2)
    if machine.generic and not short and (step.place or step.places or step.circuit):
        terminal.line(f"Names are those of the generic layout ({layout_of(machine)}). Type layout for another.", hang=2)


def more(terminal: Terminal, s: Situation, step: Step, *, familiar: bool = False) -> None:
    """What a short screen left out: the whole reason, how the moves and what is `familiar` are done, and the common mistakes."""
    _places(terminal, s.machine, step)
    for text in step.reason:
        if text != CHOSEN:
            terminal.line(text)
    if step.kind in ("check", "reading", "retest", "repair"):
        checks, causes = s.knowledge.checks, s.knowledge.causes
        views.needed(terminal, s.knowledge, causes[step.id].repair if step.kind == "repair" else checks[step.id])
    views.stands(terminal, s.knowledge, step, dict(zip(s.ground.names, s.ground.value_names(s.ground.work), strict=True)))
    told: set[str] = set()
    if familiar and step.id in s.knowledge.checks:
        views.doing(terminal, s.knowledge, s.knowledge.checks[step.id], step.legs)
    else:
        for n, leg in enumerate(step.legs):
            views.way(terminal, s.knowledge, leg, told, first=n == 0)
    if step.kind == "repair":
        views.repair_end(terminal, s.knowledge.causes[step.id].repair)
    if step.circuit is not None:
        terminal.line(CONDITIONS_TYPED, hang=2)
    if step.kind in ("check", "reading", "retest"):
        check = s.knowledge.checks[step.id]
        terminal.line(f"What it is for: {check.purpose}", hang=2)
        if check.mistakes:
            views.mistakes_of(terminal, check)


def again(terminal: Terminal, s: Situation, step: Step, *, whole: bool = False) -> None:
    """The question alone, after a word such as `why`. Its answers stand with it where they left the screen, or `whole` is said."""
    if terminal.stands(step.key) and not whole:
        terminal.line(_question(s, step), "bold", hang=2)
        return
    terminal.line()
    if step.circuit is None and not _only_asked(s, step):  # the others name it
        terminal.line(step.title, "bold")
    _ask(terminal, s, step)


def why(terminal: Terminal, told: Why, knowledge: Knowledge) -> None:
    """Why this step: on one screen with the question that follows, or all of it."""
    if told.whole:
        reasons.why_all(terminal, told.step, told.assessment, knowledge)
        return
    asked = terminal.silent()
    again(asked, told.situation, told.step)
    reasons.why(terminal, told.step, told.assessment, knowledge, asked.lines + 1)


def _ask(terminal: Terminal, s: Situation, step: Step, *, mistakes: bool = False, dense: bool = False) -> None:
    """The question and how to answer it. `mistakes`: they were left out, and wait for the word more."""
    terminal.begins(step.key)
    if step.kind in ("check", "reading", "retest"):
        _ask_check(terminal, s, step, short=mistakes, dense=dense)
    elif step.kind == "run":
        terminal.line(f"{_question(s, step)} (a number)")
    elif step.kind == "repair" or step.id == "close":
        terminal.line(_question(s, step))
    left = len(s.knowledge.checks[step.id].mistakes) if mistakes and step.id in s.knowledge.checks else 0
    words = WORDS if terminal.width >= views.WIDE else FEW_WORDS
    terminal.line(f"[{words}; more: {left} mistake{'s' if left > 1 else ''}]" if left else f"[{words}]")


def _question(s: Situation, step: Step) -> str:
    """The question of a step in one sentence."""
    if step.kind == "repair":
        return "Type done when it is repaired."
    if step.kind == "run":
        return f"How many hours has it run since {'the hours typed last' if step.id == RUN_ON else 'the repair'}?"
    if step.kind == "done":
        return "Type close to close the case." if step.id == "close" else step.title
    if step.circuit is not None:
        return f"{step.circuit} from {step.start} to {step.end}: reference volts, then loaded volts?"
    check = s.knowledge.checks[step.id]
    where = f" ({s.machine.told(step.place)})" if step.place else ""
    return check.question + where + (" (several numbers are allowed)" if check.many else "")


def _ask_check(terminal: Terminal, s: Situation, step: Step, *, short: bool = False, dense: bool = False) -> None:
    check = s.knowledge.checks[step.id]
    if step.circuit is not None:
        terminal.line(_question(s, step), "bold")
        rest = "More tells how to add another adapter, load or meter." if short else CONDITIONS_TYPED
        terminal.line(f"Type both, such as 11.84 11.52. {rest}", hang=2)
        return
    terminal.line(_question(s, step), "bold")
    if step.places:
        terminal.line(f"At each of: {'; '.join(place_says(s.machine, p) for p in step.places)}.", hang=2)
    if check.measure is not None:
        terminal.line(f"{_numbers_wanted(check.measure, s.machine)}, or a word by the maker's figure:")
        for result in check.results:
            terminal.line(f"{result.id}: {result.says}", indent=2, hang=2)
    else:
        views.options(terminal, [(r.id, r.says) for r in check.results], dense=dense)


def _numbers_wanted(measure: Measure, machine: Machine) -> str:
    if measure.of != ENDS:
        return f"Type the number in {measure.unit}"
    second = "; or four, track two at the same ends after track one" if machine.sensor.tracks == 2 else ""
    return f"Type the volts at both ends, such as 0.52 4.46{second}. Add supply=4.98 if it was not typed before"


def show(terminal: Terminal, consultation: Consultation, case: Case, assessment: Assessment) -> None:
    """The whole case: ranking, findings, harness with its readings, and every event."""
    terminal.rule("Ranking")
    views.ranking(terminal, assessment.ranking, shown=12, machine=consultation.machine)
    for finding in assessment.findings:
        terminal.line(f"Found: {finding}", hang=2)
    for text in assessment.advice:
        terminal.line(f"Advice: {text}", hang=2)
    layout(terminal, consultation.machine, assessment.readings)
    terminal.rule("Done so far")
    withdrawn = fold(case).withdrawn
    for number, event in enumerate(case.events[1:], 1):
        gone = " (taken back)" if number in withdrawn else ""
        typed = isinstance(event, Noted | Reopened)
        terminal.line(f"{number}. {describe(consultation, event)}{gone}", hang=3, comma=not typed)
