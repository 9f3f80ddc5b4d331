"""The next step: least expected minutes until the fault is found, repaired and shown gone.

Expected cost of repair after Heckerman, Breese & Rommelse (Decision-theoretic troubleshooting, CACM 38(3), 1995): from shares
p and minutes c, trying the suspects in order of p/c costs sum c_i (1 - sum_{j<i} p_j). What has to be made ready for several
is paid by the first of them. A check is worth its minutes when the expected cost after its result, its own cost included, is less.
Two steps are looked ahead: the first over every check and the likeliest suspects to try, the second over the best few checks.
Trying a suspect is such a first step too: it may be worth more before a check than instead of it, and leaving that out costs
about one per cent (`advisor trial` prints it).
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence, Sized
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FIRST_KEPT = 6  # first steps that are looked at two steps deep
SECOND_KEPT = 12  # second checks considered after each of their results
LEAST_MINUTES = 1e-6  # a try that costs nothing comes first; it must not divide by nothing

Errand = Any  # hashable: what has to be ready for a step; only the ground knows what it means
Place = Any  # hashable: how things stand


class Ground(Protocol):
    """What it takes to make ready for a step, from how things stand."""

    def after(self, errand: Errand, at: Place) -> Place:
        """How things stand when the step is done."""
        ...

    def items(self, errand: Errand, at: Place) -> Mapping[Any, float]:
        """What has to be made ready at least, thing by thing with its minutes: what two errands share is made ready once."""
        ...

    def then(self, errand: Errand, at: Place) -> Place:
        """About how things stand when the step is done, found quickly; for steps that are only thought of."""
        ...


def ready(ground: Ground, errand: Errand, at: Place) -> float:
    """Minutes to make ready for a step, by what has to be made at least."""
    return sum(ground.items(errand, at).values())


@dataclass(frozen=True)
class Action:
    """A check or a reading that could be done: its likelihood table and what it costs."""

    key: tuple[str, ...]
    table: Floats  # P(result | suspect), shape (results, suspects)
    minutes: float
    errand: Errand = ()


@dataclass(frozen=True)
class Tries:
    """What it takes to try each suspect: repair it and test again, or whatever else shows whether it is the one."""

    minutes: Floats  # (suspects,), without making ready
    errands: tuple[Errand, ...]  # of each suspect

    @cached_property
    def needing(self) -> Mapping[Errand, list[int]]:
        """The suspects that need just the same."""
        found: dict[Errand, list[int]] = {}
        for i, errand in enumerate(self.errands):
            found.setdefault(errand, []).append(i)
        return found

    @cached_property
    def _dues(self) -> dict[Place, tuple[Ground, Dues]]:
        return {}

    def dues(self, ground: Ground, at: Place) -> Dues:
        """What the tries cost as things stand. Kept, for one plan asks for the same few over and over."""
        known = self._dues.get(at)
        if known is None or known[0] is not ground:
            known = self._dues[at] = (ground, _dues(self, ground, at))
        return known[1]


@dataclass(frozen=True)
class Dues:
    """What trying costs from where one stands."""

    once: Floats  # (dues,) minutes that the first of a due's payers pays
    payers: NDArray[np.intp]  # the suspects that a due is asked of, due after due
    starts: NDArray[np.intp]  # (dues,) where each due's payers begin
    alone: Floats  # (suspects,) minutes of trying each now, with all that it would have to pay


def _dues(tries: Tries, ground: Ground, at: Place) -> Dues:
    """What has to be made ready once on the way, and what it makes of each suspect's minutes."""
    import numpy as np

    paid: dict[Hashable, tuple[float, list[int]]] = {}
    for errand, who in tries.needing.items():
        for thing, minutes in ground.items(errand, at).items():
            if minutes:
                paid.setdefault(thing, (minutes, []))[1].extend(who)
    alone = np.maximum(tries.minutes, LEAST_MINUTES)
    for minutes, who in paid.values():
        alone[who] += minutes
    payers = np.array([i for _, who in paid.values() for i in who], dtype=np.intp)
    return Dues(np.array([minutes for minutes, _ in paid.values()]), payers, _starts([who for _, who in paid.values()]), alone)


@dataclass(frozen=True)
class Valued:
    """An action with what it would cost now and what is then expected to the end, itself included."""

    action: Action
    now: float
    to_the_end: float


@dataclass(frozen=True)
class Plan:
    """Trying a suspect now, and every action that is better or worse than that; each best first."""

    tries: tuple[tuple[float, int], ...]  # the likeliest to be tried first: expected minutes to the end, and which suspect
    actions: tuple[Valued, ...]

    @property
    def try_now(self) -> float:
        """Expected minutes to the end when `first_try` comes first, whatever is best after it."""
        return self.tries[0][0]

    @property
    def first_try(self) -> int:
        """The suspect that is best tried first."""
        return self.tries[0][1]

    def later(self, minutes: float) -> Plan:
        """The same plan where so many minutes follow whatever is done."""
        actions = tuple(Valued(v.action, v.now, v.to_the_end + minutes) for v in self.actions)
        return Plan(tuple((cost + minutes, i) for cost, i in self.tries), actions)


def expected_cost(shares: Floats, tries: Tries, ground: Ground, at: Place) -> Floats:
    """Expected minutes of trying the suspects in order of p/c until the fault is gone.

    shares: (..., suspects). A row that sums to less than one is what may come to pass with that chance, and counts for no more:
    after a result, P(result) times the cost is the cost of P(result and suspect). In the order, every suspect counts with all
    that has to be made ready for it; in the sum, the first that needs a thing pays for it. Returns (...).
    """
    import numpy as np

    dues = tries.dues(ground, at)
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


def one_step(shares: Floats, tries: Tries, actions: Sequence[Action], ground: Ground, at: Place) -> list[Valued]:
    """Every action valued one step ahead, in the order given; how things stand after it is only estimated."""
    import numpy as np

    if not actions:
        return []
    best = np.empty(len(actions))
    stands: dict[Place, list[int]] = {}
    for i, a in enumerate(actions):
        stands.setdefault(ground.then(a.errand, at), []).append(i)
    for there, group in stands.items():
        tables = [actions[i].table for i in group]
        best[group] = np.add.reduceat(expected_cost(np.concatenate(tables) * shares, tries, ground, there), _starts(tables))
    now = [a.minutes + ready(ground, a.errand, at) for a in actions]
    return [Valued(a, cost, cost + float(rest)) for a, cost, rest in zip(actions, now, best, strict=True)]


def _starts(parts: Sequence[Sized]) -> NDArray[np.intp]:
    """Where each part begins when they stand one after the other."""
    import numpy as np

    return np.cumsum([0, *(len(part) for part in parts)], dtype=np.intp)[:-1]


def _second(first: Valued, shares: Floats, tries: Tries, others: Sequence[Action], ground: Ground, at: Place) -> float:
    """Expected minutes to the end when the best second action, or none, follows each result of the first."""
    import numpy as np

    after = first.action.table * shares
    chance = after.sum(axis=1)
    there = ground.after(first.action.errand, at)
    best = expected_cost(after, tries, ground, there)
    rest = [a for a in others if a is not first.action]
    thought_of: dict[Place, list[Action]] = {}
    for a in rest:
        thought_of.setdefault(ground.then(a.errand, there), []).append(a)
    for then, group in thought_of.items():
        tables = [a.table for a in group]
        values = np.add.reduceat(
            expected_cost(after[:, None, :] * np.concatenate(tables)[None, :, :], tries, ground, then), _starts(tables), axis=1
        )
        fees = np.array([a.minutes + ready(ground, a.errand, there) for a in group])
        best = np.minimum(best, np.min(values + chance[:, None] * fees, axis=1))
    return first.now + float(best.sum())


def try_first(first: int, shares: Floats, tries: Tries, actions: Sequence[Action], ground: Ground, at: Place) -> float:
    """Expected minutes to the end when one suspect is tried first and, if it was not the one, the best check or none follows."""
    errand = tries.errands[first]
    now = float(tries.minutes[first]) + ready(ground, errand, at)
    left = shares.copy()
    left[first] = 0.0
    failed = float(left.sum())
    if failed < 1e-12:
        return now
    left, there = left / failed, ground.after(errand, at)
    rest = float(expected_cost(left, tries, ground, there))
    return now + failed * min(rest, *(v for v in _thought_of(left, tries, actions, ground, there)), rest)


def _thought_of(shares: Floats, tries: Tries, actions: Sequence[Action], ground: Ground, at: Place) -> list[float]:
    """Expected minutes to the end of every action as a later step: what it takes to make ready is only estimated."""
    import numpy as np

    groups: dict[Place, list[Action]] = {}
    for a in actions:
        groups.setdefault(ground.then(a.errand, at), []).append(a)
    found: list[float] = []
    for there, group in groups.items():
        tables = [a.table for a in group]
        rest = np.add.reduceat(expected_cost(np.concatenate(tables) * shares, tries, ground, there), _starts(tables))
        found += [a.minutes + ready(ground, a.errand, at) + float(r) for a, r in zip(group, rest, strict=True)]
    return found


def plan(shares: Floats, tries: Tries, actions: Sequence[Action], ground: Ground, at: Place, *, depth: int = 2) -> Plan:
    """What to do next. `shares` (suspects,) sum to one.

    Actions that lead to the same expected minutes are ordered by their minutes now, then by key.
    """
    import numpy as np

    order = np.argsort(shares / -tries.dues(ground, at).alone, kind="stable")
    in_order = float(expected_cost(shares, tries, ground, at))
    valued = one_step(shares, tries, actions, ground, at)
    ranked = sorted(valued, key=_order)
    seconds = [v.action for v in ranked[:SECOND_KEPT]]
    if depth > 1:
        deep = {v.action.key: Valued(v.action, v.now, _second(v, shares, tries, seconds, ground, at)) for v in ranked[:FIRST_KEPT]}
        ranked = sorted((deep.get(v.action.key, v) for v in valued), key=_order)
        firsts = [int(i) for i in order[:FIRST_KEPT]]
        # The cost of trying all in order is what the checks' values end with: only against that can a check be worth its minutes.
        costs = [try_first(i, shares, tries, seconds, ground, at) for i in firsts]
        costs[0] = min(costs[0], in_order)
        tried = sorted(zip(costs, firsts, strict=True), key=lambda one: one[0])
        return Plan(tuple(tried), tuple(ranked))
    return Plan(((in_order, int(order[0])),), tuple(ranked))


def _order(v: Valued) -> tuple[float, float, tuple[str, ...]]:
    return round(v.to_the_end, 9), v.now, v.action.key
