"""What the first step needs is loaded while a person reads the first question."""

from __future__ import annotations

from contextlib import suppress
from importlib import import_module
from threading import Thread
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from advisor.model.knowledge import Knowledge

NEEDED = ("numpy", "advisor.session.commands", "advisor.terminal.stage", "advisor.reasoning.harness", "experta")


FIELDS = ("intake", "words", "checks", "causes", "rules")  # of the knowledge


def warm_up(knowledge: Knowledge) -> Thread:
    """Begins to load; nothing depends on it. What cannot be loaded is told by whoever needs it."""
    thread = Thread(target=_load, args=(knowledge,), name="warm-up")
    thread.start()
    return thread


def _load(knowledge: Knowledge) -> None:
    for field in FIELDS:
        with suppress(Exception):
            getattr(knowledge, field)
    for name in NEEDED:
        with suppress(Exception):
            import_module(name)
