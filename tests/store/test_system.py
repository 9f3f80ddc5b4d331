"""The calls to a system that this one is not: what they ask of it, and what a refusal means."""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from builders import MORNING

from advisor.model.case import Noted, Opened
from advisor.store import disk, system
from advisor.store.disk import new_file, whole_file
from advisor.store.folder import CaseStore


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The calls that would bring bytes to the medium, in their order."""
    found: list[str] = []
    monkeypatch.setattr(os, "fsync", lambda handle: found.append("fsync"))
    return found


def mac(monkeypatch: pytest.MonkeyPatch, calls: list[str], refuses: int | None) -> None:
    """A macOS whose call for a full sync does its work, or refuses it."""

    def fcntl(handle: int, command: int) -> None:
        calls.append(f"fcntl {command}")
        if refuses is not None:
            raise OSError(refuses, os.strerror(refuses))

    monkeypatch.setattr(sys, "platform", "darwin")
    monkeypatch.setitem(sys.modules, "fcntl", SimpleNamespace(F_FULLFSYNC=51, fcntl=fcntl))


def test_macos_is_asked_for_a_full_sync(monkeypatch: pytest.MonkeyPatch, calls: list[str]) -> None:
    """Its fsync leaves the bytes in the drive's own memory."""
    mac(monkeypatch, calls, None)
    system.sync(1)
    assert calls == ["fcntl 51"]


@pytest.mark.parametrize("refuses", [errno.ENOTSUP, errno.EINVAL, errno.ENOTTY])
def test_a_drive_that_knows_no_full_sync_gets_a_plain_one(refuses: int, monkeypatch: pytest.MonkeyPatch, calls: list[str]) -> None:
    """Such as one on the network."""
    mac(monkeypatch, calls, refuses)
    system.sync(1)
    assert calls == ["fcntl 51", "fsync"]


@pytest.mark.parametrize("refuses", [errno.EIO, errno.ENOSPC])
def test_a_medium_that_refuses_the_bytes_is_not_asked_a_second_time(
    refuses: int, monkeypatch: pytest.MonkeyPatch, calls: list[str]
) -> None:
    """A plain sync may say yes to bytes that are lost."""
    mac(monkeypatch, calls, refuses)
    with pytest.raises(OSError, match=os.strerror(refuses)):
        system.sync(1)
    assert calls == ["fcntl 51"]


def test_windows_is_not_asked_to_sync_a_folder(monkeypatch: pytest.MonkeyPatch, calls: list[str], tmp_path: Path) -> None:
    """A folder cannot be opened there."""
    system.sync_folder(tmp_path)
    assert calls == ["fsync"]
    with monkeypatch.context() as windows:
        windows.setattr(os, "name", "nt")
        system.sync_folder(tmp_path)
    assert calls == ["fsync"]


def test_a_stick_without_links_still_takes_a_file_and_replaces_none(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Old file systems have no second names."""

    def refused(source: object, target: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(system, "link", refused)
    whole_file(tmp_path / "a", b"one", replace=False)
    with pytest.raises(FileExistsError):
        whole_file(tmp_path / "a", b"two", replace=False)
    assert (tmp_path / "a").read_bytes() == b"one"
    assert [p.name for p in tmp_path.iterdir()] == ["a"]


def test_a_case_that_nobody_touched_is_not_read_again(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Each answer costs one write, however long the case is; a file that was touched is held to what it must hold."""
    held: list[int] = []
    monkeypatch.setattr(disk, "_hold_to", lambda path, found, before: held.append(len(found)))
    with CaseStore(tmp_path).create(Opened(complaint="reads-low"), "d" * 64, MORNING) as case:
        for number in range(3):
            case.append(Noted(text=str(number)), MORNING)
        assert held == []
        size = len(case.data)
        os.utime(case.stored.path, ns=(1, 1))
        case.append(Noted(text="3"), MORNING)
        assert held == [size]


def test_a_new_file_is_never_one_that_is_there(tmp_path: Path) -> None:
    """And only its owner reads it."""
    new_file(tmp_path / "a", b"one")
    with pytest.raises(FileExistsError):
        new_file(tmp_path / "a", b"two")
    assert (tmp_path / "a").read_bytes() == b"one"
    assert os.name == "nt" or (tmp_path / "a").stat().st_mode & 0o077 == 0
