"""What the technician sees: the ranking, the next step, the reasons. Every number stands in text; colour only repeats it."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

from advisor.model.finding import QUIET, Because, Leg, Share, Step
from advisor.model.knowledge import Check, Knowledge, Repair, Work
from advisor.model.machine import Machine
from advisor.session.wording import heads, in_a_line, movement, says, strength
from advisor.terminal.environment import Terminal

SHOWN = 5  # lines of the ranking after each answer
PARAGRAPH = 4  # lines that moves in one paragraph may take; a judgement, no source
WIDE = 64  # columns from which a ranking has one line a suspect


def ranking(
    terminal: Terminal, now: Sequence[Share], before: Sequence[Share] = (), shown: int = SHOWN, machine: Machine | None = None
) -> None:
    """Rank, share, bar, title, and in words where it moved. One line where nothing moved; at 40 columns titles have a line."""
    old = {s.cause: s.share for s in before}
    moved = [movement(old[s.cause], s.share) if s.cause in old else "" for s in now[:shown]]
    if old and not any(moved) and [s.cause for s in before[:shown]] == [s.cause for s in now[:shown]]:
        terminal.line(f"Nothing moved. First is still: {in_a_line(heads(now[:1]))}.", hang=2)
        return
    wide = terminal.width >= WIDE or terminal.accessible
    cells = max(1, min(10, terminal.width - len(" 1. 100%   far down")))
    for i, (share, word) in enumerate(zip(now, moved, strict=False), 1):
        title = share.title
        if machine is not None and share.place is not None:
            title = title.replace(f"({share.place})", f"({machine.told(share.place)})")
        if share.place is None and share.places > 1:
            title += f" (one of {share.places} places)"
        numbers = f"{i:>2}. {share.share:>4.0%}"
        style = "bold" if i == 1 else ""
        if wide:
            terminal.line(f"{numbers} {terminal.bar(share.share, 10)} {word:<8} {title}", style, hang=29)
        else:
            terminal.raw(f"{numbers} {terminal.bar(share.share, cells)} {word}", style)
            terminal.line(title, style, indent=4)


def weighed_anew(terminal: Terminal, before: Mapping[str, float], now: Sequence[Share]) -> None:
    """Both rankings, when the knowledge has changed between them."""
    terminal.line("The knowledge has changed since this case was last open. The ranking is worked out again.", "bold", hang=2)
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
        terminal.line("It speaks " + ("; ".join(parts) if parts else "neither for nor against any cause") + ".")
        if because.quiet:
            terminal.line(f"{QUIET} The fault shows in about {because.showing:.0%} of such looks.", hang=2)


def heading(step: Step) -> str:
    words = {"check": "Next", "reading": "Next", "repair": "Repair", "retest": "Retest", "run": "Run", "done": "Done"}
    return words[step.kind]


def way(
    terminal: Terminal, knowledge: Knowledge, leg: Leg, told: set[str], *, first: bool, dense: bool = False
) -> None:  # fmt: skip
    """The moves to a step, or to its next part, in their order; those that are `told` in one line, without their steps.

    Each move that is told now is added to `told`. `dense`: the steps of a move stand behind its title, with their numbers.
    """
    head = "First" if first else "Then"
    known: list[str] = []
    new: list[tuple[str, Sequence[str]]] = []
    for m in leg.moves:
        move = knowledge.moves[m.move]
        title = f"{move.title} ({m.point})" if m.point else move.title
        if m.move in told:
            _in_full(terminal, head, new, dense=dense)
            known.append(title)
            continue
        told.add(m.move)
        _as_before(terminal, head, known)
        new.append((title, move.steps))
        if not dense:
            _in_full(terminal, head, new, dense=dense)
    _as_before(terminal, head, known)
    _in_full(terminal, head, new, dense=dense)


def _in_full(terminal: Terminal, head: str, moves: list[tuple[str, Sequence[str]]], *, dense: bool) -> None:
    """Moves with their steps: each step in a line of its own, or `dense`, all in one paragraph with their numbers.

    A paragraph that would be long is cut into one for each move.
    """
    together = [f"{title}: {s}" if n == 0 and not _begins(title, each) else s for title, each in moves for n, s in enumerate(each)]
    paragraph = f"{head}: {_in_turn(together)}"
    if dense and len(together) > 1 and len(paragraph) <= PARAGRAPH * terminal.width:
        terminal.line(paragraph, hang=2)
        moves.clear()
    for title, steps in moves:
        if len(steps) == 1:
            terminal.line(f"{head}: {_in_one(title, steps[0])}", "bold", hang=2)
        elif dense:
            terminal.line(f"{head}: {title}: {_in_turn(steps)}", hang=2)
        else:
            terminal.line(f"{head}: {title}", "bold", hang=2)
            numbered(terminal, steps)
    moves.clear()


def _in_turn(steps: Sequence[str]) -> str:
    """Steps in one paragraph, each with its letter; one that stands in it already is named by that.

    Letters, for numbers are those of the list beside it: `again` must not send anybody to a step of that one.
    """
    names = [f"({chr(ord('a') + i)})" for i in range(len(steps))]
    first = {s: name for name, s in reversed([*zip(names, steps, strict=True)])}
    return " ".join(f"{at} {s if first[s] == at else f'Do {first[s]} again.'}" for at, s in zip(names, steps, strict=True))


def _begins(title: str, steps: Sequence[str]) -> bool:
    """Whether a step says the title, so that it need not stand before them."""
    return any(step.lower().startswith(title.lower()) for step in steps)


def _in_one(title: str, step: str) -> str:
    """A move of one step as one line, without the title where the step begins with it."""
    return step if step.lower().startswith(title.lower()) else f"{title}. {step}"


def _as_before(terminal: Terminal, head: str, known: list[str]) -> None:
    """Moves that were told lately."""
    if known:
        titles = "; ".join([known[0], *(t[:1].lower() + t[1:] for t in known[1:])])
        terminal.line(f"{head}, as before: {titles} (more tells how)", "bold", hang=2)
    known.clear()


def stands(
    terminal: Terminal, knowledge: Knowledge, step: Step, work: Mapping[str, str], told: Collection[tuple[str, str]] = ()
) -> None:  # fmt: skip
    """How the machine stands for a step, where that is not as at work and no move of it told so.

    What was `told` by the step before is not told again. A question that nobody moves anything for leaves all as it is.
    """
    check = knowledge.checks.get(step.id) if step.kind == "check" else None
    if not step.legs or (check is not None and not check.steps and not any(leg.moves for leg in step.legs)):
        return
    moved = {name for m in step.legs[0].moves for name, _ in m.to}
    kept = [(n, v) for n, v in step.legs[0].stand if v != work.get(n) and n not in moved and n != "pressure"]
    new = [says(knowledge, n, v) for n, v in kept if (n, v) not in told]
    rest = ["all else, as before"] if len(new) < len(kept) else []
    if new:
        terminal.line("Leave as it is: " + "; ".join([*new, *rest]) + ".", hang=2)
    elif kept and not step.legs[0].moves:  # where there are moves, they say what changes
        terminal.line("Leave the machine as it stands.")


def cautions(
    terminal: Terminal, knowledge: Knowledge, ids: Sequence[str], standing: Sequence[str] = (), *, dense: bool = False
) -> None:  # fmt: skip
    """Safety warnings, each with its reason, before the step they belong to; those that stand already in one line."""
    first = "Local rules and the maker's instructions come first."
    told = [f"! CAUTION: {knowledge.cautions[name].says} {knowledge.cautions[name].why}" for name in dict.fromkeys(ids)]
    if told and not standing:  # it was said with those that stand
        told[-1:] = [f"{told[-1]} {first}"] if dense else [told[-1], f"! {first}"]
    for text in told:
        terminal.line(text, "bold red", hang=2)
    if standing:
        names = ", ".join(knowledge.cautions[c].name for c in dict.fromkeys(standing))
        terminal.line(f"! In force: {names}.", "bold red", hang=2)


def check(terminal: Terminal, knowledge: Knowledge, entry: Check) -> None:
    """A check by itself: its tools, steps and mistakes."""
    needed(terminal, knowledge, entry)
    doing(terminal, knowledge, entry)
    check_end(terminal, entry)


def needed(
    terminal: Terminal, knowledge: Knowledge, work: Work, told: Collection[str] = (), named: Collection[str] = (),
    *, dense: bool = False,
) -> None:  # fmt: skip
    """What is to be fetched before the work: parts, a second person, tools but those that were `told`.

    Tools that were `named` lately have short names. `dense`: nothing is said where nothing is new.
    """
    if isinstance(work, Repair) and work.parts:
        terminal.line("Parts: " + "; ".join(work.parts) + ".", hang=2)
    titles = {t: knowledge.tools[t].title for t in work.tools if t not in told}
    new = [_in_short(title) if t in named else title for t, title in titles.items()]
    kept = ["as before"] if len(new) < len(work.tools) else []
    tools = "Tools: " + "; ".join(new + kept) + "." if work.tools and (new or not dense) else ""
    second = "A second person is needed." if work.second_person else ""
    if tools or second:
        terminal.line(" ".join(text for text in (second, tools) if text), "bold" if second else "", hang=2)


def _in_short(title: str) -> str:
    """The name of a tool without what it must be able to do."""
    return re.split(r" with | that | rated | of the |,| \(", title, maxsplit=1)[0]


def doing(
    terminal: Terminal,
    knowledge: Knowledge,
    work: Work,
    legs: Sequence[Leg] = (),
    named: Collection[str] = (),
    *,
    headed: bool = True,
    familiar: bool = False,
    dense: bool = False,
) -> None:
    """What is done, part by part: the way to a part, then its steps. Without `headed`, steps that begin the list need no title.

    Steps of `familiar` work are only counted. `dense`: titles stand on the line of what follows.
    """
    told = set(named)
    for n, part in enumerate(work.sequence):
        if n < len(legs):
            way(terminal, knowledge, legs[n], told, first=n == 0, dense=dense)
        if part.steps and familiar:
            terminal.line(f"Do as before: {len(part.steps)} step{'s' if len(part.steps) > 1 else ''} (more tells how)", "bold")
        elif part.steps:
            title = "Do:" if n == 0 or (n < len(legs) and legs[n].moves) else "Then:"
            if not (headed or n or (legs and legs[0].moves)):
                title = ""
            elif not dense:
                terminal.line(title, "bold")
            numbered(terminal, part.steps, title if dense else "")


def check_end(terminal: Terminal, entry: Check, *, again: bool = False, mistakes: bool = True) -> None:
    """How a check tells more when it is done again, how the meter is set, and the mistakes."""
    if again and entry.again is not None:
        terminal.line(f"This time: {entry.again}", "bold", hang=2)
    if entry.measure is not None:
        terminal.line(f"Meter: {entry.measure.meter}.", hang=2)
    if entry.mistakes and mistakes:
        mistakes_of(terminal, entry)


def mistakes_of(terminal: Terminal, entry: Check) -> None:
    """What goes wrong with a check."""
    terminal.line("Common mistakes:", "bold")
    for mistake in entry.mistakes:
        terminal.line(f"- {mistake}", indent=2, hang=2)


def repair(terminal: Terminal, knowledge: Knowledge, entry: Repair) -> None:
    """A repair by itself: its parts, tools, steps, workmanship and what to teach afterwards."""
    needed(terminal, knowledge, entry)
    doing(terminal, knowledge, entry)
    repair_end(terminal, entry)


def repair_end(terminal: Terminal, entry: Repair, *, asked: bool = False) -> None:
    """How a repair is good work, what to keep, and what to teach afterwards. Points that are `asked` after it are counted."""
    if asked and len(entry.workmanship) > 1:
        terminal.line(f"{len(entry.workmanship)} points of good work are asked afterwards (more tells them).", "bold", hang=2)
    else:
        terminal.line("It is good work when:", "bold")
        for point in entry.workmanship:
            terminal.line(f"- {point}", indent=2, hang=2)
    if entry.keep:
        terminal.line("Keep for the record: " + "; ".join(entry.keep) + ".", hang=2)
    if entry.recalibrate != "none":
        terminal.line(f"Afterwards calibrate: {entry.recalibrate}.", hang=2)


def numbered(terminal: Terminal, steps: Sequence[str], title: str = "") -> None:
    """Steps in order, each with its number; a title stands on the line of the first."""
    indent = len(title) + 1 if title else 2
    for i, text in enumerate(steps, 1):
        if title and i == 1:
            terminal.line(f"{title} {i}. {text}", hang=indent + 3)
        else:
            terminal.line(f"{i}. {text}", indent=indent, hang=3)


def options(terminal: Terminal, choices: Sequence[tuple[str, str]], *, dense: bool = False) -> None:
    """Answers with their numbers, one a line; `dense`: short ones beside each other."""
    rows: list[str] = []
    for i, (_, words) in enumerate(choices, 1):
        text = f"{i}  {words}"
        if dense and rows and 2 + len(rows[-1]) + 3 + len(text) <= terminal.width:
            rows[-1] += f"   {text}"
        else:
            rows.append(text)
    for row in rows:
        terminal.line(row, indent=2, hang=3)
