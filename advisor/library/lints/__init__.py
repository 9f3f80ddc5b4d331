"""Checks over the knowledge as a whole, beyond what makes a single file valid."""

from __future__ import annotations

from advisor.library.lints.lint import Issue, Lint
from advisor.library.lints.reach import LINTS as REACH
from advisor.library.lints.wording import LINTS as WORDING
from advisor.model.knowledge import Knowledge

LINTS: tuple[Lint, ...] = (*REACH, *WORDING)


def run_lints(knowledge: Knowledge) -> tuple[Issue, ...]:
    """Everything every lint finds, in order of lint and entry."""
    return tuple(issue for lint in LINTS for issue in lint(knowledge))
