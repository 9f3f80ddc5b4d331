"""A layer of faults under the store: the calls of `advisor.store.system`, counted, and the nth of them goes wrong."""

from __future__ import annotations

import errno
import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from advisor.store import system

CALLS = ("write", "sync", "sync_folder", "truncate", "replace", "link", "remove")


@dataclass
class Faults:
    """What was called so far, and what happens at which call. `at` counts from 0; None lets everything pass."""

    at: int | None = None
    how: str = "before"  # before, half, after: the process is killed then. full, gone, short: the call fails; every: from then on
    seen: list[str] = field(default_factory=list)

    def call(self, name: str, real: Callable[..., Any], *given: Any) -> Any:
        number = len(self.seen)
        self.seen.append(name)
        if self.at is None or not (number == self.at or (self.how == "every" and number > self.at)):
            return real(*given)
        if self.how in ("full", "every") and name in ("write", "sync", "sync_folder", "replace", "link"):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        if self.how == "gone":
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        if self.how == "short" and name == "write":  # the disk takes a part, and then it is full
            real(given[0], given[1][: len(given[1]) // 2])
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        if self.how == "half" and name == "write":
            real(given[0], given[1][: len(given[1]) // 2])
        elif self.how == "after":
            real(*given)
        if self.how in ("before", "half", "after"):
            os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))  # on Windows every signal ends at once
        return real(*given)


@contextmanager
def laid(faults: Faults) -> Iterator[Faults]:
    """The layer under the store, as long as the block lasts."""
    kept = {name: getattr(system, name) for name in CALLS}

    def over(name: str) -> Callable[..., Any]:
        return lambda *given: faults.call(name, kept[name], *given)

    for name in CALLS:
        setattr(system, name, over(name))
    try:
        yield faults
    finally:
        for name, real in kept.items():
            setattr(system, name, real)
