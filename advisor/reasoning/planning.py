"""The next step: least expected minutes until the fault is found, repaired and shown gone.

Expected cost of repair after Heckerman, Breese & Rommelse (Decision-theoretic troubleshooting, CACM 38(3), 1995): from shares
p and minutes c, trying the suspects in order of p/c costs sum c_i (1 - sum_{j<i} p_j). A setup that several need is paid by
the first of them. A check is worth its minutes when the expected cost after its result, its own cost included, is less.
Two steps are looked ahead: the first over every check and the likeliest suspects to try, the second over the best few checks.
Trying a suspect is such a first step too: it may be worth more before a check than instead of it, and leaving that out costs
about one per cent (`advisor trial` prints it).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Sized
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FIRST_KEPT = 6  # first steps that are looked at two steps deep
SECOND_KEPT = 12  # second checks considered after each of their results
LEAST_MINUTES = 1e-6  # a try that costs nothing comes first; it must not divide by nothing


@dataclass(frozen=True)
class Action:
    """A check or a reading that could be done: its likelihood table and what it costs."""

    key: tuple[str, ...]
    table: Floats  # P(result | suspect), shape (results, suspects)
    minutes: float
    setups: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Tries:
    """What it takes to try each suspect: repair it and test again, or whatever else shows whether it is the one."""

    minutes: Floats  # (suspects,), without setups
    setups: tuple[frozenset[str], ...]  # of each suspect; paid once while they last

    @cached_property
    def needing(self) -> Mapping[frozenset[str], list[int]]:
        """The suspects that need just these setups."""
        found: dict[frozenset[str], list[int]] = {}
        for i, needed in enumerate(self.setups):
            found.setdefault(needed, []).append(i)
        return found

    @cached_property
    def _dues(self) -> dict[frozenset[str], tuple[Setups, Dues]]:
        return {}

    def dues(self, setups: Setups, present: frozenset[str]) -> Dues:
        """What the tries cost with these setups in place. Kept, for one plan asks for the same few over and over."""
        known = self._dues.get(present)
        if known is None or known[0] is not setups:
            known = self._dues[present] = (setups, setups.dues(self, present))
        return known[1]


@dataclass(frozen=True)
class Dues:
    """What trying costs from where one stands."""

    once: Floats  # (dues,) minutes that the first of a due's payers pays
    payers: NDArray[np.intp]  # the suspects that a due is asked of, due after due
    starts: NDArray[np.intp]  # (dues,) where each due's payers begin
    alone: Floats  # (suspects,) minutes of trying each now, with all that it would have to pay


@dataclass(frozen=True)
class Setups:
    """Minutes to reach and leave each setup, and which exclude each other."""

    enter: Mapping[str, float]
    leave: Mapping[str, float]
    excludes: Mapping[str, frozenset[str]]

    def cost(self, needed: frozenset[str], present: frozenset[str]) -> float:
        """Minutes to have the needed setups, from those present; what they exclude is undone first."""
        return sum(self.enter[s] for s in needed - present) + sum(self.leave[s] for s in self.left(needed, present))

    @cached_property
    def conflicts(self) -> Mapping[str, frozenset[str]]:
        """What each setup cannot be in place with, whichever of the two says so."""
        found = {s: set(others) for s, others in self.excludes.items()}
        for s, others in self.excludes.items():
            for other in others:
                found.setdefault(other, set()).add(s)
        return {s: frozenset(others) for s, others in found.items()}

    def left(self, needed: frozenset[str], present: frozenset[str]) -> frozenset[str]:
        """The setups present that the needed ones exclude."""
        return frozenset(s for s in present - needed if not needed.isdisjoint(self.conflicts.get(s, ())))

    def after(self, needed: frozenset[str], present: frozenset[str]) -> frozenset[str]:
        return (present - self.left(needed, present)) | needed

    def dues(self, tries: Tries, present: frozenset[str]) -> Dues:
        """What has to be paid once on the way, and what it makes of each suspect's minutes."""
        import numpy as np

        paid: list[tuple[float, list[int]]] = []
        for s in sorted(frozenset().union(*tries.needing) - present):
            paid.append((self.enter[s], [i for needed, who in tries.needing.items() if s in needed for i in who]))
        for s in sorted(present):
            leaving = [who for needed, who in tries.needing.items() if self.left(needed, frozenset({s}))]
            paid.append((self.leave[s], [i for who in leaving for i in who]))
        paid = [(minutes, who) for minutes, who in paid if minutes and who]
        alone = np.maximum(tries.minutes, LEAST_MINUTES)
        for minutes, who in paid:
            alone[who] += minutes
        payers = np.array([i for _, who in paid for i in who], dtype=np.intp)
        return Dues(np.array([minutes for minutes, _ in paid]), payers, _starts([who for _, who in paid]), alone)


@dataclass(frozen=True)
class Valued:
    """An action with what it would cost now and what is then expected to the end, itself included."""

    action: Action
    now: float
    to_the_end: float


@dataclass(frozen=True)
class Plan:
    """Trying a suspect now, and every action that is better or worse than that, best first."""

    try_now: float  # expected minutes to the end when `first_try` comes first, whatever is best after it
    first_try: int  # index of the suspect to try first
    actions: tuple[Valued, ...]

    def later(self, minutes: float) -> Plan:
        """The same plan where so many minutes follow whatever is done."""
        actions = tuple(Valued(v.action, v.now, v.to_the_end + minutes) for v in self.actions)
        return Plan(self.try_now + minutes, self.first_try, actions)


def expected_cost(shares: Floats, tries: Tries, setups: Setups, present: frozenset[str]) -> Floats:
    """Expected minutes of trying the suspects in order of p/c until the fault is gone.

    shares: (..., suspects). A row that sums to less than one is what may come to pass with that chance, and counts for no more:
    after a result, P(result) times the cost is the cost of P(result and suspect). In the order, every suspect counts with all
    the setups it still needs; in the sum, the first that needs a setup pays it. Returns (...).
    """
    import numpy as np

    dues = tries.dues(setups, present)
    order = np.argsort(shares / -dues.alone, axis=-1, kind="stable")
    order += np.arange(0, shares.size, shares.shape[-1]).reshape(*shares.shape[:-1], 1)  # now into all rows at once
    p = np.take(shares, order)
    found = np.cumsum(p, axis=-1)
    then = found[..., -1:] - found
    then += p
    left = np.empty(shares.shape)  # the chance that the fault is still there when a suspect's turn comes
    left.reshape(-1)[order] = np.maximum(then, 0.0, out=then)
    cost: Floats = left @ tries.minutes
    if len(dues.once):
        cost += np.maximum.reduceat(np.take(left, dues.payers, axis=-1), dues.starts, axis=-1) @ dues.once
    return cost


def one_step(shares: Floats, tries: Tries, actions: Sequence[Action], setups: Setups, present: frozenset[str]) -> list[Valued]:
    """Every action valued one step ahead, in the order given."""
    import numpy as np

    if not actions:
        return []
    best = np.empty(len(actions))
    for there, group in _by_setups(actions, setups, present).items():
        tables = [actions[i].table for i in group]
        best[group] = np.add.reduceat(expected_cost(np.concatenate(tables) * shares, tries, setups, there), _starts(tables))
    now = [a.minutes + setups.cost(a.setups, present) for a in actions]
    return [Valued(a, cost, cost + float(rest)) for a, cost, rest in zip(actions, now, best, strict=True)]


def _by_setups(actions: Sequence[Action], setups: Setups, present: frozenset[str]) -> dict[frozenset[str], list[int]]:
    """The actions, by number, under the setups that each leaves in place."""
    found: dict[frozenset[str], list[int]] = {}
    for i, a in enumerate(actions):
        found.setdefault(setups.after(a.setups, present), []).append(i)
    return found


def _starts(parts: Sequence[Sized]) -> NDArray[np.intp]:
    """Where each part begins when they stand one after the other."""
    import numpy as np

    return np.cumsum([0, *(len(part) for part in parts)], dtype=np.intp)[:-1]


def _second(
    first: Valued, shares: Floats, tries: Tries, others: Sequence[Action], setups: Setups, present: frozenset[str]
) -> float:
    """Expected minutes to the end when the best second action, or none, follows each result of the first."""
    import numpy as np

    after = first.action.table * shares
    chance = after.sum(axis=1)
    there = setups.after(first.action.setups, present)
    best = expected_cost(after, tries, setups, there)
    rest = [a for a in others if a is not first.action]
    for then, numbers in _by_setups(rest, setups, there).items():
        group = [rest[i] for i in numbers]
        tables = [a.table for a in group]
        values = np.add.reduceat(
            expected_cost(after[:, None, :] * np.concatenate(tables)[None, :, :], tries, setups, then), _starts(tables), axis=1
        )
        fees = np.array([a.minutes + setups.cost(a.setups, there) for a in group])
        best = np.minimum(best, np.min(values + chance[:, None] * fees, axis=1))
    return first.now + float(best.sum())


def try_first(
    first: int, shares: Floats, tries: Tries, actions: Sequence[Action], setups: Setups, present: frozenset[str]
) -> float:
    """Expected minutes to the end when one suspect is tried first and, if it was not the one, the best check or none follows."""
    needed = tries.setups[first]
    now = float(tries.minutes[first]) + setups.cost(needed, present)
    left = shares.copy()
    left[first] = 0.0
    failed = float(left.sum())
    if failed < 1e-12:
        return now
    left, there = left / failed, setups.after(needed, present)
    rest = float(expected_cost(left, tries, setups, there))
    return now + failed * min(rest, *(v.to_the_end for v in one_step(left, tries, actions, setups, there)), rest)


def plan(
    shares: Floats, tries: Tries, actions: Sequence[Action], setups: Setups, present: frozenset[str], *, depth: int = 2
) -> Plan:
    """What to do next. `shares` (suspects,) sum to one.

    Actions that lead to the same expected minutes are ordered by their minutes now, then by key.
    """
    import numpy as np

    order = np.argsort(shares / -tries.dues(setups, present).alone, kind="stable")
    valued = one_step(shares, tries, actions, setups, present)
    ranked = sorted(valued, key=_order)
    seconds = [v.action for v in ranked[:SECOND_KEPT]]
    if depth > 1:
        deep = {
            v.action.key: Valued(v.action, v.now, _second(v, shares, tries, seconds, setups, present)) for v in ranked[:FIRST_KEPT]
        }
        ranked = sorted((deep.get(v.action.key, v) for v in valued), key=_order)
        firsts = [int(i) for i in order[:FIRST_KEPT]]
        tried = [try_first(i, shares, tries, seconds, setups, present) for i in firsts]
        best = int(np.argmin(tried))
        return Plan(tried[best], firsts[best], tuple(ranked))
    return Plan(float(expected_cost(shares, tries, setups, present)), int(order[0]), tuple(ranked))


def _order(v: Valued) -> tuple[float, float, tuple[str, ...]]:
    return round(v.to_the_end, 9), v.now, v.action.key
