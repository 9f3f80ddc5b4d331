"""Bytes to the disk so that they are there, whole, after a power cut; every failure of the file system in one line."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from advisor.errors import StoreError
from advisor.store import system


@contextmanager
def reported(doing: str, path: Path) -> Iterator[None]:
    """Tells a failure of the file system in one line."""
    try:
        yield
    except OSError as error:
        raise StoreError(f"cannot {doing} {path}: {error.strerror or error}") from error


def _fill(file: IO[bytes], data: bytes) -> None:
    """Writes all of it and returns when it is on the medium."""
    written = 0
    while written < len(data):
        taken = system.write(file, data[written:])
        if not taken:
            raise OSError(errno.EIO, "the disk is full")
        written += taken
    system.sync(file.fileno())


def write_whole(path: Path, data: bytes) -> None:
    """A new file that is there whole or not at all; the caller holds the lock on its name."""
    fresh = path.with_suffix(".new")
    with reported("write", path):
        try:
            with open(fresh, "wb", buffering=0, opener=system.private) as file:
                _fill(file, data)
            system.replace(fresh, path)
            system.sync_folder(path.parent)
        except BaseException:
            system.remove(fresh)
            raise


Stamp = tuple[int, int, int]  # which file, how long, and when it was changed


def stamp(path: Path) -> Stamp | None:
    """Tells whether a file was touched since; None for one that cannot be looked at."""
    try:
        return stamp_of(path.stat())
    except OSError:
        return None


def stamp_of(found: os.stat_result) -> Stamp:
    """The same for a file that was looked at already."""
    return found.st_ino, found.st_size, found.st_mtime_ns


def append(path: Path, data: bytes, before: bytes, known: Stamp | None) -> Stamp | None:
    """Adds bytes to a file that must hold `before` and nothing else; after a failure it holds that again.

    `known` is the file's stamp when it was seen last: only one that was touched since is read again, whole.
    """
    size = len(before)
    with reported("write", path), open(path, "r+b", buffering=0) as file:
        if known is None or stamp(path) != known or known[1] != size:
            _hold_to(path, file.read(size + 1), before)
        file.seek(size)
        try:
            _fill(file, data)
        except BaseException:
            system.truncate(file, size)
            raise
    return stamp(path)


def _hold_to(path: Path, found: bytes, before: bytes) -> None:
    if found != before:
        raise StoreError(f"{path} was changed by something else while it was open", "Leave the case and resume it.")


def move_tail_aside(path: Path, tail: bytes, size: int) -> Path:
    """Copies a torn last line to a file of its own, then cuts the case file to `size` bytes."""
    number = 1
    while (torn := path.with_suffix(f".torn-{number}")).exists():
        number += 1
    with reported("move a torn line aside in", path.parent):
        with open(torn, "xb", buffering=0, opener=system.private) as file:
            _fill(file, tail)
        system.sync_folder(path.parent)
        with open(path, "r+b", buffering=0) as case_file:
            system.truncate(case_file, size)
            system.sync(case_file.fileno())
    return torn


def new_file(path: Path, data: bytes) -> None:
    """A file that was not there before, for its owner only. Raises FileExistsError, StoreError."""
    try:
        with open(path, "xb", buffering=0, opener=system.private) as file:
            try:
                _fill(file, data)
            except BaseException:
                system.remove(path)
                raise
    except FileExistsError:
        raise
    except OSError as error:
        raise StoreError(f"cannot write {path}: {error.strerror or error}", "Choose another file.") from error


def whole_file(path: Path, data: bytes, *, replace: bool, mode: int = 0o600) -> None:
    """A file that is there whole or not at all; its temporary name cannot be foreseen.

    Without `replace` a file that is there stays as it is. Raises FileExistsError, OSError.
    """
    handle, fresh = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb", buffering=0) as file:
            _fill(file, data)
        if mode != 0o600:
            os.chmod(fresh, mode)
        if replace:
            system.replace(fresh, path)
            return
        try:
            system.link(fresh, path)  # fails when the name was taken a moment ago
        except FileExistsError:
            raise
        except OSError:  # a stick without links
            if path.exists():
                raise FileExistsError(path) from None
            system.replace(fresh, path)
    finally:
        system.remove(fresh)
