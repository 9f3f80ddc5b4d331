"""Six ways of searching, from a printed sheet to two steps of lookahead, each choosing the next thing to do on a job."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, get_args

from advisor.consultation.actions import most_telling, tried_first
from advisor.consultation.answers import LOAD_TEST
from advisor.model.knowledge import System
from advisor.practice.job import Job
from advisor.reasoning.information import bits_gained
from advisor.reasoning.planning import Action, plan

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SURE = 0.9  # share of one suspect at which the policies that do not count the minutes to come stop checking
Choice = Action | int  # a check or a load test, or the suspect to repair
Policy = Callable[[Job], Choice]


def by_odds(job: Job) -> int:
    """The repair with the most chance per minute."""
    return int((job.shares / job.costs).argmax())


def fixed_order(job: Job) -> Choice:
    """A printed sheet: the checks in order of system until one is not normal, then what the ranking now says most.

    When that repair does not cure, the sheet is gone on with; when it is at its end, the repairs follow by odds.
    """
    if job.done and job.done[-1].kind != "repair" and job.abnormal(job.done[-1]):
        return int(job.shares.argmax())
    sheet = sorted(job.left(), key=lambda a: _on_sheet(job, a))
    whole = [a for a in sheet if a.key[0] != LOAD_TEST or _whole_circuit(job, a)]
    return whole[0] if whole else by_odds(job)


def _on_sheet(job: Job, action: Action) -> int:
    """Where the action's system stands on the sheet; the sort that uses it keeps the knowledge's order within a system."""
    return get_args(System).index(job.setting.knowledge.checks[action.key[0]].system)


def _whole_circuit(job: Job, action: Action) -> bool:
    points = job.setting.machine.circuit_points(action.key[1])
    return action.key[2:] == (points[0], points[-1])


def until_sure(order: Callable[[Job], Action]) -> Policy:
    """Checks in an order until one suspect holds 90 % or nothing is left to check, then repairs by odds."""

    def choose(job: Job) -> Choice:
        if job.shares.max() >= SURE or not job.left():
            return by_odds(job)
        return order(job)

    return choose


def cheapest(job: Job) -> Action:
    return min(job.left(), key=job.cost)


def most_information(job: Job) -> Action:
    """The action that takes most uncertainty away per minute."""
    import numpy as np

    left, shares = job.open_actions(), job.shares
    gained = bits_gained(shares, [a.table for a in left])
    rate = gained / np.maximum([job.cost(a) for a in left], 0.1)
    return left[int(rate.argmax())]


def lookahead(depth: int) -> Policy:
    """The program's own way: the least expected minutes to the end, no repair of what a check can still show first nor while
    checks tell more than they cost, and the repair of what was shown and leads."""

    def choose(job: Job) -> Choice:
        if job.settled is not None:
            return job.settled
        ways, left = job.trying, job.open_actions()
        found = plan(job.shares, ways.tries, left, job.setting.setups, job.present, depth=depth)
        if not tried_first(found, ways, job.shares):
            return found.actions[0].action
        proofs = job.proofs(found.first_try)
        if proofs:
            return min(proofs, key=job.cost)
        telling = most_telling(found, ways, job.shares, job.setting.setups, job.present)
        if telling is not None:
            return telling.action
        return found.first_try if not left or job.on_suspicion(found.first_try) else found.actions[0].action

    return choose


POLICIES: Mapping[str, Policy] = {
    "fixed-order": fixed_order,
    "cheapest-first": until_sure(cheapest),
    "repair-by-odds": by_odds,
    "information-rate": until_sure(most_information),
    "lookahead-1": lookahead(1),
    "lookahead-2": lookahead(2),
}
