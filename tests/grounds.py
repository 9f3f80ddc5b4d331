"""Grounds for the planner: what has to be made ready, in the plainest form."""

from __future__ import annotations

from advisor.practice.optimum import Setups

NOTHING: frozenset[str] = frozenset()
NO_SETUPS = Setups({})
