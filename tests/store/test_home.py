"""The three homes of cases do the same: folder, SQLite and PostgreSQL."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import MORNING

from advisor.errors import AdvisorError, InputError
from advisor.model.case import Noted, Opened
from advisor.store.folder import CaseStore
from advisor.store.home import FolderHome, Home, Kept
from advisor.store.sync import Moved, sync


def case(folder: Path, *texts: str) -> str:
    with CaseStore(folder).create(Opened(complaint="reads-low"), "d1" * 32, MORNING) as opened:
        for text in texts:
            opened.append(Noted(text=text), MORNING)
        return opened.stored.case_id


def more(folder: Path, case_id: str, *texts: str) -> None:
    with CaseStore(folder).open(case_id) as opened:
        for text in texts:
            opened.append(Noted(text=text), MORNING)


def local(folder: Path) -> FolderHome:
    return FolderHome(CaseStore(folder))


def brought(here: Path, there: Home, since: int = 0) -> list[tuple[str, str, str]]:
    """What a sync does: which way, which case, and what became of it."""
    moved = [m for m in sync(local(here), there, since) if isinstance(m, Moved)]
    return [(m.way, m.case_id, m.taken.did if m.taken else m.why) for m in moved]


def contents(home: Home) -> list[bytes]:
    """Every case by its lines: two laptops may give one day's id to two cases, and each side then names the second as it came."""
    return sorted(home.lines(k.kept_as) for k in home.kept().kept)


def files(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.glob("*.jsonl")}


def test_a_case_comes_out_as_it_went_in(tmp_path: Path, home: Home) -> None:
    """Byte for byte, with its head, and a second time nothing changes."""
    case_id = case(tmp_path / "a", "first", "zwölf Ω")
    data = local(tmp_path / "a").lines(case_id)
    assert home.take(case_id, data).did == "added"
    assert home.lines(case_id) == data
    assert home.take(case_id, data).did == "same"
    (kept,) = home.kept().kept
    assert (kept.kept_as, kept.events) == (case_id, 3)
    assert home.holds(kept)
    assert not home.holds(Kept(case_id, 3, "0" * 64))
    assert not home.holds(Kept(case_id, 2, kept.head))


def test_a_case_that_went_on_is_extended(tmp_path: Path, home: Home) -> None:
    """Only the new lines are added; the shorter one that comes late changes nothing."""
    case_id = case(tmp_path / "a", "first")
    short = local(tmp_path / "a").lines(case_id)
    home.take(case_id, short)
    more(tmp_path / "a", case_id, "second", "third")
    long = local(tmp_path / "a").lines(case_id)
    taken = home.take(case_id, long)
    assert (taken.did, taken.events, taken.alike) == ("extended", 4, 2)
    assert home.take(case_id, short).did == "longer-here"
    assert home.lines(case_id) == long


def test_a_case_that_went_on_in_two_places_is_kept_as_two(tmp_path: Path, home: Home) -> None:
    """Each continuation stays whole under a name of its own, and it is told where they part."""
    case_id = case(tmp_path / "a", "both")
    home.take(case_id, local(tmp_path / "a").lines(case_id))
    brought(tmp_path / "b", home)
    more(tmp_path / "a", case_id, "mine")
    more(tmp_path / "b", case_id, "yours", "more of yours")
    assert brought(tmp_path / "a", home) == [("sent", case_id, "extended")]
    assert brought(tmp_path / "b", home) == [("sent", case_id, "beside"), ("fetched", case_id, "beside")]
    assert brought(tmp_path / "a", home) == [("fetched", f"{case_id}.2", "beside")]
    mine, yours = files(tmp_path / "a"), files(tmp_path / "b")
    assert sorted(mine.values()) == sorted(yours.values())
    assert len(mine) == 2
    for folder in (tmp_path / "a", tmp_path / "b"):
        assert brought(folder, home) == []


def test_syncing_again_moves_nothing(tmp_path: Path, home: Home) -> None:
    """After one sync of each, every laptop and the store hold every case, and nothing goes over any more."""
    for name in ("a", "b", "c") * 2:
        case(tmp_path / name, name)
    made = sorted(data for name in ("a", "b", "c") for data in contents(local(tmp_path / name)))
    assert len(made) == 6
    for name in ("a", "b", "c", "a", "b"):
        brought(tmp_path / name, home)
    assert contents(home) == made
    for name in ("a", "b", "c"):
        assert contents(local(tmp_path / name)) == made
        assert brought(tmp_path / name, home) == []


def test_a_line_that_was_changed_is_kept_out_and_named(tmp_path: Path, home: Home) -> None:
    """A damaged file is not sent, the others are, and the message says which line it is."""
    bad, good = case(tmp_path / "a", "to be changed", "after"), case(tmp_path / "a", "well")
    path = CaseStore(tmp_path / "a").path(bad)
    path.write_bytes(path.read_bytes().replace(b"to be changed", b"was  changed!"))
    rows = brought(tmp_path / "a", home)
    assert [r[:2] for r in rows] == [("kept-out", bad), ("sent", good)]
    assert f"{path}:3:1: this line was changed after it was written" in rows[0][2]
    assert [k.kept_as for k in home.kept().kept] == [good]


def test_lines_that_are_no_case_are_refused(tmp_path: Path, home: Home) -> None:
    """A cut line, a line taken out, and a foreign file never come in."""
    if isinstance(home, FolderHome):
        pytest.skip("a folder is given only what was scanned before")
    case_id = case(tmp_path / "a", "one", "two")
    lines = local(tmp_path / "a").lines(case_id).splitlines(keepends=True)
    for data in (b"".join(lines)[:-1], lines[0] + lines[2], b"hello\n", b"", b"".join(lines[:2] + lines[3:])):
        with pytest.raises(InputError):
            home.take(case_id, data)
    assert home.kept().kept == ()


def test_a_case_open_in_another_window_waits(tmp_path: Path, home: Home) -> None:
    """It is not written to while it is open, and the next sync takes it in, though the store has nothing new by then."""
    case_id = case(tmp_path / "a", "first")
    brought(tmp_path / "a", home)
    first = [m for m in sync(local(tmp_path / "b"), home) if isinstance(m, int)][-1]
    more(tmp_path / "a", case_id, "second")
    brought(tmp_path / "a", home)
    with CaseStore(tmp_path / "b").open(case_id):
        *rows, until = list(sync(local(tmp_path / "b"), home, first))
    assert [m.taken.did for m in rows if isinstance(m, Moved) and m.taken] == ["locked"]
    assert isinstance(until, int)
    assert brought(tmp_path / "b", home, until) == [("fetched", case_id, "extended")]


class Cut(AdvisorError):
    """The connection is gone."""


class CutOff:
    """A home whose connection breaks after so many calls, before or after the work was done."""

    def __init__(self, home: Home, calls: int, *, done: bool) -> None:
        self._home, self._left, self._done = home, calls, done

    @property
    def name(self) -> str:
        return self._home.name

    def __getattr__(self, name: str) -> object:
        method = getattr(self._home, name)

        def call(*arguments: object) -> object:
            self._left -= 1
            if self._left < 0 and not self._done:
                raise Cut("cut")
            found = method(*arguments)
            if self._left < 0:
                raise Cut("cut")
            return found

        return call


@pytest.mark.parametrize("done", [False, True])
def test_a_sync_that_was_cut_goes_on(tmp_path: Path, home: Home, done: bool) -> None:
    """Wherever it is cut, each side has only whole cases, and the next sync brings the rest once."""
    for _ in range(3):
        case(tmp_path / "a", "x", "y")
        case(tmp_path / "b", "z")
    every = sorted([*contents(local(tmp_path / "a")), *contents(local(tmp_path / "b"))])
    brought(tmp_path / "b", home)
    for calls in range(12):
        with pytest.raises(Cut):
            list(sync(local(tmp_path / "a"), CutOff(home, min(calls, 6), done=done)))  # type: ignore[arg-type]
        if calls > 6:
            break
        for name in files(tmp_path / "a"):
            CaseStore(tmp_path / "a").read(name.removesuffix(".jsonl"))
    brought(tmp_path / "a", home)
    assert contents(home) == every
    assert contents(local(tmp_path / "a")) == every
    assert brought(tmp_path / "a", home) == []


def test_only_what_came_since_is_listed(tmp_path: Path, home: Home) -> None:
    """A listing from where the last one ended holds what is new, and nothing is missed."""
    if isinstance(home, FolderHome):
        pytest.skip("a folder is listed whole each time")
    case_id = case(tmp_path / "a", "x")
    home.take(case_id, local(tmp_path / "a").lines(case_id))
    until = home.kept().until
    assert home.kept(until).kept == ()
    other = case(tmp_path / "a", "y")
    home.take(other, local(tmp_path / "a").lines(other))
    assert [k.kept_as for k in home.kept(until).kept] == [other]
    more(tmp_path / "a", case_id, "z")
    home.take(case_id, local(tmp_path / "a").lines(case_id))
    assert {k.kept_as: k.events for k in home.kept(until).kept} == {case_id: 3, other: 2}
