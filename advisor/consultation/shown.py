"""What a case tells of how its fault comes and goes."""

from __future__ import annotations

from advisor.model.case import State
from advisor.model.knowledge import Knowledge
from advisor.reasoning.showing import Shown

BEHAVIOUR = "behaviour"  # the intake's question of how the fault behaves
ALWAYS_THERE = "always-there"
CONFIRM = "confirm"  # the stage of the checks that look for the complaint itself


def shown(knowledge: Knowledge, state: State) -> Shown:
    """Whether the fault is always there, how often it came, and whether it was seen since the last repair."""
    opened = state.opened
    behaviour = () if opened is None else opened.intake.get(BEHAVIOUR, ())
    counted = opened is not None and opened.occurrences and opened.hours
    return Shown(
        always=ALWAYS_THERE in behaviour,
        per_hour=opened.occurrences / opened.hours if counted else None,  # type: ignore[operator, union-attr]
        seen=_seen(knowledge, state),
    )


def _seen(knowledge: Knowledge, state: State) -> bool | None:
    """Whether a check that looked for the complaint itself saw it; None when nobody looked since the last repair."""
    since = max(state.repairs, default=-1)
    looked = [
        not next((r.normal for r in knowledge.checks[a.check].results if r.id == a.result), True)
        for n, a in state.answers.items()
        if n > since and a.check in knowledge.checks and knowledge.checks[a.check].stage == CONFIRM
    ]
    return any(looked) if looked else None
