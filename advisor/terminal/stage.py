"""What stands on the screen before each answer: the step in full, its question, and on request the whole case."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from advisor.consultation.advice import RUN_ON
from advisor.consultation.answers import ENDS
from advisor.consultation.consultation import Consultation
from advisor.consultation.situation import Situation
from advisor.model.case import Case, fold
from advisor.model.finding import Assessment, Step
from advisor.model.knowledge import Measure
from advisor.model.machine import Machine, layout_of
from advisor.session.describe import describe
from advisor.session.said import Presented
from advisor.terminal import views
from advisor.terminal.environment import Terminal
from advisor.terminal.layout import layout

WORDS = "why skip other back note show more pause help"
SCREEN = 24  # lines that a step should fit


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

    Where that is more than a screen, the rest of the reason and the common mistakes wait for the word more.
    """
    whole = terminal.silent()
    _present(whole, told, short=False)
    _present(terminal, told, short=whole.lines > SCREEN)


def _present(terminal: Terminal, told: Presented, *, short: bool) -> None:
    s, step, knowledge = told.situation, told.step, told.situation.knowledge
    terminal.line()
    terminal.rule(views.heading(step))
    minutes = f" ({step.minutes:.0f} min)" if step.minutes >= 1 else ""
    terminal.line(step.title + minutes, "bold")
    reasons = step.reason if step.kind in ("run", "done") else step.reason[: 1 if short else 2]
    for text in reasons:
        terminal.line(text)
    _places(terminal, s.machine, step)
    for name in step.missing:
        terminal.line(f"It needs what is not here: {name}.", "bold", hang=2)
    prepare(terminal, s, step, told.new, told.standing, told.moves if short else ())
    if step.kind in ("check", "reading", "retest"):
        views.check(terminal, knowledge, knowledge.checks[step.id], again=step.again, mistakes=not short)
    elif step.kind == "repair":
        views.repair(terminal, knowledge, knowledge.causes[step.id].repair)
    if short:
        terminal.line(step.title, "bold")
    _ask(terminal, s, step)


def _places(terminal: Terminal, machine: Machine, step: Step) -> None:
    """What the cavities of an open plug carry, and whose names these are where no machine file was given."""
    if step.places:
        terminal.line("Cavities: " + "; ".join(map(machine.told, step.places)) + ".", hang=2)
    if machine.generic and (step.place or step.places or step.circuit):
        terminal.line(f"Names are those of the generic layout ({layout_of(machine)}). Type layout for another.", hang=2)


def more(terminal: Terminal, s: Situation, step: Step) -> None:
    """What a short screen left out: the whole reason, how the moves are done and the common mistakes."""
    for text in step.reason:
        terminal.line(text)
    for n, leg in enumerate(step.legs):
        views.way(terminal, s.knowledge, leg, first=n == 0)
    if step.kind in ("check", "reading", "retest"):
        check = s.knowledge.checks[step.id]
        terminal.line(f"What it is for: {check.purpose}", hang=2)
        if check.mistakes:
            views.mistakes_of(terminal, check)


def prepare(
    terminal: Terminal, s: Situation, step: Step, cautions: Sequence[str], standing: Sequence[str] = (), named: Collection[str] = ()
) -> None:
    """Cautions, then the way to a step. Of the moves that are `named` only the title stands."""
    views.cautions(terminal, s.knowledge, cautions, standing)
    for n, leg in enumerate(step.legs):
        views.way(terminal, s.knowledge, leg, first=n == 0, named=named)
    views.stands(terminal, s.knowledge, step, dict(zip(s.ground.names, s.ground.value_names(s.ground.work), strict=True)))


def again(terminal: Terminal, s: Situation, step: Step) -> None:
    """The question alone, after a word such as `why`."""
    terminal.line()
    terminal.line(step.title, "bold")
    _ask(terminal, s, step)


def _ask(terminal: Terminal, s: Situation, step: Step) -> None:
    """The question and how to answer it."""
    if step.kind in ("check", "reading", "retest"):
        _ask_check(terminal, s, step)
    elif step.kind == "repair":
        terminal.line("Type done when it is repaired.")
    elif step.kind == "run":
        since = "since the hours typed last" if step.id == RUN_ON else "since the repair"
        terminal.line(f"How many hours has it run {since}? (a number)")
    elif step.id == "close":
        terminal.line("Type close to close the case.")
    terminal.line(f"[{WORDS}]")


def _ask_check(terminal: Terminal, s: Situation, step: Step) -> None:
    check = s.knowledge.checks[step.id]
    if step.circuit is not None:
        terminal.line(f"{step.circuit} from {step.start} to {step.end}: reference volts, then loaded volts?", "bold")
        terminal.line("Type both, such as 11.84 11.52. Add what is not as usual: adapter=NAME load_ohms=5 meter=0.5%+2.", hang=2)
        return
    where = f" ({s.machine.told(step.place)})" if step.place else ""
    several = " (several numbers are allowed)" if check.many else ""
    terminal.line(check.question + where + several, "bold")
    if check.measure is not None:
        terminal.line(f"{_numbers_wanted(check.measure, s.machine)}, or a word by the maker's figure:")
        for result in check.results:
            terminal.line(f"{result.id}: {result.says}", indent=2, hang=2)
    else:
        views.options(terminal, [(r.id, r.says) for r in check.results])


def _numbers_wanted(measure: Measure, machine: Machine) -> str:
    if measure.of != ENDS:
        return f"Type the number in {measure.unit}"
    second = "; or four, track two at the same ends after track one" if machine.sensor.tracks == 2 else ""
    return f"Type the volts at both ends, such as 0.52 4.46{second}. Add supply=4.98 if it was not typed before"


def show(terminal: Terminal, consultation: Consultation, case: Case, assessment: Assessment) -> None:
    """The whole case: ranking, findings, harness with its readings, and every event."""
    terminal.rule("Ranking")
    views.ranking(terminal, assessment.ranking, shown=12)
    for finding in assessment.findings:
        terminal.line(f"Found: {finding}", hang=2)
    layout(terminal, consultation.machine, assessment.readings)
    terminal.rule("Done so far")
    withdrawn = fold(case).withdrawn
    for number, event in enumerate(case.events[1:], 1):
        gone = " (taken back)" if number in withdrawn else ""
        terminal.line(f"{number}. {describe(consultation, event)}{gone}", hang=3)
