"""The next step: least expected minutes until the fault is found, repaired and shown gone.

Expected cost of repair after Heckerman, Breese & Rommelse (Decision-theoretic troubleshooting, CACM 38(3), 1995): from shares
p and repair costs c, repairing in order of p/c costs sum c_i (1 - sum_{j<i} p_j). A check is worth its minutes when the
expected cost after its result, its own cost included, is less. Two steps are looked ahead: the first over every action, the
second over the best few. The repair that p/c puts first is such a first step too: trying it may be worth more before a
check than instead of it, and leaving that out costs about one per cent (tests/benchmarks/optimum.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FIRST_KEPT = 6  # first actions that are looked at two steps deep
SECOND_KEPT = 12  # second actions considered after each of their results


@dataclass(frozen=True)
class Action:
    """A check or a reading that could be done: its likelihood table and what it costs."""

    key: tuple[str, ...]
    table: Floats  # P(result | suspect), shape (results, suspects)
    minutes: float
    setups: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Setups:
    """Minutes to reach and leave each setup, and which exclude each other."""

    enter: Mapping[str, float]
    leave: Mapping[str, float]
    excludes: Mapping[str, frozenset[str]]

    def cost(self, needed: frozenset[str], present: frozenset[str]) -> float:
        """Minutes to have the needed setups, from those present; what they exclude is undone first."""
        return sum(self.enter[s] for s in needed - present) + sum(self.leave[s] for s in self.left(needed, present))

    def left(self, needed: frozenset[str], present: frozenset[str]) -> frozenset[str]:
        """The setups present that the needed ones exclude."""
        return frozenset(
            s for s in present - needed if any(s in self.excludes.get(n, ()) or n in self.excludes.get(s, ()) for n in needed)
        )

    def after(self, needed: frozenset[str], present: frozenset[str]) -> frozenset[str]:
        return (present - self.left(needed, present)) | needed


@dataclass(frozen=True)
class Valued:
    """An action with what it would cost now and what is then expected to the end, itself included."""

    action: Action
    now: float
    to_the_end: float


@dataclass(frozen=True)
class Plan:
    """Repairing now by p/c, and every action that is better or worse than that, best first."""

    repair_now: float  # expected minutes to the end when `first_repair` comes first, whatever is best after it
    first_repair: int  # index of the suspect that p/c would repair first
    actions: tuple[Valued, ...]


def expected_cost(shares: Floats, costs: Floats) -> Floats:
    """Expected minutes of repairing in order of p/c until the fault is gone.

    shares: (..., suspects), each row summing to one; costs: (suspects,), all above zero. Returns (...).
    """
    import numpy as np

    order = np.argsort(-shares / costs, axis=-1, kind="stable")
    p = np.take_along_axis(shares, order, axis=-1)
    remaining = 1.0 - np.cumsum(p, axis=-1) + p
    found: Floats = np.sum(costs[order] * np.clip(remaining, 0.0, 1.0), axis=-1)
    return found


def _posteriors(shares: Floats, tables: Floats) -> tuple[Floats, Floats]:
    """Chances of the results and the shares after each: (rows,) and (rows, suspects)."""
    import numpy as np

    joint = tables * shares
    chance = joint.sum(axis=1)
    return chance, joint / np.where(chance > 0, chance, 1.0)[:, None]


def one_step(shares: Floats, costs: Floats, actions: Sequence[Action], setups: Setups, present: frozenset[str]) -> list[Valued]:
    """Every action valued one step ahead, in the order given."""
    import numpy as np

    if not actions:
        return []
    chance, after = _posteriors(shares, np.concatenate([a.table for a in actions]))
    weighed = chance * expected_cost(after, costs)
    ends = np.cumsum([len(a.table) for a in actions])
    sums = np.add.reduceat(weighed, np.concatenate(([0], ends[:-1])))
    now = [a.minutes + setups.cost(a.setups, present) for a in actions]
    return [Valued(a, cost, cost + float(rest)) for a, cost, rest in zip(actions, now, sums, strict=True)]


def _second(
    first: Valued, shares: Floats, costs: Floats, others: Sequence[Action], setups: Setups, present: frozenset[str]
) -> float:
    """Expected minutes to the end when the best second action, or none, follows each result of the first."""
    import numpy as np

    chance, after = _posteriors(shares, first.action.table)
    stop = expected_cost(after, costs)
    there = setups.after(first.action.setups, present)
    rest = [a for a in others if a is not first.action]
    if not rest:
        return first.now + float(np.sum(chance * stop))
    tables = np.concatenate([a.table for a in rest])
    joint = after[:, None, :] * tables[None, :, :]
    weight = joint.sum(axis=2)
    values = weight * expected_cost(joint / np.where(weight > 0, weight, 1.0)[:, :, None], costs)
    starts = np.concatenate(([0], np.cumsum([len(a.table) for a in rest])[:-1]))
    fees = np.array([a.minutes + setups.cost(a.setups, there) for a in rest])
    best = np.min(np.add.reduceat(values, starts, axis=1) + fees[None, :], axis=1)
    return first.now + float(np.sum(chance * np.minimum(stop, best)))


def _after_repair(
    first: int, stop: float, shares: Floats, costs: Floats, actions: Sequence[Action], setups: Setups, present: frozenset[str]
) -> float:
    """Expected minutes to the end when one suspect is repaired first and the best check, or none, follows if that failed.

    `stop` is what repairing all by p/c costs. The setups of the repair are not counted as present afterwards.
    """
    left = shares.copy()
    left[first] = 0.0
    failed = float(left.sum())
    if failed < 1e-12:
        return stop
    checks = one_step(left / failed, costs, actions, setups, present)
    return min(stop, float(costs[first]) + failed * min(v.to_the_end for v in checks))


def plan(
    shares: Floats, costs: Floats, actions: Sequence[Action], setups: Setups, present: frozenset[str], *, depth: int = 2
) -> Plan:
    """What to do next. `shares` (suspects,) sum to one; `costs` are minutes of each suspect's repair with its retest.

    Actions that lead to the same expected minutes are ordered by their minutes now, then by key.
    """
    import numpy as np

    stop = float(expected_cost(shares, costs))
    first_repair = int(np.argmax(shares / costs))
    valued = one_step(shares, costs, actions, setups, present)
    if depth > 1 and valued:
        ranked = sorted(valued, key=_order)
        seconds = [v.action for v in ranked[:SECOND_KEPT]]
        deep = {
            v.action.key: Valued(v.action, v.now, _second(v, shares, costs, seconds, setups, present)) for v in ranked[:FIRST_KEPT]
        }
        valued = [deep.get(v.action.key, v) for v in valued]
        stop = _after_repair(first_repair, stop, shares, costs, actions, setups, present)
    return Plan(stop, first_repair, tuple(sorted(valued, key=_order)))


def _order(v: Valued) -> tuple[float, float, tuple[str, ...]]:
    return round(v.to_the_end, 9), v.now, v.action.key
