"""Six ways of searching, from a printed sheet to two steps of lookahead, each choosing the next thing to do on a job.

All of them work on the real consultation: what is held or not possible is offered to none. They differ in what they choose.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, get_args

from advisor.consultation.actions import TOGETHER, open_actions
from advisor.consultation.advice import advise
from advisor.consultation.answers import LOAD_TEST
from advisor.consultation.situation import Situation
from advisor.consultation.steps import action_step, repair_step
from advisor.model.finding import NOT_LISTED, Step
from advisor.model.knowledge import System
from advisor.practice.job import Job
from advisor.reasoning.information import bits_gained
from advisor.reasoning.planning import Action, Valued, ready

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SURE = 0.9  # share of one suspect at which the policies that do not count the minutes to come stop checking
Policy = Callable[[Job], Step]


def cost(s: Situation, action: Action) -> float:
    """About the minutes of an action from here."""
    return action.minutes + ready(s.open_ground, action.errand, s.stand)


def as_step(s: Situation, action: Action) -> Step:
    return action_step(s, Valued(action, cost(s, action), 0.0))


def by_odds(job: Job) -> Step:
    """The repair with the most chance per minute, of those that no rule holds; asking for help is one of them."""
    import numpy as np

    s = job.situation
    for index in np.argsort(-job.shares / job.costs, kind="stable"):
        if s.suspect(int(index)).cause == NOT_LISTED:
            break
        step = repair_step(s, int(index), 0.0)
        if step is not None:
            return step
    return Step("done", "nothing-left", "Ask for help")


def fixed_order(job: Job) -> Step:
    """A printed sheet: the checks in order of system until one is not normal, then what the ranking now says most.

    When that repair does not cure, the sheet is gone on with; when it is at its end, the repairs follow by odds.
    """
    s = job.situation
    if job.done and job.done[-1].kind != "repair" and job.abnormal(job.done[-1]):
        step = repair_step(s, int(job.shares.argmax()), 0.0)
        if step is not None:
            return step
    sheet = sorted(_single(open_actions(s)), key=lambda a: _on_sheet(s, a))
    whole = [a for a in sheet if a.key[0] != LOAD_TEST or _whole_circuit(s, a)]
    return as_step(s, whole[0]) if whole else by_odds(job)


def _single(actions: Sequence[Action]) -> list[Action]:
    """The actions at one place, not those at a whole plug."""
    return [a for a in actions if a.key[-1] != TOGETHER]


def _on_sheet(s: Situation, action: Action) -> int:
    """Where the action's system stands on the sheet; the sort that uses it keeps the knowledge's order within a system."""
    return get_args(System).index(s.knowledge.checks[action.key[0]].system)


def _whole_circuit(s: Situation, action: Action) -> bool:
    points = s.machine.circuit_points(action.key[1])
    return action.key[2:] == (points[0], points[-1])


def until_sure(order: Callable[[Situation, Sequence[Action]], Action]) -> Policy:
    """Checks in an order until one suspect holds 90 % or nothing is left to check, then repairs by odds."""

    def choose(job: Job) -> Step:
        s = job.situation
        actions = open_actions(s) if job.shares.max() < SURE else []
        return as_step(s, order(s, actions)) if actions else by_odds(job)

    return choose


def cheapest(s: Situation, actions: Sequence[Action]) -> Action:
    return min(actions, key=lambda a: cost(s, a))


def most_information(s: Situation, actions: Sequence[Action]) -> Action:
    """The action that takes most uncertainty away per minute."""
    import numpy as np

    gained = bits_gained(s.shares, [a.table for a in actions])
    rate = gained / np.maximum([cost(s, a) for a in actions], 0.1)
    return actions[int(rate.argmax())]


def lookahead(depth: int) -> Policy:
    """The program's own advice."""

    def choose(job: Job) -> Step:
        return advise(job.situation, depth=depth).next

    return choose


POLICIES: Mapping[str, Policy] = {
    "fixed-order": fixed_order,
    "cheapest-first": until_sure(cheapest),
    "repair-by-odds": by_odds,
    "information-rate": until_sure(most_information),
    "lookahead-1": lookahead(1),
    "lookahead-2": lookahead(2),
}
