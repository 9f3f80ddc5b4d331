"""A case to its summary: what was answered, what it was closed with, whether that was proven, and the minutes worked."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from advisor.experience.lesson import Spaces, lesson, unproven
from advisor.model.case import SKIPPED, Case, Noted, Opened, State, fold
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.model.summary import Given, Summary

BREAK = 60.0  # minutes between two entries after which nobody worked on the machine; a judgement, no source


def summary(knowledge: Knowledge, machine: Machine, case_id: str, case: Case, spaces: Spaces | None = None) -> Summary | None:
    """The summary of a closed case; None of an open one, and of one that was opened again. Names are those of today.

    `spaces` gives the suspects of a complaint on a machine; without, they are found anew.
    """
    state = fold(case)
    if state.opened is None or state.closed is None or state.closed.at is None:
        return None
    title = (state.opened.machine or {}).get("title", "")
    notes = " ".join(e.text for e in case.events if isinstance(e, Noted))
    return Summary(
        case_id=case_id,
        complaint=state.opened.complaint,
        machine=str(title),
        cause=state.closed.cause,
        place=state.closed.place,
        proven=not unproven(knowledge, machine, state),
        minutes=worked(case),
        closed=state.closed.at.isoformat(),
        answers=frozenset(given(state.opened, state)),
        words=f"{title} {notes} {state.closed.reason}".strip(),
        lesson=lesson(knowledge, machine, case, state, spaces),
    )


def given(opened: Opened, state: State) -> Iterator[Given]:
    """What was answered, by the checks and questions of a case as they stand; what was skipped or not known is no answer."""
    for question, answers in opened.intake.items():
        yield from ((question, answer) for answer in answers if answer != "not-known")
    for answer in state.answers.values():
        if answer.result != SKIPPED:
            yield answer.check, answer.result
            yield from ((answer.check, also) for also in answer.also)


def worked(case: Case) -> float:
    """Minutes from entry to entry, without the pauses."""
    times = [event.at for event in case.events if event.at is not None]
    gaps = ((b - a).total_seconds() / 60 for a, b in itertools.pairwise(times))
    return sum(gap for gap in gaps if 0 <= gap <= BREAK)  # a clock that was set back gives no minutes
