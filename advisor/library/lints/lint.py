"""What a lint is: a function from the knowledge to the issues it finds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from advisor.model.knowledge import Knowledge


@dataclass(frozen=True)
class Issue:
    """One finding of a lint; `lint` is its name."""

    lint: str
    what: str


Lint = Callable[[Knowledge], Iterator[Issue]]
