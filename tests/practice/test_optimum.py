"""The exact optimum is one, and the advice stays close to it."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from advisor.practice import optimum

SMALL = 16  # problems that the whole-problem tests solve exactly


@cache
def solved() -> tuple[tuple[optimum.Problem, float], ...]:
    rng = random.Random(88)
    drawn = [optimum.draw(rng, plain=i % 2 == 0) for i in range(SMALL)]
    return tuple((problem, optimum.best_minutes(problem)) for problem in drawn)


def test_the_exact_optimum_is_that_of_plain_recursion() -> None:
    """The dynamic programming that the advice is measured against agrees with a direct recursion on a smaller problem."""
    problem = replace(solved()[1][0], prior=(0.3, 0.0, 0.25, 0.0, 0.35, 0.1))

    @cache
    def least(state: optimum.State) -> float:
        mass = float(problem.weights(state).sum())
        if mass <= 1e-12:
            return 0.0
        present = problem.present(state)
        moves: list[optimum.Move] = [("check", k) for k, result in enumerate(state[0]) if result == optimum.NOT_DONE]
        moves += [("repair", i) for i, share in enumerate(problem.prior) if share > 0 and i not in state[1]]
        return min(mass * problem.cost(m, present) + sum(map(least, problem.after(state, m))) for m in moves)

    assert optimum.best_minutes(problem) == pytest.approx(least(optimum.START), rel=1e-9)


@pytest.mark.parametrize("name", list(optimum.POLICIES))
def test_no_policy_beats_the_optimum(name: str) -> None:
    """Followed through every result, no policy takes fewer minutes than the exact optimum."""
    for problem, best in solved()[:6]:
        assert optimum.expected_minutes(problem, optimum.POLICIES[name]) >= best * (1 - 1e-9)


@pytest.mark.parametrize(
    ("plain", "two_steps", "one_step_only"), [(True, 1.01, 1.03), (False, 1.01, 1.03)], ids=["own-setups", "shared-setups"]
)
def test_the_advice_stays_close_to_the_optimum(plain: bool, two_steps: float, one_step_only: float) -> None:
    """On small problems with noisy checks the advice costs less than one per cent more than the best there is."""
    found = [pair for i, pair in enumerate(solved()) if (i % 2 == 0) == plain]
    ratios = {
        name: np.mean([optimum.expected_minutes(p, optimum.POLICIES[name]) / best for p, best in found])
        for name in ("lookahead-2", "lookahead-1", "information-rate")
    }
    assert ratios["lookahead-2"] <= two_steps
    assert ratios["lookahead-1"] <= one_step_only
    assert ratios["information-rate"] > 1.2
