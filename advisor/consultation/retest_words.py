"""What a retest says: its verdict, before and after, and which failed tests nobody has repeated."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from advisor.consultation.answers import LOAD_TEST
from advisor.consultation.episodes import passed
from advisor.model.case import Answered, Reading, Retested, State
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine

Like = Literal["like", "colder", "warmer"]
# How warm the machine is at a retest, against the same test before the repair.
WARMTH: dict[Like, str] = {"like": "About as warm", "colder": "Colder", "warmer": "Warmer"}
REPEATABLE = ("confirm", "measure", "unplug")  # stages of tests that show another result when the fault is gone


def verdict(knowledge: Knowledge, machine: Machine, state: State, retest: Retested) -> tuple[str, ...]:
    """One line with the verdict, one with the result before and now."""
    good = passed(knowledge, machine, retest)
    lines = ["Retest passed." if good else "Retest failed. The fault is still there, and the search goes on."]
    before = before_of(state, retest.by)
    if before is not None:
        lines.append(f"Before the repair: {_says(knowledge, before)}. Now: {_says(knowledge, retest.by)}.")
    return tuple(lines)


def before_of(state: State, by: Answered | Reading) -> Answered | Reading | None:
    """The same test before the last repair; the newest, None where it was not done."""
    last = max(state.repairs, default=-1)
    done: dict[int, Answered | Reading] = {**state.answers, **state.readings}
    same = [n for n, x in done.items() if n < last and _same(x) == _same(by)]
    return done[max(same)] if same else None


def warmth_counts(knowledge: Knowledge, state: State, by: Answered | Reading) -> bool:
    """Whether a retest is one with numbers that was done before the repair too: copper and contacts change with heat."""
    measured = isinstance(by, Reading) or knowledge.checks[by.check].measure is not None
    return measured and before_of(state, by) is not None


def not_repeated(knowledge: Knowledge, machine: Machine, state: State) -> Iterator[str]:
    """Tests that failed before the last repair and were not done again since, in words.

    A run without the fault repeats the look for the complaint, and a load test that passed repeats those of the runs inside it.
    """
    last = max(state.repairs, default=-1)
    done: dict[int, Answered | Reading] = {**state.answers, **state.readings}
    again = {_same(x) for n, x in done.items() if n > last} | {_same(r.by) for n, r in state.retests.items() if n > last}
    newest = {_same(x): x for n, x in sorted(done.items()) if n < last}
    for key, by in newest.items():
        if key in again or not _can_be_repeated(knowledge, by) or _covered(knowledge, machine, state, by, last):
            continue
        if not passed(knowledge, machine, Retested(by=by)):
            yield _named(knowledge, by)


def _can_be_repeated(knowledge: Knowledge, by: Answered | Reading) -> bool:
    return isinstance(by, Reading) or knowledge.checks[by.check].stage in REPEATABLE


def _covered(knowledge: Knowledge, machine: Machine, state: State, by: Answered | Reading, last: int) -> bool:
    """Whether something that was done since the last repair shows as much as this test done again."""
    if isinstance(by, Answered):
        ran = any(n > last and not run.recurrences for n, run in state.runs.items())
        return ran and knowledge.checks[by.check].stage == "confirm"
    inside = machine.section(by.circuit, by.start, by.end)
    for n, retest in state.retests.items():
        if n > last and isinstance(retest.by, Reading) and passed(knowledge, machine, retest):
            whole = machine.section(retest.by.circuit, retest.by.start, retest.by.end)
            if inside and whole and by.circuit == retest.by.circuit and set(inside.elements) <= set(whole.elements):
                return True
    return False


def _same(by: Answered | Reading) -> tuple[str | None, ...]:
    """What makes two tests the same one."""
    return (by.check, by.place) if isinstance(by, Answered) else (LOAD_TEST, by.circuit, by.start, by.end)


def _named(knowledge: Knowledge, by: Answered | Reading) -> str:
    if isinstance(by, Reading):
        return f"load test of {by.circuit} from {by.start} to {by.end}"
    title = knowledge.checks[by.check].title
    return title[:1].lower() + title[1:] + (f" ({by.place})" if by.place else "")


def _says(knowledge: Knowledge, by: Answered | Reading) -> str:
    """A result in short words."""
    if isinstance(by, Reading):
        return f"{by.reference - by.loaded:.2f} V lost"
    check = knowledge.checks[by.check]
    words = next((r.says for r in check.results if r.id == by.result), by.result)
    words = words[:1].lower() + words[1:]
    return f"{by.read}, {words}" if by.read else words


def repeat_says(retests: dict[int, Retested], proving: frozenset[int]) -> str:
    """What is open where the retest that shows a repair was done colder or warmer than the test before it; else empty."""
    like = retests[max(proving)].like if proving else None
    if like in (None, "like"):
        return ""
    return f"The retest was done {like} than the test before the repair. Repeat it at the same warmth."
