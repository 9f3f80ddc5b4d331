"""Bytes to the disk so that they are there, whole, after a power cut; every failure of the file system in one line."""

from __future__ import annotations

import errno
import io
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from advisor.errors import StoreError


@contextmanager
def reported(doing: str, path: Path) -> Iterator[None]:
    """Tells a failure of the file system in one line."""
    try:
        yield
    except OSError as error:
        raise StoreError(f"cannot {doing} {path}: {error.strerror or error}") from error


def _private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def sync_folder(folder: Path) -> None:
    """Makes a new name in a folder survive a power cut."""
    if os.name == "nt":  # a folder cannot be opened there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_whole(path: Path, data: bytes) -> None:
    """A new file that is there whole or not at all; the caller holds the lock on its name."""
    fresh = path.with_suffix(".new")
    with reported("write", path):
        try:
            with open(fresh, "wb", opener=_private) as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.replace(fresh, path)
            sync_folder(path.parent)
        except BaseException:
            fresh.unlink(missing_ok=True)
            raise


Stamp = tuple[int, int, int]  # which file, how long, and when it was changed


def stamp(path: Path) -> Stamp | None:
    """Tells whether a file was touched since; None for one that cannot be looked at."""
    try:
        found = path.stat()
    except OSError:
        return None
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
            _write_all(file, data)
            os.fsync(file.fileno())
        except BaseException:
            file.truncate(size)
            raise
    return stamp(path)


def _hold_to(path: Path, found: bytes, before: bytes) -> None:
    if found != before:
        raise StoreError(f"{path} was changed by something else while it was open", "Leave the case and resume it.")


def _write_all(file: io.FileIO, data: bytes) -> None:
    written = 0
    while written < len(data):
        taken = file.write(data[written:])
        if not taken:
            raise OSError(errno.EIO, "the disk takes no more bytes")
        written += taken


def move_tail_aside(path: Path, tail: bytes, size: int) -> Path:
    """Copies a torn last line to a file of its own, then cuts the case file to `size` bytes."""
    number = 1
    while (torn := path.with_suffix(f".torn-{number}")).exists():
        number += 1
    with reported("move a torn line aside in", path.parent):
        with open(torn, "xb", opener=_private) as file:
            file.write(tail)
            file.flush()
            os.fsync(file.fileno())
        sync_folder(path.parent)
        with open(path, "r+b") as case_file:
            case_file.truncate(size)
            os.fsync(case_file.fileno())
    return torn


def new_file(path: Path, data: bytes) -> None:
    """A file that was not there before, for its owner only. Raises FileExistsError, StoreError."""
    try:
        with open(path, "xb", opener=_private) as file:
            try:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            except BaseException:
                path.unlink()
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
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if mode != 0o600:
            os.chmod(fresh, mode)
        if replace:
            os.replace(fresh, path)
            return
        try:
            os.link(fresh, path)  # fails when the name was taken a moment ago
        except FileExistsError:
            raise
        except OSError:  # a stick without links
            if path.exists():
                raise FileExistsError(path) from None
            os.replace(fresh, path)
    finally:
        with suppress(FileNotFoundError):
            os.unlink(fresh)
