"""The list of a full folder: quick the second time, and never older than the files."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from advisor.model.case import Closed, Noted, Opened
from advisor.store.folder import CaseStore
from advisor.store.listing import NAME, WORTH_KEEPING

NOON = datetime(2031, 3, 9, 12, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> CaseStore:
    """As many cases as are worth keeping a list of."""
    store = CaseStore(tmp_path)
    for n in range(WORTH_KEEPING):
        store.create(Opened(complaint="reads-low", machine={"title": f"rig {n}"}), "d" * 64, NOON + timedelta(minutes=n)).close()
    return store


def test_a_kept_list_is_the_list_read_anew(store: CaseStore) -> None:
    """Every column comes back as it was, in the same order."""
    first = store.list()
    assert (store.folder / NAME).is_file()
    assert store.list() == first
    (store.folder / NAME).unlink()
    assert store.list() == first


def test_only_cases_that_changed_are_read_again(store: CaseStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """The others are taken from the list that was kept."""
    store.list()
    with store.open(store.ids()[3]) as case:
        case.append(Closed(by="me"), NOON)
    read: list[str] = []
    real = CaseStore.read
    monkeypatch.setattr(CaseStore, "read", lambda self, name, **more: read.append(name) or real(self, name, **more))
    rows = {info.case_id: info for info in store.list()}
    assert read == [store.ids()[3]]
    assert rows[store.ids()[3]].closed
    assert rows[store.ids()[3]].events == 2


def test_an_edit_of_the_same_length_is_read_again(store: CaseStore) -> None:
    """A file that was touched is not taken from the list."""
    store.list()
    path = store.path(store.ids()[0])
    path.write_bytes(path.read_bytes().replace(b"reads-low", b"reads-LOW"))
    os.utime(path, (1, 1))
    assert [info.trouble != "" for info in store.list() if info.case_id == store.ids()[0]] == [True]


@pytest.mark.parametrize("spoilt", [b"", b"{}", b"[1]", b"\xff", b'{"format":1,"cases":{}}', b'{"cases":{"x":{"stamp":[1]}}}'])
def test_a_spoilt_list_is_no_list(store: CaseStore, spoilt: bytes) -> None:
    """The cases are what counts."""
    first = store.list()
    (store.folder / NAME).write_bytes(spoilt)
    assert store.list() == first


def test_a_case_that_went_is_not_listed(store: CaseStore) -> None:
    """Nor is one that came from elsewhere left out."""
    store.list()
    gone = store.ids()[0]
    store.path(gone).unlink()
    with store.create(Opened(complaint="reads-high"), "d" * 64, NOON) as case:
        case.append(Noted(text="x"), NOON)
    listed = {info.case_id for info in store.list()}
    assert gone not in listed
    assert case.stored.case_id in listed


@pytest.fixture
def looked(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The folders that were looked through, once for each time."""
    found: list[Path] = []
    real = CaseStore._entries

    def watched(self: CaseStore) -> tuple[os.DirEntry[str], ...]:
        found.append(self.folder)
        return real(self)

    monkeypatch.setattr(CaseStore, "_entries", watched)
    return found


def test_a_list_looks_through_its_folder_once(store: CaseStore, looked: list[Path]) -> None:
    """However many cases must be read for it: each of them is found by its name."""
    assert len(store.list()) == WORTH_KEEPING
    assert looked == [store.folder]


def test_a_case_named_whole_is_opened_without_a_look_through_the_folder(store: CaseStore, looked: list[Path]) -> None:
    """The newest case and one named by its id are as near in a folder of many thousands as in one of two."""
    name = store.newest()
    assert store.read(name).case_id == name
    with store.open(name) as case:
        case.append(Noted(text="x"), NOON)
    assert store.resolve(f" {name.upper()} ") == name
    assert looked == []
    assert store.resolve(name.partition("-")[2]) == name  # a part of an id needs all the others
    assert looked
