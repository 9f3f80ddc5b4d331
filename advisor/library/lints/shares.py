"""Can what stands in braces be turned into volts?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Knowledge
from advisor.model.shares import HINT, OF_SUPPLY, misread

TOLD = ("causes", "checks", "rules")  # whose texts are told with the machine's volts


def shares_that_cannot_be_read(k: Knowledge) -> Iterator[Issue]:
    """Braces hold a share of the sensor supply, and only in the texts of causes, checks and rules."""
    for kind in ("causes", "checks", "rules", "moves", "cautions", "complaints", "intake", "tools"):
        for name, entry in getattr(k, kind).items():
            for text in _texts(entry.model_dump()):
                wrong = misread(text)
                if wrong is not None:
                    yield Issue("share-misread", f"{kind} '{name}': '{wrong}' is no share of the supply; {HINT}")
                elif kind not in TOLD and OF_SUPPLY.search(text):
                    yield Issue("share-misread", f"{kind} '{name}': a share of the supply stands in causes, checks and rules only")


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from _texts(part)
    elif isinstance(value, tuple | list):
        for part in value:
            yield from _texts(part)


LINTS: tuple[Lint, ...] = (shares_that_cannot_be_read,)
