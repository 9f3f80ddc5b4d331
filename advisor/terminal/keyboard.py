"""The keyboard of this system: line editing where there is a library for it, and no pasted line that answers a later question."""

from __future__ import annotations

import os
import sys
from functools import cache


@cache
def _edits() -> bool:
    """Whether a library edits the line that takes a paste of several lines as one answer."""
    try:
        import readline
    except ImportError:
        return False
    if "libedit" in (readline.__doc__ or ""):  # the one of macOS knows no such paste
        return False
    readline.parse_and_bind("set enable-bracketed-paste on")
    return True


def ready() -> None:
    """Before each question at a keyboard: what was typed or pasted before it stood there is no answer to it."""
    if _edits():
        return
    if os.name == "nt":
        import msvcrt

        while msvcrt.kbhit():  # type: ignore[attr-defined]
            msvcrt.getwch()  # type: ignore[attr-defined]
        return
    import termios

    try:
        termios.tcflush(sys.stdin.fileno(), termios.TCIFLUSH)
    except (OSError, ValueError, termios.error):  # no keyboard after all
        return
