"""The calls to the operating system through which the bytes of a case pass. No other module of the store makes them.

A test puts others in their place: one that fails, one that takes only half, one that ends the program at its nth call.
"""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path
from typing import IO


def private(path: str, flags: int) -> int:
    """Opens a file that, where it is new, only its owner may read and write."""
    return os.open(path, flags, 0o600)


def write(file: IO[bytes], data: bytes) -> int | None:
    """Hands bytes to the system; it may take fewer, and says how many."""
    return file.write(data)


def sync(handle: int) -> None:
    """Returns when what was written is on the medium."""
    if sys.platform == "darwin":  # its fsync leaves the bytes in the drive's own memory
        import fcntl

        try:
            fcntl.fcntl(handle, fcntl.F_FULLFSYNC)
            return
        except OSError as error:
            if error.errno in (errno.EIO, errno.ENOSPC, errno.EDQUOT):  # the medium refused them, and fsync might not say so
                raise
            # a drive on the network knows only fsync
    os.fsync(handle)


def sync_folder(folder: Path) -> None:
    """Makes a new name in a folder survive a power cut."""
    if os.name == "nt":  # a folder cannot be opened there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def truncate(file: IO[bytes], size: int) -> None:
    """Cuts a file."""
    file.truncate(size)


def replace(source: str | Path, target: Path) -> None:
    """Gives a file a name, whether or not another had it, in one step."""
    os.replace(source, target)


def link(source: str | Path, target: Path) -> None:
    """Gives a file a second name that nobody has. Raises FileExistsError."""
    os.link(source, target)


def remove(path: str | Path) -> None:
    """Takes a name away; one that is not there is gone already."""
    Path(path).unlink(missing_ok=True)
