"""The program's choice of the next load test or of the next stage to look at, where all else costs the same."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.model.case import Reading
from advisor.model.machine import Machine, Section
from advisor.reasoning.harness import CHANCE_GOOD_WHEN_BAD, evidence, predict
from advisor.reasoning.planning import Action, Setups, Tries, expected_cost, plan

READING, OPENING = 3.0, 45.0  # minutes of a reading, and of opening one element to look at it
NO_SETUPS = Setups({}, {}, {})


def opened(count: int) -> Tries:
    """Each of so many elements or stages can be opened and looked at."""
    return Tries(np.full(count, OPENING), (frozenset(),) * count)


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
    actions = [Action((f"{i:04d}",), table, READING) for i, table in enumerate(chances)]
    best = plan(shares, tries, actions, NO_SETUPS, frozenset()).actions[0]
    return sections[int(best.action.key[0])], float(expected_cost(shares, tries, NO_SETUPS, frozenset())) - best.to_the_end


def half_split(weights: Sequence[float]) -> int:
    """Where to look at a chain of stages with one bad stage: after the stage of this index. A look is bad from there on."""
    shares = np.array(weights, dtype=float) / sum(weights)
    bad = np.tri(len(weights))[:-1]
    looks = [Action((f"{i:04d}",), np.stack([row, 1 - row]), READING) for i, row in enumerate(bad)]
    return int(plan(shares, opened(len(weights)), looks, NO_SETUPS, frozenset()).actions[0].action.key[0])
