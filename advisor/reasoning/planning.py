"""The next step: least expected minutes until the fault is found, repaired and shown gone.

Expected cost of repair after Heckerman, Breese & Rommelse (Decision-theoretic troubleshooting, CACM 38(3), 1995): from shares
p and minutes c, trying the suspects in order of p/c costs sum c_i (1 - sum_{j<i} p_j). What has to be made ready for several
is paid by the first of them. A check is worth its minutes when the expected cost after its result, its own cost included, is less.
Two steps are looked ahead: the first over every check and the likeliest suspects to try, the second over the best few checks.
Trying a suspect is such a first step too: it may be worth more before a check than instead of it, and leaving that out costs
about one per cent (`advisor trial` prints it).
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FIRST_KEPT = 6  # first steps that are looked at two steps deep
SECOND_KEPT = 12  # second checks considered after each of their results
APART = 1e-12  # by which equals are told apart, suspect after suspect
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

    def asking(self, errands: Iterable[Errand]) -> Asked:
        """What several errands take."""
        ...


class Asked(Protocol):
    """What it takes to make ready for several errands."""

    def alike(self, at: Place) -> Place:
        """The place that stands for all from which each of the errands takes the same."""
        ...

    def items(self, at: Place) -> Sequence[Mapping[Any, float]]:
        """For each errand what has to be made ready at least, thing by thing with its minutes."""
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
    def errand_of(self) -> NDArray[np.intp]:
        """For each suspect the number of its errand among those of `needing`."""
        import numpy as np

        number = {errand: n for n, errand in enumerate(self.needing)}
        return np.array([number[errand] for errand in self.errands], dtype=np.intp)

    @cached_property
    def by_errand(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """The suspects errand after errand, and where those of each begin."""
        import numpy as np

        return np.concatenate([*self.needing.values()]), _starts(map(len, self.needing.values()))

    @cached_property
    def _outlooks(self) -> dict[int, tuple[Ground, Outlook]]:
        return {}

    def on(self, ground: Ground) -> Outlook:
        """What the tries cost on a ground. Kept, for one plan asks for the same over and over."""
        known = self._outlooks.get(id(ground))
        if known is None:
            known = self._outlooks[id(ground)] = (ground, Outlook(self, ground, ground.asking(self.needing)))
        return known[1]

    def dues(self, ground: Ground, at: Place) -> Dues:
        """What the tries cost as things stand."""
        return self.on(ground).dues(at)


@dataclass
class Outlook:
    """What tries cost on a ground, from each place that is thought of."""

    tries: Tries
    ground: Ground
    asked: Asked  # by the errands of `Tries.needing`
    _known: dict[Place, Dues] = field(default_factory=dict)

    def dues(self, at: Place) -> Dues:
        """What the tries cost as things stand."""
        place = self.asked.alike(at)
        known = self._known.get(place)
        if known is None:
            known = self._known[place] = _dues(self.tries, self.asked.items(place))
        return known

    def after(self, actions: Iterable[Action], at: Place) -> dict[Place, list[int]]:
        """The numbers of the actions by about how things stand after each, as far as the tries can tell."""
        found: dict[Place, list[int]] = {}
        for i, action in enumerate(actions):
            found.setdefault(self.asked.alike(self.ground.then(action.errand, at)), []).append(i)
        return found


@dataclass(frozen=True)
class Dues:
    """What trying costs from where one stands."""

    once: Floats  # (dues,) minutes that the first of a due's payers pays
    payers: NDArray[np.intp]  # the errands of `Tries.needing` that ask for a due, due after due
    starts: NDArray[np.intp]  # (dues,) where each due's payers begin
    alone: Floats  # (suspects,) minutes of trying each now, with all that it would have to pay

    @cached_property
    def turn(self) -> Floats:
        """What shares are divided by, so that sorting puts the best first: of two that are equal, the first of the suspects.

        A sort that keeps the order of equals would do the same and takes four times as long.
        """
        import numpy as np

        found: Floats = -self.alone * (1 + APART * np.arange(len(self.alone)))
        return found


def _dues(tries: Tries, items: Sequence[Mapping[Hashable, float]]) -> Dues:
    """What has to be made ready once, from that of each errand of `Tries.needing`, and what it makes of each suspect's minutes."""
    import numpy as np

    paid: dict[Hashable, tuple[float, list[int]]] = {}
    for n, things in enumerate(items):
        for thing, minutes in things.items():
            if minutes:
                paid.setdefault(thing, (minutes, []))[1].append(n)
    once = np.array([minutes for minutes, _ in paid.values()])
    lengths = [len(errands) for _, errands in paid.values()]
    payers = np.array([n for _, errands in paid.values() for n in errands], dtype=np.intp)
    owed = np.bincount(payers, weights=np.repeat(once, lengths), minlength=len(items))
    return Dues(once, payers, _starts(lengths), np.maximum(tries.minutes, LEAST_MINUTES) + owed[tries.errand_of])


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
    order = np.argsort(shares / dues.turn, axis=-1)
    order += np.arange(0, shares.size, shares.shape[-1]).reshape(*shares.shape[:-1], 1)  # now into all rows at once
    p = np.take(shares, order)
    found = np.cumsum(p, axis=-1)
    then = found[..., -1:] - found
    then += p
    left = np.empty(shares.shape)  # the chance that the fault is still there when a suspect's turn comes
    left.reshape(-1)[order] = np.maximum(then, 0.0, out=then)
    cost: Floats = left @ tries.minutes
    if len(dues.once):
        members, starts = tries.by_errand
        begun = np.maximum.reduceat(np.take(left, members, axis=-1), starts, axis=-1)
        cost += np.maximum.reduceat(np.take(begun, dues.payers, axis=-1), dues.starts, axis=-1) @ dues.once
    return cost


def one_step(shares: Floats, tries: Tries, actions: Sequence[Action], ground: Ground, at: Place) -> list[Valued]:
    """Every action valued one step ahead, in the order given; how things stand after it is only estimated."""
    import numpy as np

    if not actions:
        return []
    best = np.empty(len(actions))
    for there, group in tries.on(ground).after(actions, at).items():
        tables = [actions[i].table for i in group]
        best[group] = np.add.reduceat(
            expected_cost(np.concatenate(tables) * shares, tries, ground, there), _starts(map(len, tables))
        )
    now = [a.minutes + ready(ground, a.errand, at) for a in actions]
    return [Valued(a, cost, cost + float(rest)) for a, cost, rest in zip(actions, now, best, strict=True)]


def _starts(lengths: Iterable[int]) -> NDArray[np.intp]:
    """Where each part begins when parts of these lengths stand one after the other."""
    import numpy as np

    return np.cumsum([0, *lengths], dtype=np.intp)[:-1]


def _second(first: Valued, shares: Floats, tries: Tries, others: Sequence[Action], ground: Ground, at: Place) -> float:
    """Expected minutes to the end when the best second action, or none, follows each result of the first."""
    import numpy as np

    after = first.action.table * shares
    chance = after.sum(axis=1)
    there = ground.after(first.action.errand, at)
    best = expected_cost(after, tries, ground, there)
    rest = [a for a in others if a is not first.action]
    for then, group in tries.on(ground).after(rest, there).items():
        tables = [rest[i].table for i in group]
        each = expected_cost(after[:, None, :] * np.concatenate(tables)[None, :, :], tries, ground, then)
        values = np.add.reduceat(each, _starts(map(len, tables)), axis=1)
        fees = np.array([rest[i].minutes + ready(ground, rest[i].errand, there) for i in group])
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
    return now + failed * min([rest, *(v.to_the_end for v in one_step(left, tries, actions, ground, there))])


def plan(shares: Floats, tries: Tries, actions: Sequence[Action], ground: Ground, at: Place, *, depth: int = 2) -> Plan:
    """What to do next. `shares` (suspects,) sum to one.

    Actions that lead to the same expected minutes are ordered by their minutes now, then by key.
    """
    import numpy as np

    order = np.argsort(shares / tries.dues(ground, at).turn)
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
