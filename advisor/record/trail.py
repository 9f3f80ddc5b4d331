"""The trail of a case: one row a step, with its minutes. What was done to the machine for a step is part of that row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.model.case import Moved, Noted, Repaired, SetupChanged
from advisor.record.material import Material, per_cent
from advisor.record.minutes import Minutes
from advisor.record.steps import StepView, in_words

CLOCK = 5  # characters of hours and minutes at the end of a shown time


@dataclass(frozen=True)
class TrailRow:
    """One step. `minutes` holds the minutes of the step and of the moves made for it; None where neither took any."""

    number: int
    day: str  # empty where it is the day of the row before
    clock: str
    title: str
    result: str
    prepared: tuple[str, ...]  # the moves of the machine made for this step
    minutes: float | None
    replaced: str
    leads: str  # the cause that leads after the step, with its share; empty where the ranking did not move


@dataclass(frozen=True)
class Said:
    """What a step's answer says of the causes, the strongest first. Decibans: above zero for a cause, below zero against it."""

    number: int
    title: str
    weights: tuple[tuple[str, float], ...]
    more: int  # further causes of which it says something


def trail(m: Material, steps: Sequence[StepView], minutes: Minutes) -> tuple[TrailRow, ...]:
    """The steps in order. Moves stand with the step that follows them; the last ones stand in a row of their own."""
    spent: dict[int, float] = {}
    for s in minutes.steps:
        spent[s.step] = spent.get(s.step, 0.0) + s.minutes
    rows: list[TrailRow] = []
    waiting: list[StepView] = []
    day = ""
    for step in steps:
        event = m.case.events[step.number]
        if isinstance(event, Moved | SetupChanged) and not step.replaced:
            waiting.append(step)
            continue
        rows.append(_row(step, [] if isinstance(event, Noted) else waiting, spent, day, m))
        waiting = waiting if isinstance(event, Noted) else []
        day = step.when[:-CLOCK].strip() or day
    if waiting:
        rows.append(_row(waiting[-1], waiting, spent, day, m, title="Machine put back"))
    return tuple(rows)


def _row(
    step: StepView, waiting: Sequence[StepView], spent: dict[int, float], day: str, m: Material, title: str | None = None
) -> TrailRow:
    numbers = {step.number, *(w.number for w in waiting)}
    taken = [spent[n] for n in numbers if n in spent]
    this_day = step.when[:-CLOCK].strip()
    lead = step.ranking[0] if step.moved and step.ranking else None
    return TrailRow(
        step.number, "" if this_day == day else this_day, step.when[-CLOCK:], title or step.title,
        "" if title else _result(m, step), tuple(_move(m, w) for w in waiting), sum(taken) if taken else None, step.replaced,
        f"{lead.title} {per_cent(lead.share)}" if lead else "",
    )  # fmt: skip


def _result(m: Material, step: StepView) -> str:
    """What came back; the minutes of a repair stand in their own column."""
    event = m.case.events[step.number]
    if isinstance(event, Repaired):
        return "Done before it was proven" if event.early else ""
    return step.came_back


def _move(m: Material, step: StepView) -> str:
    """A move by its name; what was found to stand otherwise, by that."""
    words = in_words(m, m.case.events[step.number])
    return words.came_back or words.title.removeprefix("Move. ")


MOST = 4  # causes named for each step


def said(steps: Sequence[StepView]) -> tuple[Said, ...]:
    """What the answers say of the causes, one row a step; a rule that stopped counting is left out."""
    found = []
    for step in steps:
        sums: dict[str, float] = {}
        for why in step.why:
            for weight in why.weights if why.change != "gone" else ():
                sums[weight.title] = sums.get(weight.title, 0.0) + weight.decibans
        if sums and step.subject and not step.replaced:
            order = sorted(sums.items(), key=lambda x: (-abs(x[1]), x[0]))
            found.append(Said(step.number, step.title, tuple(order[:MOST]), max(0, len(order) - MOST)))
    return tuple(found)
