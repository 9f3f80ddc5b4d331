"""What the advice costs against the best there is, on random small problems that can be solved exactly.

A problem has 6 causes, of which exactly one is present, 5 noisy checks that can be done once each, and 3 setups which
checks and repairs share; a setup is paid for once. A repair cures its cause for certain and shows at once whether the
fault is gone. The best policy is found by dynamic programming over what every check has said and what has been repaired;
each other policy is valued exactly by following it through all results.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.practice.policies import SURE
from advisor.reasoning.planning import Action, Tries, plan

CAUSES, CHECKS, SETUPS = 6, 5, 3
NOT_DONE = -1

Floats = NDArray[np.float64]

Results = tuple[int, ...]  # of each check: 0 normal, 1 not normal, NOT_DONE
State = tuple[Results, frozenset[int]]  # and the causes already repaired
Move = tuple[str, int]  # ("check", number) or ("repair", number)


@dataclass(frozen=True)
class Setups:
    """The ground of these problems: setups that are paid for once and never undone. An errand is a set of them, as is a place."""

    enter: Mapping[str, float]

    def items(self, errand: frozenset[str], at: frozenset[str]) -> dict[str, float]:
        return {s: self.enter[s] for s in sorted(errand - at)}

    def cost(self, errand: frozenset[str], at: frozenset[str]) -> float:
        return sum(self.items(errand, at).values())

    def after(self, errand: frozenset[str], at: frozenset[str]) -> frozenset[str]:
        return at | errand

    then = after

    def asking(self, errands: Iterable[frozenset[str]]) -> Asking:
        return Asking(self, tuple(errands))


@dataclass(frozen=True)
class Asking:
    """What several errands ask for; each place stands for itself."""

    ground: Setups
    errands: tuple[frozenset[str], ...]

    def alike(self, at: frozenset[str]) -> frozenset[str]:
        return at

    def items(self, at: frozenset[str]) -> list[dict[str, float]]:
        return [self.ground.items(errand, at) for errand in self.errands]


@dataclass(frozen=True)
class Problem:
    """Minutes and chances. `bad[k][i]` is the chance that check k is not normal when cause i is present."""

    prior: tuple[float, ...]
    repair: tuple[float, ...]
    repair_setups: tuple[frozenset[str], ...]
    bad: tuple[tuple[float, ...], ...]
    minutes: tuple[float, ...]
    check_setups: tuple[frozenset[str], ...]
    enter: dict[str, float]

    @cached_property
    def setups(self) -> Setups:
        return Setups(self.enter)

    @cached_property
    def tables(self) -> list[Floats]:
        return [np.array([[1 - b for b in row], row]) for row in self.bad]

    def present(self, state: State) -> frozenset[str]:
        """The setups in place: all that was needed so far."""
        used = [self.check_setups[k] for k, r in enumerate(state[0]) if r != NOT_DONE]
        return frozenset().union(*used, *(self.repair_setups[i] for i in state[1]))

    def weights(self, state: State) -> Floats:
        """Chance of each cause together with what was found, not normalised; repaired causes have none."""
        found = np.array(self.prior)
        for k, r in enumerate(state[0]):
            if r != NOT_DONE:
                found = found * self.tables[k][r]
        found[list(state[1])] = 0.0
        return found

    def cost(self, move: Move, present: frozenset[str]) -> float:
        kind, i = move
        own, needed = (self.minutes, self.check_setups) if kind == "check" else (self.repair, self.repair_setups)
        return own[i] + self.setups.cost(needed[i], present)

    def after(self, state: State, move: Move) -> list[State]:
        """The states that may follow, the fault not yet gone."""
        results, repaired = state
        if move[0] == "repair":
            return [(results, repaired | {move[1]})]
        return [((*results[: move[1]], r, *results[move[1] + 1 :]), repaired) for r in (0, 1)]


START: State = ((NOT_DONE,) * CHECKS, frozenset())


def draw(rng: random.Random, *, plain: bool = False) -> Problem:
    """A random problem: each check is likely not normal for one to three causes and seldom for the others.

    In a plain one the repairs need no setups.
    """
    names = [f"setup-{i}" for i in range(SETUPS)]

    def some() -> frozenset[str]:
        return frozenset(rng.sample(names, rng.choice((0, 1, 1, 2))))

    weights = [rng.expovariate(1) for _ in range(CAUSES)]
    bad = []
    for _ in range(CHECKS):
        telling = rng.sample(range(CAUSES), rng.randint(1, 3))
        bad.append(tuple(rng.uniform(0.55, 0.97) if i in telling else rng.uniform(0.03, 0.15) for i in range(CAUSES)))
    return Problem(
        prior=tuple(w / sum(weights) for w in weights),
        repair=tuple(10 ** rng.uniform(1.0, 2.2) for _ in range(CAUSES)),
        repair_setups=tuple(frozenset() if plain else some() for _ in range(CAUSES)),
        bad=tuple(bad),
        minutes=tuple(rng.uniform(2, 20) for _ in range(CHECKS)),
        check_setups=tuple(some() for _ in range(CHECKS)),
        enter={name: rng.uniform(2, 20) for name in names},
    )


def best_minutes(problem: Problem) -> float:
    """Expected minutes of the best policy of all.

    Whole arrays over the sets of repaired causes (bit i: cause i) are kept for every way the checks may have come out.
    """
    sets = 1 << CAUSES
    masks = np.array([[not s >> i & 1 for i in range(CAUSES)] for s in range(sets)], dtype=float)
    fewest_left = sorted(range(sets), key=lambda s: -bin(s).count("1"))
    value: dict[Results, Floats] = {}
    ways = sorted(itertools.product((NOT_DONE, 0, 1), repeat=CHECKS), key=lambda r: r.count(NOT_DONE))
    for results in ways:
        left = masks * problem.weights((results, frozenset()))
        mass = left.sum(axis=1)
        here = [problem.present((results, frozenset(i for i in range(CAUSES) if s >> i & 1))) for s in range(sets)]
        best = np.full(sets, np.inf)
        for k in (k for k in range(CHECKS) if results[k] == NOT_DONE):
            rest: Any = sum(value[after] for after, _ in problem.after((results, frozenset()), ("check", k)))
            best = np.minimum(best, mass * [problem.cost(("check", k), p) for p in here] + rest)
        best[sets - 1] = 0.0
        for s in fewest_left[1:]:
            for i in (i for i in range(CAUSES) if not s >> i & 1):
                best[s] = min(best[s], mass[s] * problem.cost(("repair", i), here[s]) + best[s | 1 << i])
        value[results] = best
    return float(value[START[0]][0])


def expected_minutes(problem: Problem, choose: Callable[[Problem, State], Move]) -> float:
    """Expected minutes of a policy, followed through every result of every check."""
    total = 0.0
    open_states = [START]
    while open_states:
        state = open_states.pop()
        mass = float(problem.weights(state).sum())
        if mass <= 1e-12:
            continue
        move = choose(problem, state)
        total += mass * problem.cost(move, problem.present(state))
        open_states += problem.after(state, move)
    return total


def by_odds(problem: Problem, state: State) -> Move:
    """The repair with the most chance per minute."""
    weights, present = problem.weights(state), problem.present(state)
    left = [i for i in range(CAUSES) if i not in state[1]]
    return "repair", max(left, key=lambda i: weights[i] / problem.cost(("repair", i), present))


def lookahead(depth: int) -> Callable[[Problem, State], Move]:
    """The advice of the program."""

    def choose(problem: Problem, state: State) -> Move:
        weights, present = problem.weights(state), problem.present(state)
        tries = Tries(np.array(problem.repair), problem.repair_setups)
        actions = [
            Action((str(k),), problem.tables[k], problem.minutes[k], problem.check_setups[k])
            for k in range(CHECKS)
            if state[0][k] == NOT_DONE
        ]
        found = plan(weights / weights.sum(), tries, actions, problem.setups, present, depth=depth)
        if not found.actions or found.try_now <= found.actions[0].to_the_end + 1e-9:
            return "repair", found.first_try
        return "check", int(found.actions[0].action.key[0])

    return choose


def until_sure(order: Callable[[Problem, State, Iterable[int]], int]) -> Callable[[Problem, State], Move]:
    """Checks in an order until one cause holds 90 % or no check is left; then repairs by odds."""

    def choose(problem: Problem, state: State) -> Move:
        weights = problem.weights(state)
        left = [k for k in range(CHECKS) if state[0][k] == NOT_DONE]
        if not left or weights.max() >= SURE * weights.sum():
            return by_odds(problem, state)
        return "check", order(problem, state, left)

    return choose


def cheapest(problem: Problem, state: State, left: Iterable[int]) -> int:
    present = problem.present(state)
    return min(left, key=lambda k: problem.cost(("check", k), present))


def most_information(problem: Problem, state: State, left: Iterable[int]) -> int:
    """The check that takes most uncertainty away per minute."""
    weights, present = problem.weights(state), problem.present(state)
    shares = weights / weights.sum()

    def entropy(p: Floats) -> float:
        kept = p[p > 0]
        return float(-(kept * np.log(kept)).sum())

    def rate(k: int) -> float:
        joint = problem.tables[k] * shares
        rest = sum(float(j.sum()) * entropy(j / j.sum()) for j in joint)
        return (entropy(shares) - rest) / problem.cost(("check", k), present)

    return max(left, key=rate)


POLICIES: dict[str, Callable[[Problem, State], Move]] = {
    "fixed-order": until_sure(lambda _problem, _state, left: min(left)),
    "cheapest-first": until_sure(cheapest),
    "repair-by-odds": by_odds,
    "information-rate": until_sure(most_information),
    "lookahead-1": lookahead(1),
    "lookahead-2": lookahead(2),
}


def ratios(seed: int, number: int, *, plain: bool = False) -> dict[str, float]:
    """For one random problem the expected minutes of each policy over those of the best policy of all; none is below one."""
    problem = draw(random.Random(f"{seed} {number}"), plain=plain)
    best = best_minutes(problem)
    return {name: expected_minutes(problem, choose) / best for name, choose in POLICIES.items()}
