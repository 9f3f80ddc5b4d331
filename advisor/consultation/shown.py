"""What a case tells of how its fault comes and goes."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.model.case import HOW_LONG, Answered, State
from advisor.model.knowledge import Knowledge
from advisor.reasoning.showing import Shown

BEHAVIOUR = "behaviour"  # the intake's question of how the fault behaves
ALWAYS_THERE = "always-there"
CONFIRM = "confirm"  # the stage of the checks that look for the complaint itself


def shown(knowledge: Knowledge, state: State, looks: Mapping[int, Answered] | None = None) -> Shown:
    """Whether the fault is always there, how often it came, and whether it was seen since the last repair.

    `looks` are the answers to checks of the stage `confirm` and to how long it lasts, where they are known; None: they are
    looked for.
    """
    opened = state.opened
    behaviour = () if opened is None else opened.intake.get(BEHAVIOUR, ())
    counted = opened is not None and opened.occurrences and opened.hours
    return Shown(
        always=ALWAYS_THERE in behaviour,
        per_hour=opened.occurrences / opened.hours if counted else None,  # type: ignore[operator, union-attr]
        seen=_seen(knowledge, state, state.answers if looks is None else looks),
        lasts_hours=_lasts(knowledge, state.answers if looks is None else looks),
    )


def _lasts(knowledge: Knowledge, answers: Mapping[int, Answered]) -> float:
    """How many hours it stays once it has come, by the last answer to that question; none where nobody knows."""
    said = [a.result for _, a in sorted(answers.items()) if a.check == HOW_LONG]
    return knowledge.words.showing.lasts_hours.get(said[-1], 0.0) if said else 0.0


def _seen(knowledge: Knowledge, state: State, looks: Mapping[int, Answered]) -> bool | None:
    """Whether a check that looked for the complaint itself saw it; None when nobody looked since the last repair."""
    since = max(state.repairs, default=-1)
    looked = [
        not next((r.normal for r in knowledge.checks[a.check].results if r.id == a.result), True)
        for n, a in looks.items()
        if n > since and a.check in knowledge.checks and knowledge.checks[a.check].stage == CONFIRM
    ]
    return any(looked) if looked else None
