"""Work for workers: squares, one of which kills the process that does it, once."""

from __future__ import annotations

import os
import signal
from pathlib import Path


def square(added: int, number: int) -> int:
    return number * number + added


def deadly(marker: str, number: int) -> int:
    """A square; the worker that is given 3 first is killed while it works."""
    if number == 3 and not Path(marker).exists():
        Path(marker).touch()
        os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))  # on Windows every signal ends at once
    return number * number
