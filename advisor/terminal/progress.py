"""How far long work has come: one line on standard error after two seconds, on a terminal only, and gone when it is done."""

from __future__ import annotations

import sys
import threading
import time
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any, TextIO

from advisor.plain import one_line

FIRST_SECONDS, NEXT_SECONDS = 2.0, 10.0  # until the first sign of progress, and between one plain line and the next


@dataclass
class Progress:
    """Shows that something goes on, and how much is left where the `whole` is known. Used with `with`; nothing waits for it."""

    what: str  # "Checking the knowledge"
    whole: int = 0  # of parts; 0: not known
    parts: str = ""  # "field cases"
    stream: TextIO = field(default_factory=lambda: sys.stderr)
    spoken: bool = False  # plain lines, for a screen reader and for a terminal that cannot draw over a line
    first: float = FIRST_SECONDS
    done: int = 0
    _began: float = 0.0
    _said: float = 0.0
    _timer: threading.Timer | None = None
    _shown: Any = None
    _lock: Any = field(default_factory=threading.RLock)
    _over: bool = False

    def __enter__(self) -> Progress:
        self._began = time.monotonic()
        if self.stream.isatty():
            self._wait()
        else:
            self._over = True
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._over = True
        self.clear()

    def __call__(self, done: int, what: str = "") -> None:
        """So many parts are done; `what` is what comes now."""
        with self._lock:
            self.done, self.what = done, what or self.what
            if self._shown is not None:
                self._shown.update(self._shown.task_ids[0], completed=done, description=self._words())
            elif self.spoken and self._said and time.monotonic() - self._said >= NEXT_SECONDS:
                self._say()

    def clear(self) -> None:
        """Takes the line away, for something else is printed; it comes back after a while."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
                self._timer = None
            if self._shown is not None:
                self._shown.stop()
                self._shown = None
            if not self._over:
                self._wait()

    def _wait(self) -> None:
        self._timer = threading.Timer(self.first, self._show)
        self._timer.daemon = True
        self._timer.start()

    def _show(self) -> None:
        with self._lock:
            if self._over or self._shown is not None:
                return
            if self.spoken:
                self._say()
                return
            self._shown = _drawn(self.stream, self._words(), self.whole, self.done)

    def _words(self) -> str:
        return one_line(f"{self.what}, {self.whole} {self.parts}" if self.whole and self.parts else self.what)

    def _say(self) -> None:
        """One plain line."""
        self._said = time.monotonic()
        left = ""
        if self.whole and self.done:
            to_go = (self._said - self._began) * (self.whole - self.done) / self.done
            left = f" {self.done} of {self.whole} {self.parts}".rstrip() + f" done, about {lasting(to_go)} to go."
        self.stream.write(f"{one_line(self.what)}. Please wait.{left}\n")
        self.stream.flush()


def _drawn(stream: TextIO, words: str, whole: int, done: int) -> Any:
    """One line that rich keeps up to date, and takes away at the end."""
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        SpinnerColumn,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    console = Console(file=stream, highlight=False, markup=False, emoji=False)
    known = (BarColumn(bar_width=12), MofNCompleteColumn(), TimeRemainingColumn()) if whole else (TimeElapsedColumn(),)
    shown = Progress(
        SpinnerColumn(spinner_name="line"), TextColumn("{task.description}", markup=False), *known,
        console=console, transient=True, redirect_stdout=False, redirect_stderr=False, refresh_per_second=4,
    )  # fmt: skip
    shown.add_task(words, total=whole or None, completed=done)
    shown.start()
    return shown


def lasting(seconds: float) -> str:
    """How long something takes, in a few words."""
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"
