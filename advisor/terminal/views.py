"""What the technician sees: the ranking, the next step, the reasons. Every number stands in text; colour only repeats it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from advisor.model.finding import Assessment, Because, Leg, Share, Step
from advisor.model.knowledge import Check, Knowledge, Repair, Work
from advisor.model.stage import STAGES
from advisor.session.wording import heads, in_a_line, says, strength
from advisor.terminal.environment import Terminal

SHOWN = 5  # lines of the ranking after each answer
ABBREVIATED = 10  # decibans below this much are not worth a line
LIKELY = 0.05  # share from which it is told what the repair of a cause waits for


def ranking(terminal: Terminal, now: Sequence[Share], before: Sequence[Share] = (), shown: int = SHOWN) -> None:
    """Rank, share, signed change, bar, title. At 40 columns the title has a line of its own."""
    old = {s.cause: s.share for s in before}
    wide = terminal.width >= 64
    for i, share in enumerate(now[:shown], 1):
        change = (share.share - old[share.cause]) * 100 if share.cause in old else 0.0
        moved = f"{change:+4.0f}" if share.cause in old and abs(change) >= 0.5 else "   ="
        title = share.title
        if share.place is None and share.places > 1:
            title += f" (one of {share.places} places)"
        numbers = f"{i:>2}. {share.share:>4.0%} {moved}"
        style = "bold" if i == 1 else ""
        if wide:
            terminal.line(f"{numbers} {terminal.bar(share.share, 10)} {title}", style, hang=24)
        else:
            terminal.raw(f"{numbers} {terminal.bar(share.share, min(10, terminal.width - len(numbers) - 1))}", style)
            terminal.line(title, style, indent=4)


def weighed_anew(terminal: Terminal, before: Mapping[str, float], now: Sequence[Share]) -> None:
    """Both rankings, when the knowledge has changed between them."""
    terminal.line("The knowledge has changed since this case was last open; everything is weighed anew.", "bold", hang=2)
    terminal.line(f"Before: {in_a_line(before) or 'the ranking was not kept'}.", hang=2)
    terminal.line(f"Now: {in_a_line(heads(now))}.", hang=2)


def meaning(terminal: Terminal, new: Sequence[Because], knowledge: Knowledge) -> None:
    """One line on what the last answer meant. What rules found or advise is said after it; their weights are in the record."""
    for because in new:
        if not because.rule.startswith("check:") or not because.moved:
            continue
        moved = sorted((m for m in because.moved if m.cause in knowledge.causes), key=lambda m: -abs(m.decibans))
        lifts = [m for m in moved if m.decibans >= 1][:2]
        lowers = [m for m in moved if m.decibans <= -1][:2]
        parts = [f"{strength(m.decibans)}for {knowledge.causes[m.cause].title.lower()}" for m in lifts]
        parts += [f"{strength(m.decibans)}against {knowledge.causes[m.cause].title.lower()}" for m in lowers]
        terminal.line("It speaks " + ("; ".join(parts) if parts else "neither for nor against anything much") + ".")


def heading(step: Step) -> str:
    words = {"check": "Next", "reading": "Next", "repair": "Repair", "retest": "Retest", "run": "Run", "done": "Done"}
    return words[step.kind]


def way(terminal: Terminal, knowledge: Knowledge, leg: Leg, *, first: bool, named: Collection[str] = ()) -> None:
    """The moves to a step, or to its next part, in their order; those that are `named` without their steps."""
    for m in leg.moves:
        move = knowledge.moves[m.move]
        where = f" ({m.point})" if m.point else ""
        as_before = " (as before; type more for how)" if m.move in named else ""
        terminal.line(f"{'First' if first else 'Then'}: {move.title}{where}{as_before}", "bold", hang=2)
        if not as_before:
            numbered(terminal, move.steps)


def stands(terminal: Terminal, knowledge: Knowledge, step: Step, work: Mapping[str, str]) -> None:
    """How the machine stands for a step, where that is not as at work and no move of it told so."""
    if not step.legs:
        return
    moved = {name for m in step.legs[0].moves for name, _ in m.to}
    kept = [says(knowledge, n, v) for n, v in step.legs[0].stand if v != work.get(n) and n not in moved and n != "pressure"]
    if kept:
        terminal.line("Stays as it is: " + "; ".join(kept) + ".", hang=2)


def cautions(terminal: Terminal, knowledge: Knowledge, ids: Sequence[str], standing: Sequence[str] = ()) -> None:
    """Safety warnings, each with its reason, before the step they belong to; those that stand already in one line."""
    for name in dict.fromkeys(ids):
        caution = knowledge.cautions[name]
        terminal.line(f"! CAUTION: {caution.says} {caution.why}", "bold red", hang=2)
    if standing:
        names = ", ".join(knowledge.cautions[c].name for c in dict.fromkeys(standing))
        terminal.line(f"! In force: {names} (type cautions)", "bold red", hang=2)
    if ids:
        terminal.line("! Local rules and the maker's instructions come first.", hang=2)


def check(terminal: Terminal, knowledge: Knowledge, entry: Check, *, again: bool = False, mistakes: bool = True) -> None:
    """A check's tools, steps and mistakes, and how it tells more when it is done again.

    Without `mistakes` one line says how many there are to read.
    """
    if entry.second_person:
        terminal.line("A second person is needed.", "bold")
    if entry.tools:
        terminal.line("Tools: " + "; ".join(knowledge.tools[t].title for t in entry.tools) + ".", hang=2)
    parts(terminal, entry)
    if again and entry.again is not None:
        terminal.line(f"This time: {entry.again}", "bold", hang=2)
    if entry.measure is not None:
        terminal.line(f"Meter: {entry.measure.meter}.", hang=2)
    if entry.mistakes and not mistakes:
        terminal.line(f"Common mistakes: {len(entry.mistakes)}. Type more to read them.", hang=2)
    elif entry.mistakes:
        mistakes_of(terminal, entry)


def mistakes_of(terminal: Terminal, entry: Check) -> None:
    """What goes wrong with a check."""
    terminal.line("Common mistakes:", "bold")
    for mistake in entry.mistakes:
        terminal.line(f"- {mistake}", indent=2, hang=2)


def repair(terminal: Terminal, knowledge: Knowledge, entry: Repair) -> None:
    """A repair's parts, tools, steps, workmanship and what to teach afterwards."""
    if entry.parts:
        terminal.line("Parts: " + "; ".join(entry.parts) + ".", hang=2)
    if entry.tools:
        terminal.line("Tools: " + "; ".join(knowledge.tools[t].title for t in entry.tools) + ".", hang=2)
    parts(terminal, entry)
    terminal.line("It is good work when:", "bold")
    for point in entry.workmanship:
        terminal.line(f"- {point}", indent=2, hang=2)
    if entry.keep:
        terminal.line("Keep for the record: " + "; ".join(entry.keep) + ".", hang=2)
    if entry.recalibrate != "none":
        terminal.line(f"Afterwards calibrate: {entry.recalibrate}.", hang=2)


def parts(terminal: Terminal, work: Work) -> None:
    """What is done, part by part."""
    for n, part in enumerate(work.sequence):
        if part.steps:
            terminal.line("Do:" if n == 0 else "Then, with the machine as said:", "bold")
            numbered(terminal, part.steps)


def numbered(terminal: Terminal, steps: Sequence[str]) -> None:
    """Steps in order, each with its number."""
    for i, text in enumerate(steps, 1):
        terminal.line(f"{i}. {text}", indent=2, hang=3)


def why(terminal: Terminal, step: Step, assessment: Assessment, knowledge: Knowledge) -> None:
    """The reason in full: what each result would lead to, what else could be done, and which rules hold."""
    for text in step.reason:
        terminal.line(text)
    if step.to_the_end:
        terminal.line(f"{step.minutes:.0f} min now. About {step.to_the_end:.0f} min to the end, wrong repairs included.")
    _outcomes(terminal, step, 2)
    for i, other in enumerate(assessment.alternatives, 1):
        extra = other.to_the_end - step.to_the_end
        terminal.line(f"Instead: {other.title}. {other.minutes:.0f} min now, {extra:+.0f} min to the end. (other {i})", hang=2)
        terminal.line(other.reason[0], indent=2, hang=2)
        _outcomes(terminal, other, 4)
    _holds(terminal, assessment, knowledge)
    if assessment.robustness is not None:
        terminal.line(f"It stays first in {assessment.robustness:.0%} of tests with one estimate changed.")


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
        reason = f"Left out ({until})" if never else f"Until {until[:1].lower() + until[1:]}, this waits"
        terminal.line(f"{reason}: {what}.", hang=2)
    if unlikely:
        terminal.line(f"Repairs that wait, of causes below {LIKELY:.0%}: {len(unlikely)}.", hang=2)


def _outcomes(terminal: Terminal, step: Step, indent: int) -> None:
    """What each result of a step would do to the ranking."""
    for outcome in step.outcomes:
        leads = f"Then {outcome.leads_to.lower()} leads with {outcome.share:.0%}."
        terminal.line(f"{outcome.chance:.0%}: {outcome.says}. {leads}", indent=indent, hang=2)


def _target(kind: str, target: str, knowledge: Knowledge) -> str:
    if kind == "check":
        return knowledge.checks[target].title
    return STAGES[target].lower() if kind == "stage" else f"repair of {knowledge.causes[target].title.lower()}"


def options(terminal: Terminal, choices: Sequence[tuple[str, str]]) -> None:
    for i, (_, words) in enumerate(choices, 1):
        terminal.line(f"{i}  {words}", indent=2, hang=3)
