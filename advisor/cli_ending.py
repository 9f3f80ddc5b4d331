"""How a command line ends: its streams, its exit code, and every failure in two lines."""

from __future__ import annotations

import io
import os
import sys
from contextlib import suppress
from typing import Any

import typer

from advisor.commands.own import with_own_numbers
from advisor.errors import AdvisorError, ExitCode, InputError, StoreError
from advisor.plain import one_line


def left(leave: typer.Exit) -> int:
    """The exit code of a command that ended; another one when its output could not be written."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        forsake(sys.stdout)
        return int(ExitCode.FAILURE)
    except OSError as error:
        return explain(told(error))
    return int(leave.exit_code)


def prepare_streams() -> None:
    """Streams that take every character, and stand even where the process was started without them."""
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - open as long as the process lives
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def told(error: OSError) -> AdvisorError:
    """A failure of the system that no command explains better."""
    where = f"{error.filename}: " if error.filename is not None else "the output could not be written: "
    if error.filename is None:
        forsake(sys.stdout)
    return StoreError(f"{where}{error.strerror or error}", "Nothing that was saved is lost. Make room, or choose another place.")


def forsake(stream: Any) -> None:
    """Sends what is still to be written nowhere: Python would try again at its end, and fail again."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _shown(text: str) -> str:
    return with_own_numbers(one_line(text))


def explain(error: AdvisorError) -> int:
    """Says in two lines what was wrong and what to do, and gives the exit code."""
    if isinstance(error, InputError):
        for problem in error.problems:
            typer.echo(_shown(str(problem)), err=True)
    typer.echo(_shown(f"advisor: {error.what}"), err=True)
    if error.hint:
        typer.echo(_shown(error.hint), err=True)
    return int(error.exit_code)
