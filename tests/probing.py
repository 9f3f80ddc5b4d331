"""What the harness's readings, and the choice of the next one, come to by themselves: no other suspect, all else at one cost."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from grounds import NO_SETUPS, NOTHING

from advisor.model.case import Reading
from advisor.model.machine import Machine, Section
from advisor.reasoning.harness import CHANCE_GOOD_WHEN_BAD, Harness, evidence, predict
from advisor.reasoning.information import bits, bits_gained
from advisor.reasoning.planning import Action, Tries, expected_cost, plan

READING, OPENING = 3.0, 45.0  # minutes of a reading, and of opening one element to look at it


def opened(count: int) -> Tries:
    """Each of so many elements or stages can be opened and looked at."""
    return Tries(np.full(count, OPENING), (NOTHING,) * count)


def next_reading(
    machine: Machine,
    readings: Sequence[Reading],
    sections: Sequence[Section],
    priors: np.ndarray | None = None,
    good: float = CHANCE_GOOD_WHEN_BAD,
) -> tuple[Section, float]:
    """The best reading among `sections` for one bad element, and the minutes it saves against opening one by one."""
    single = evidence(machine, readings, good).single
    weights = np.exp(single - single.max()) * (1.0 if priors is None else priors)
    chances = predict(machine, readings, sections, good)[:, :, 1:]
    shares, tries = weights / weights.sum(), opened(len(weights))
    actions = [Action((f"{i:04d}",), table, READING, NOTHING) for i, table in enumerate(chances)]
    best = plan(shares, tries, actions, NO_SETUPS, NOTHING).actions[0]
    return sections[int(best.action.key[0])], float(expected_cost(shares, tries, NO_SETUPS, NOTHING)) - best.to_the_end


def best_look(weights: Sequence[float], bad: Sequence[Sequence[float]]) -> int:
    """The best of several looks at the same price; `bad` is the chance that each comes out bad, for every suspect."""
    shares = np.array(weights, dtype=float) / sum(weights)
    looks = [Action((f"{i:04d}",), np.stack([np.array(row), 1 - np.array(row)]), READING, NOTHING) for i, row in enumerate(bad)]
    return int(plan(shares, opened(len(weights)), looks, NO_SETUPS, NOTHING).actions[0].action.key[0])


def half_split(weights: Sequence[float]) -> int:
    """Where to look at a chain of stages with one bad stage: after the stage of this index. A look is bad from there on."""
    return best_look(weights, np.tri(len(weights))[:-1].tolist())


def shares(harness: Harness, second_fault_odds: float = 0.05, priors: np.ndarray | None = None) -> np.ndarray:
    """Share of each element, (E,): the sum over the hypotheses that hold it, given that the harness has a fault.

    `priors`, (E,), are relative; equal when not given. A pair's prior is the odds times the priors of both.
    """
    weights = np.ones(len(harness.elements)) if priors is None else np.asarray(priors, dtype=float)
    weights = weights / weights.sum()
    peak = max(harness.single.max(), harness.pair.max())
    single = weights * np.exp(harness.single - peak)
    pair = second_fault_odds * np.outer(weights, weights) * np.exp(harness.pair - peak)
    np.fill_diagonal(pair, 0.0)
    return np.asarray((single + pair.sum(axis=1)) / (single.sum() + pair.sum() / 2))


def bits_left(weights: np.ndarray, likelihoods: np.ndarray) -> np.ndarray:
    """Bits of uncertainty left after each of C checks, (C,). `weights` (X,) need not sum to 1; `likelihoods` are (C, V, X)."""
    found = weights / weights.sum()
    return bits(found) - bits_gained(found, list(likelihoods))
