"""The question of a step, with everything that a front end needs to show it."""

from __future__ import annotations

from typing import Any

from advisor.consultation import answers
from advisor.consultation.quantities import unit_words
from advisor.consultation.situation import Situation
from advisor.model.finding import Assessment, Step
from advisor.model.knowledge import Check
from advisor.model.question import Asked, Leader, Question, Warned

STEP_WORDS = ("why", "skip", "other", "back", "note", "show", "more", "cautions", "pause", "help")
CHOICE = Question(
    kind="choice", text="Your step?", prompt="your step", words=("why", "go", *STEP_WORDS[2:]), example="other",
    why="You choose every step here. What each choice cost is said at the end.",
)  # fmt: skip


def step_question(s: Situation, assessment: Assessment, step: Step, new: tuple[str, ...], standing: tuple[str, ...]) -> Question:
    """What is asked at a step; `new` and `standing` are its cautions, to be shown in full and told before."""
    knowledge = s.knowledge

    def warned(ids: tuple[str, ...]) -> tuple[Warned, ...]:
        return tuple(Warned(id=i, says=knowledge.cautions[i].says, why=knowledge.cautions[i].why) for i in ids)

    check = knowledge.checks[step.id] if step.kind in ("check", "reading", "retest") else None
    text, example = _wanted(step)
    offered: tuple[Any, ...] = ()
    if check is not None and step.circuit is None:
        text = check.question
        offered = tuple({"id": r.id, "says": r.says} for r in check.results)
        example = _example(check)
    return Question.model_validate(
        {
            "kind": "step", "text": text, "choices": offered, "several": check is not None and check.many,
            "units": (check.measure.unit,) if check is not None and check.measure is not None else (),
            "example": example, "step": Asked.of(step), "why": " ".join(step.reason[:2]), "reasons": step.reason,
            "cautions_new": warned(new), "cautions_standing": warned(standing),
            "stands": dict(zip(s.ground.names, s.ground.value_names(s.stand), strict=True)),
            "ranking": tuple(
                Leader(cause=r.cause, place=r.place, title=r.title, share=round(r.share, 4)) for r in assessment.ranking[:5]
            ),
            "words": STEP_WORDS,
        }
    )  # fmt: skip


def _example(check: Check) -> str:
    """What could be typed for a result or a number."""
    if check.measure is None:
        return "1"
    if check.measure.of == answers.ENDS:
        return "0.52 4.46"
    limits = [limit for r in check.results for limit in (r.above, r.below) if limit]
    between = (min(limits) + max(limits)) / 2 if limits else 1.0  # of this very check, in its own unit
    return f"{between:.3g} {unit_words(check.measure.unit)}"


def _wanted(step: Step) -> tuple[str, str]:
    """The question of a step that is no check with results, and an example of an answer."""
    if step.circuit is not None:
        return f"{step.circuit} from {step.start} to {step.end}: reference volts, then loaded volts?", "11.84 11.52"
    if step.kind == "repair":
        return "Is it repaired? Type done.", "done"
    if step.kind == "run":
        return "How many hours has it run?", "6.5 h"
    return "Close the case? Type close.", "close"
