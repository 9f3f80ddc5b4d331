"""What the first step needs is loaded while a person reads the first question."""

from __future__ import annotations

from contextlib import suppress
from importlib import import_module
from threading import Thread

NEEDED = ("numpy", "advisor.session.commands", "advisor.terminal.stage", "advisor.reasoning.harness", "experta")


def warm_up() -> Thread:
    """Begins to load; nothing depends on it. What cannot be loaded is told by whoever needs it."""
    thread = Thread(target=_load, name="warm-up")
    thread.start()
    return thread


def _load() -> None:
    for name in NEEDED:
        with suppress(Exception):
            import_module(name)
