"""Why a step comes now: what matters on one screen, and all of it on request."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.model.finding import QUIET, Assessment, Outcome, Step
from advisor.model.knowledge import Knowledge
from advisor.model.stage import STAGES
from advisor.session.wording import CHOSEN, heads, in_a_line
from advisor.terminal.environment import SCREEN, Terminal

LIKELY = 0.05  # share from which it is told what the repair of a cause waits for
FIRST = 3  # causes of the ranking that are named
# Reasons, results and other steps that are told, from all of them to the fewest: the first that fits the screen is taken.
FEWER = ((99, 99, 2), (3, 6, 2), (2, 4, 2), (2, 3, 1), (1, 2, 1))


def why(terminal: Terminal, step: Step, assessment: Assessment, knowledge: Knowledge, asked: int = 0) -> None:
    """Why this step now, what each result would lead to, and what is most likely now. It leaves `asked` lines for the question."""
    for counts in FEWER:
        tried = terminal.silent()
        _in_short(tried, step, assessment, knowledge, *counts)
        if tried.lines + asked <= SCREEN:
            break
    _in_short(terminal, step, assessment, knowledge, *counts)


def _in_short(
    terminal: Terminal, step: Step, assessment: Assessment, knowledge: Knowledge, reasons: int, results: int, others: int
) -> None:
    for text in step.reason[:reasons]:
        terminal.line(text, hang=2)
    if CHOSEN in step.reason and step.id in knowledge.checks:
        terminal.line(f"What it is for: {knowledge.checks[step.id].purpose}", hang=2)
    _price(terminal, step, assessment)
    told = sorted(step.outcomes, key=lambda o: -o.chance)[:results]
    _outcomes(terminal, [o for o in step.outcomes if o in told], 2)
    if rest := len(step.outcomes) - len(told):
        terminal.line(f"{rest} less likely result{'s' if rest > 1 else ''} not listed.", indent=2)
    terminal.line(f"Most likely now: {in_a_line(heads(assessment.ranking[:FIRST]))}.", hang=2)
    for number in range(1, len(assessment.alternatives[:others]) + 1):
        _instead(terminal, step, assessment, number)
    terminal.line("why all: what the other steps tell, and what waits.")


def why_all(terminal: Terminal, step: Step, assessment: Assessment, knowledge: Knowledge) -> None:
    """The reason in full: what each result would lead to, what else could be done, and which rules hold."""
    for text in step.reason:
        terminal.line(text)
    _price(terminal, step, assessment)
    _outcomes(terminal, step.outcomes, 2)
    for i, other in enumerate(assessment.alternatives, 1):
        _instead(terminal, step, assessment, i)
        terminal.line(other.reason[0], indent=2, hang=2)
        _outcomes(terminal, other.outcomes, 4)
    _quiet(terminal, assessment, knowledge)
    _holds(terminal, assessment, knowledge)
    if assessment.robustness is not None:
        terminal.line(f"It stays first in {assessment.robustness:.0%} of tests with one estimate changed.")


def _to_the_end(step: Step, assessment: Assessment) -> float:
    """Minutes to the end with this step; that of a step which somebody chose stands in the assessment. 0: not known."""
    return step.to_the_end or assessment.to_the_end.get(step.key, 0.0)


def _price(terminal: Terminal, step: Step, assessment: Assessment) -> None:
    if minutes := _to_the_end(step, assessment):
        terminal.line(f"{step.minutes:.0f} min now. About {minutes:.0f} min to the end, wrong repairs included.")


def _instead(terminal: Terminal, step: Step, assessment: Assessment, number: int) -> None:
    """Another step, with what it costs against this one; nothing where it is this one, chosen from the list."""
    other, here = assessment.alternatives[number - 1], _to_the_end(step, assessment)
    if other.key != step.key:
        end = f", {other.to_the_end - here:+.0f} min to the end" if here else ""
        terminal.line(f"Instead: {other.title}. {other.minutes:.0f} min now{end}. (other {number})", hang=2)


def _outcomes(terminal: Terminal, outcomes: Sequence[Outcome], indent: int) -> None:
    """What each result of a step would do to the ranking."""
    for outcome in outcomes:
        leads = f"Then {outcome.leads_to.lower()} leads with {outcome.share:.0%}."
        terminal.line(f"{outcome.chance:.0%}: {outcome.says}. {leads}", indent=indent, hang=2)


def _quiet(terminal: Terminal, assessment: Assessment, knowledge: Knowledge) -> None:
    """The checks that found nothing because the fault may not have shown."""
    names = [b.rule.split(":")[1] for b in assessment.because if b.quiet]
    titles = list(dict.fromkeys(knowledge.checks[n].title.lower() for n in names if n in knowledge.checks))
    if titles:
        terminal.line(f"{QUIET} So it was with: {'; '.join(titles)}.", hang=2)


def _holds(terminal: Terminal, assessment: Assessment, knowledge: Knowledge) -> None:
    """What waits, and what is left out, together for each reason; the repairs of unlikely causes are only counted."""
    likely = {s.cause for s in assessment.ranking if s.share >= LIKELY}
    unlikely = {h.target for h in assessment.holds if h.kind == "cause"} - likely
    gathered: dict[tuple[bool, str], list[str]] = {}
    for hold in assessment.holds:
        if hold.kind != "cause" or hold.target in likely:
            gathered.setdefault((hold.never, hold.until), []).append(_target(hold.kind, hold.target, knowledge))
    for (never, until), targets in gathered.items():
        what = "; ".join(dict.fromkeys(targets))
        reason = f"Left out ({until})" if never else f"Wait until {until[:1].lower() + until[1:]}"
        terminal.line(f"{reason}: {what}.", hang=2)
    if unlikely:
        terminal.line(f"{len(unlikely)} unlikely repair{'s' if len(unlikely) > 1 else ''} not listed (below {LIKELY:.0%}).", hang=2)


def _target(kind: str, target: str, knowledge: Knowledge) -> str:
    if kind == "check":
        return knowledge.checks[target].title
    return STAGES[target].lower() if kind == "stage" else f"repair of {knowledge.causes[target].title.lower()}"
