"""The three homes of cases do the same: folder, SQLite and PostgreSQL."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import MORNING
from store.homes import got, put

from advisor.errors import AdvisorError, InputError, StoreError
from advisor.model.case import Noted, Opened
from advisor.store import sync as syncing
from advisor.store.folder import CaseStore
from advisor.store.home import FolderHome, Home, Kept
from advisor.store.listing import WORTH_KEEPING
from advisor.store.sync import Moved, in_step, keep_in_step, sync
from advisor.store.transfer import Taken, complete_lines


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
    return sorted(got(home, k.kept_as) for k in home.kept().kept)


def files(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.glob("*.jsonl")}


def test_a_case_comes_out_as_it_went_in(tmp_path: Path, home: Home) -> None:
    """Byte for byte, with its head, and a second time nothing changes."""
    case_id = case(tmp_path / "a", "first", "zwölf Ω")
    data = got(local(tmp_path / "a"), case_id)
    assert put(home, case_id, data).did == "added"
    assert got(home, case_id) == data
    assert put(home, case_id, data).did == "same"
    (kept,) = home.kept().kept
    assert (kept.kept_as, kept.events) == (case_id, 3)
    assert home.held([kept])
    assert not home.held([Kept(case_id, 3, "0" * 64)])
    assert not home.held([Kept(case_id, 2, kept.head)])


def test_a_case_that_went_on_is_extended(tmp_path: Path, home: Home) -> None:
    """Only the new lines are added; the shorter one that comes late changes nothing."""
    case_id = case(tmp_path / "a", "first")
    short = got(local(tmp_path / "a"), case_id)
    put(home, case_id, short)
    more(tmp_path / "a", case_id, "second", "third")
    long = got(local(tmp_path / "a"), case_id)
    taken = put(home, case_id, long)
    assert (taken.did, taken.events, taken.alike) == ("extended", 4, 2)
    assert put(home, case_id, short).did == "longer-here"
    assert got(home, case_id) == long


def test_a_case_that_went_on_in_two_places_is_kept_as_two(tmp_path: Path, home: Home) -> None:
    """Each continuation stays whole under a name of its own, and it is told where they part."""
    case_id = case(tmp_path / "a", "both")
    put(home, case_id, got(local(tmp_path / "a"), case_id))
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
    lines = got(local(tmp_path / "a"), case_id).splitlines(keepends=True)
    for data in (b"".join(lines)[:-1], lines[0] + lines[2], b"hello\n", b"", b"".join(lines[:2] + lines[3:])):
        with pytest.raises(InputError):
            put(home, case_id, data)
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
@pytest.mark.parametrize("together", [1, 2])
def test_a_sync_that_was_cut_goes_on(
    tmp_path: Path, home: Home, done: bool, together: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wherever it is cut, each side has only whole cases, and the next sync brings the rest once."""
    monkeypatch.setattr("advisor.store.sync.TOGETHER", together)
    for _ in range(3):
        case(tmp_path / "b", "z")
    brought(tmp_path / "b", home)
    for calls in range(8 if together == 1 else 6):
        laptop = tmp_path / f"laptop{calls}"
        for _ in range(3):
            case(laptop, "x", "y")
        with pytest.raises(Cut):
            list(sync(local(laptop), CutOff(home, calls, done=done)))  # type: ignore[arg-type]
        for name in files(laptop):
            CaseStore(laptop).read(name.removesuffix(".jsonl"))
        assert all(data.count(b"\n") in (3, 4) for data in contents(home))
        brought(laptop, home)
        assert contents(local(laptop)) == contents(home)
        assert len(contents(home)) == 3 + 3 * (calls + 1)
        assert brought(laptop, home) == []


def test_cases_that_come_together_are_told_one_by_one(tmp_path: Path, home: Home) -> None:
    """In one load: a new case, one that is there, one that went on, and one that went on otherwise."""
    names = ["there", "went-on", "otherwise"]
    first = {name: case(tmp_path / "a", name) for name in names}
    brought(tmp_path / "a", home)
    brought(tmp_path / "b", home)
    for name in names[1:]:
        more(tmp_path / "a", first[name], "more")
    more(tmp_path / "b", first["otherwise"], "else")
    brought(tmp_path / "b", home)
    new = case(tmp_path / "a", "new")
    load = {name: got(local(tmp_path / "a"), name) for name in (new, *first.values())}
    told = {t.case_id: (t.did, t.kept_as) for t in home.take(load) if isinstance(t, Taken)}
    assert told == {
        new: ("added", new),
        first["there"]: ("same", first["there"]),
        first["went-on"]: ("extended", first["went-on"]),
        first["otherwise"]: ("beside", f"{first['otherwise']}.2"),
    }
    assert len(contents(home)) == 5


def test_a_bad_case_keeps_no_other_out(tmp_path: Path, home: Home) -> None:
    """In one load, the case with a changed line is refused and the others come in."""
    if isinstance(home, FolderHome):
        pytest.skip("a folder is given only what was scanned before")
    names = [case(tmp_path / "a", str(n)) for n in range(3)]
    load = {name: got(local(tmp_path / "a"), name) for name in names}
    load[names[1]] = load[names[1]].replace(b'"text":"1"', b'"text":"9"')
    first, bad, last = home.take(load)
    assert isinstance(bad, InputError)
    assert [t.did for t in (first, last) if isinstance(t, Taken)] == ["added", "added"]
    assert {k.kept_as for k in home.kept().kept} == {names[0], names[2]}


def test_a_damaged_case_is_fetched_again_beside(tmp_path: Path, home: Home) -> None:
    """The damaged file stays as it is and is named; the store's good lines come in under the next name, once."""
    case_id = case(tmp_path / "a", "to be changed", "after")
    brought(tmp_path / "a", home)
    path = CaseStore(tmp_path / "a").path(case_id)
    path.write_bytes(path.read_bytes().replace(b"to be changed", b"was  changed!"))
    assert [row[:2] for row in brought(tmp_path / "a", home)] == [("kept-out", case_id), ("fetched", case_id)]
    assert [row[:2] for row in brought(tmp_path / "a", home)] == [("kept-out", case_id)]
    assert got(local(tmp_path / "a"), f"{case_id}.2") == got(home, case_id)
    assert b"was  changed!" in path.read_bytes()


def test_a_full_folder_is_not_read_again(tmp_path: Path, home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sync reads only the files that changed since the last one, and what was kept of the others may be thrown away."""
    names = [case(tmp_path / "a", str(n)) for n in range(WORTH_KEEPING)]
    brought(tmp_path / "a", home)
    more(tmp_path / "a", names[3], "more")
    read: list[str] = []

    def counted(store: CaseStore, case_id: str) -> bytes:
        read.append(case_id)
        return complete_lines(store, case_id)

    monkeypatch.setattr("advisor.store.home.complete_lines", counted)
    if isinstance(home, FolderHome):
        local(tmp_path / "a").kept()
    else:
        assert brought(tmp_path / "a", home) == [("sent", names[3], "extended")]
    assert set(read) == {names[3]}
    (tmp_path / "a" / ".heads").write_bytes(b"no list")
    assert len(local(tmp_path / "a").kept().kept) == WORTH_KEEPING


def test_only_what_came_since_is_listed(tmp_path: Path, home: Home) -> None:
    """A listing from where the last one ended holds what is new, and nothing is missed."""
    if isinstance(home, FolderHome):
        pytest.skip("a folder is listed whole each time")
    case_id = case(tmp_path / "a", "x")
    put(home, case_id, got(local(tmp_path / "a"), case_id))
    until = home.kept().until
    assert home.kept(until).kept == ()
    other = case(tmp_path / "a", "y")
    put(home, other, got(local(tmp_path / "a"), other))
    assert [k.kept_as for k in home.kept(until).kept] == [other]
    more(tmp_path / "a", case_id, "z")
    put(home, case_id, got(local(tmp_path / "a"), case_id))
    assert {k.kept_as: k.events for k in home.kept(until).kept} == {case_id: 3, other: 2}


def test_a_first_sync_asks_for_all_and_ends_where_the_home_is(tmp_path: Path, home: Home) -> None:
    """Nothing that came before is passed over, and the next one goes on from what the home itself has counted."""
    put(home, case(tmp_path / "a", "one"), contents(local(tmp_path / "a"))[0])
    (tmp_path / "b").mkdir()
    *rows, until = sync(local(tmp_path / "b"), home)
    assert [m.way for m in rows if isinstance(m, Moved)] == ["fetched"]
    assert until == home.kept().until


def test_that_a_folder_was_in_step_is_kept_or_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is read as it was kept; a folder that takes no file says so, and one that is gone has nothing to keep."""
    keep_in_step(tmp_path, "shop", MORNING, 7)
    assert {name: (known.at, known.until) for name, known in in_step(tmp_path).items()} == {"shop": (MORNING, 7)}

    def refuses(path: Path, data: bytes) -> None:
        raise StoreError(f"{path} takes nothing", "Make room.")

    monkeypatch.setattr(syncing, "write_whole", refuses)
    with pytest.raises(StoreError):
        keep_in_step(tmp_path, "shop", MORNING, 8)
    keep_in_step(tmp_path / "gone", "shop", MORNING, 8)
