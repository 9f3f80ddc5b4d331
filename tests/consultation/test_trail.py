"""The trail: what it says of each step is what was said when the step was taken."""

from __future__ import annotations

from typing import Any

from builders import told
from hypothesis import given, settings
from hypothesis import strategies as st
from record.tales import FINISHED, START

from advisor.consultation.consultation import Consultation
from advisor.model.case import Answered, Case, Corrected, Event, Undone

LINES = st.lists(st.sampled_from(FINISHED), max_size=8)


def case_of(lines: list[dict[str, Any]], dice: st.DataObject) -> tuple[Consultation, Case]:
    """A case told by lines, in any order and any of them again, with an answer changed and an event taken back at the end."""
    corrected = {line["correct"] for line in lines if "correct" in line}
    answered = {line["check"] for line in lines if "check" in line}
    kept = [x for x in lines if "correct" not in x] if not corrected <= answered else sorted(lines, key=lambda x: "correct" in x)
    consultation, case = told(*kept, **START)
    events: list[Event] = list(case.events)
    answers = [n for n, e in enumerate(events) if isinstance(e, Answered) and e.check == "wiggle-harness"]
    if answers:
        events.append(Corrected(number=answers[-1], by=Answered(check="wiggle-harness", result="jumps-at-one-spot")))
    if len(events) > 1:
        events.append(Undone(number=dice.draw(st.integers(1, len(events) - 1))))
    return consultation, Case(tuple(events))


@given(LINES, st.data())
@settings(max_examples=20, deadline=None)
def test_the_trail_says_what_was_said_live(lines: list[dict[str, Any]], dice: st.DataObject) -> None:
    """Each step of a trail equals the assessment of the case as it was then, by one that has seen nothing of it before."""
    consultation, case = case_of(lines, dice)
    for step in consultation.trail(case):
        fresh = Consultation(consultation.knowledge, consultation.machine)
        assert step.after == fresh.assess(Case(case.events[: step.number + 1]), plan=False)
