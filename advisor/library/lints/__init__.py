"""Checks over the knowledge as a whole, beyond what makes a single file valid."""

from __future__ import annotations

from advisor.library.lints.chance_words import LINTS as CHANCE_WORDS
from advisor.library.lints.deeds import LINTS as DEEDS
from advisor.library.lints.figures import LINTS as FIGURES
from advisor.library.lints.glossary import LINTS as GLOSSARY
from advisor.library.lints.lint import Issue, Lint
from advisor.library.lints.physics import LINTS as PHYSICS
from advisor.library.lints.reach import LINTS as REACH
from advisor.library.lints.repairs import LINTS as REPAIRS
from advisor.library.lints.separate import LINTS as SEPARATE
from advisor.library.lints.shares import LINTS as SHARES
from advisor.library.lints.times import LINTS as TIMES
from advisor.library.lints.wording import LINTS as WORDING
from advisor.model.knowledge import Knowledge

LINTS: tuple[Lint, ...] = (
    *REACH, *SEPARATE, *REPAIRS, *FIGURES, *CHANCE_WORDS, *WORDING, *SHARES, *GLOSSARY, *DEEDS, *TIMES, *PHYSICS,
)  # fmt: skip


def run_lints(knowledge: Knowledge) -> tuple[Issue, ...]:
    """Everything every lint finds, in order of lint and entry."""
    return tuple(issue for lint in LINTS for issue in lint(knowledge))
