"""Every failure the program knows how to explain.

    AdvisorError                what went wrong, where, and what to do about it
    ├── UsageError              the command line asks for something that cannot be
    ├── NotFound                no such case, file, id or folder
    ├── KnowledgeError          the knowledge folder does not load; holds all its Problems
    ├── InputError              a machine, scenario or answer file, or an answer typed, is not usable
    ├── CaseLocked              another process has the case open
    ├── CaseDamaged             a complete line of a case file is not what was written
    ├── CaseNewer               the case was written by a newer format
    └── StoreError              the data folder cannot be read or written

The command line turns each into one line that says what and where, one that says what to do, and an exit code.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum

from advisor.plain import one_line


class ExitCode(IntEnum):
    """Exit codes that scripts rely on."""

    OK = 0
    FAILURE = 1
    USAGE = 2
    NOT_FOUND = 3
    LOCKED = 4
    PAUSED = 5
    INTERRUPTED = 130


@dataclass(frozen=True, order=True)
class Location:
    """A place in a file; line and column count from 1."""

    path: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        if not self.line:
            return self.path
        return f"{self.path}:{self.line}:{self.column}"


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong in a file: where, what, and the nearest right thing."""

    location: Location
    what: str
    hint: str = ""

    def __str__(self) -> str:
        return f"{self.location}: {self.what}" + (f"; {self.hint}" if self.hint else "")


class AdvisorError(Exception):
    """A failure the program can explain; `hint` says what to do next."""

    exit_code = ExitCode.FAILURE
    default_hint = ""

    def __init__(self, what: str, hint: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.hint = hint or self.default_hint


class EndOfInput(Exception):
    """The input ended: the case is paused."""


class UsageError(AdvisorError):
    exit_code = ExitCode.USAGE


class NotFound(AdvisorError):
    exit_code = ExitCode.NOT_FOUND


class InputError(AdvisorError):
    """Bad input with every problem found in it."""

    def __init__(self, what: str, hint: str = "", problems: tuple[Problem, ...] = ()) -> None:
        super().__init__(what, hint)
        self.problems = problems


class KnowledgeError(InputError):
    default_hint = "Correct the lines named, then run: advisor knowledge check"


class CaseLocked(AdvisorError):
    exit_code = ExitCode.LOCKED
    default_hint = "Close the other window that works on this case, then try again."


class CaseDamaged(AdvisorError):
    default_hint = "Keep the file as it is and copy it; nothing was changed."


class CaseNewer(AdvisorError):
    default_hint = "Install the newer advisor that wrote it; nothing was changed."


class StoreError(AdvisorError):
    default_hint = "Choose another folder with --data-dir."


LONGEST_NAME = 200  # letters of what is compared with names
LONGEST_QUOTE = 60


def short(text: object) -> str:
    """What somebody typed, for quoting it in an error: in one line and not for ever."""
    line = " ".join(one_line(str(text)).split())
    return line if len(line) <= LONGEST_QUOTE else line[:LONGEST_QUOTE] + "..."


def nearest(word: object, known: Iterable[str]) -> str:
    """The hint that names the nearest known word, or a few of them when none is near."""
    names = sorted(set(known))
    close = difflib.get_close_matches(str(word)[:LONGEST_NAME], names, n=1, cutoff=0.5)
    if close:
        return f"did you mean '{close[0]}'?"
    if not names:
        return ""
    return "known: " + ", ".join(names[:8]) + (", ..." if len(names) > 8 else "")
