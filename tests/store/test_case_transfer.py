"""Cases carried to another computer: nothing is lost, nothing is written over, and no archive can do harm."""

from __future__ import annotations

import io
import json
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import AdvisorError, CaseNewer, InputError, NotFound, UsageError
from advisor.model.case import Noted, Opened
from advisor.store import transfer
from advisor.store.folder import CaseStore
from advisor.store.transfer import Taken, send, take_in, unpack

NOON = datetime(2031, 3, 9, 12, 0, tzinfo=UTC)
notes = st.lists(st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=8), max_size=4)


@contextmanager
def folders() -> Iterator[Path]:
    """A folder for one example of a property."""
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


def begun(store: CaseStore, *texts: str) -> str:
    with store.create(Opened(complaint="reads-low"), "d1" * 32, NOON) as case:
        case_id = case.stored.case_id
    return noted(store, case_id, *texts)


def noted(store: CaseStore, case_id: str, *texts: str) -> str:
    with store.open(case_id) as case:
        for text in texts:
            case.append(Noted(text=text), NOON)
    return case_id


def files(store: CaseStore) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted(store.folder.glob("*.jsonl"))}


def carried(source: CaseStore, target: CaseStore, file: Path) -> list[Taken]:
    """Everything of one folder packed and taken in by the other."""
    file.unlink(missing_ok=True)
    send(source, file, source.ids())
    return list(take_in(target, unpack(file)))


@pytest.fixture
def here(tmp_path: Path) -> CaseStore:
    return CaseStore(tmp_path / "here")


@pytest.fixture
def there(tmp_path: Path) -> CaseStore:
    return CaseStore(tmp_path / "there")


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    return tmp_path / "cases.zip"


@settings(max_examples=25, deadline=None)
@given(st.lists(notes, min_size=1, max_size=4))
def test_what_arrives_is_what_was_sent(cases: list[list[str]]) -> None:
    """Packed and taken in elsewhere, every case file is the same byte for byte; a second time nothing changes."""
    with folders() as folder:
        source, target = CaseStore(folder / "a"), CaseStore(folder / "b")
        for texts in cases:
            begun(source, *texts)
        first = carried(source, target, folder / "x.zip")
        assert files(target) == files(source)
        assert {t.did for t in first} == {"added"}
        again = carried(source, target, folder / "x.zip")
        assert {t.did for t in again} == {"same"}
        assert files(target) == files(source)


@settings(max_examples=40, deadline=None)
@given(notes, notes, notes)
def test_two_continuations_are_both_kept(common: list[str], mine: list[str], yours: list[str]) -> None:
    """Carried either way, every line that either computer wrote is there afterwards, and carrying again changes nothing."""
    with folders() as folder:
        a, b = CaseStore(folder / "a"), CaseStore(folder / "b")
        case_id = begun(a, *common)
        carried(a, b, folder / "x.zip")
        noted(a, case_id, *mine)
        noted(b, case_id, *yours)
        ours, theirs = a.path(case_id).read_bytes(), b.path(case_id).read_bytes()
        carried(a, b, folder / "x.zip")
        held = files(b)
        for whole in (ours, theirs):
            assert any(data.startswith(whole) for data in held.values())
        for name in held:
            assert b.verify(name.removesuffix(".jsonl")).problem is None
        assert len(held) == (1 if ours.startswith(theirs) or theirs.startswith(ours) else 2)
        carried(a, b, folder / "x.zip")
        assert files(b) == held
        carried(b, a, folder / "x.zip")
        assert sorted(files(a).values()) == sorted(held.values())


def test_a_case_that_diverged_is_kept_beside_and_goes_on_there(here: CaseStore, there: CaseStore, archive: Path) -> None:
    """The other continuation gets a number, is told by where they part, and can be resumed, verified and extended."""
    case_id = begun(here, "both")
    carried(here, there, archive)
    noted(here, case_id, "mine")
    noted(there, case_id, "yours")
    (taken,) = carried(here, there, archive)
    assert taken == Taken(case_id, f"{case_id}.2", "beside", 3, alike=2)
    assert there.path(case_id).read_bytes() != here.path(case_id).read_bytes() == there.path(f"{case_id}.2").read_bytes()
    assert there.resolve(case_id) == case_id
    assert {i.case_id for i in there.list() if not i.trouble} == {case_id, f"{case_id}.2"}
    noted(here, case_id, "more of mine")
    (taken,) = carried(here, there, archive)
    assert (taken.kept_as, taken.did, taken.alike, taken.events) == (f"{case_id}.2", "extended", 3, 4)
    noted(there, f"{case_id}.2", "and further")
    assert there.verify(f"{case_id}.2").problem is None


def test_a_third_continuation_gets_the_next_number(here: CaseStore, there: CaseStore, tmp_path: Path, archive: Path) -> None:
    """Each continuation has a file of its own."""
    case_id = begun(here, "both")
    third = CaseStore(tmp_path / "third")
    for store in (there, third):
        carried(here, store, archive)
    for store, text in ((here, "a"), (there, "b"), (third, "c")):
        noted(store, case_id, text)
    carried(here, there, archive)
    (taken,) = carried(third, there, archive)
    assert taken.kept_as == f"{case_id}.3"
    assert len(files(there)) == 3


def test_another_case_of_the_same_name_is_kept_beside(here: CaseStore, there: CaseStore, archive: Path) -> None:
    """Two computers can give two cases the same name; they have nothing alike, and both stay."""
    case_id = begun(here, "pump")
    other = Opened(complaint="reads-high")
    with there.create(other, "d1" * 32, NOON) as case:
        own = case.stored.path.read_bytes().replace(case.stored.case_id.encode(), case_id.encode())
        lines = own.splitlines()
        case.stored.path.unlink()
    event = json.loads(lines[1])
    del event["own"]
    event["previous"] = sha256(lines[0]).hexdigest()
    there.path(case_id).write_bytes(lines[0] + b"\n" + json.dumps(event, separators=(",", ":")).encode() + b"\n")
    (taken,) = carried(here, there, archive)
    assert (taken.kept_as, taken.did, taken.alike) == (f"{case_id}.2", "beside", 0)
    assert there.read(case_id).case.events[0] == other.model_copy(update={"at": NOON})


def test_a_case_that_is_open_is_left_alone(here: CaseStore, there: CaseStore, archive: Path) -> None:
    """What came for a case that another window works on waits; the other cases are taken in."""
    case_id, other = begun(here, "x"), begun(here)
    carried(here, there, archive)
    noted(here, case_id, "y")
    noted(here, other, "z")
    before = there.path(case_id).read_bytes()
    with there.open(case_id) as open_case:
        did = {t.case_id: t.did for t in carried(here, there, archive)}
        assert did == {case_id: "locked", other: "extended"}
        assert there.path(case_id).read_bytes() == before
        open_case.append(Noted(text="still mine"), NOON)
    assert there.verify(case_id).problem is None


def test_a_torn_line_is_moved_aside_before_a_case_is_extended(here: CaseStore, there: CaseStore, archive: Path) -> None:
    """What a power cut left behind is kept in a file of its own, and the lines that came follow the whole ones."""
    case_id = begun(here)
    carried(here, there, archive)
    noted(here, case_id, "later")
    with there.path(case_id).open("ab") as file:
        file.write(b'{"num')
    carried(here, there, archive)
    assert there.path(case_id).read_bytes() == here.path(case_id).read_bytes()
    assert [p.read_bytes() for p in there.folder.glob("*.torn-*")] == [b'{"num']


def test_a_damaged_case_here_is_not_touched(here: CaseStore, there: CaseStore, archive: Path) -> None:
    """A damaged file stays as it is; the whole one is kept beside it."""
    case_id = begun(here, "x")
    there.make()
    there.path(case_id).write_bytes(b"rubbish\n")
    (taken,) = carried(here, there, archive)
    assert taken.kept_as == f"{case_id}.2"
    assert there.path(case_id).read_bytes() == b"rubbish\n"


def test_a_damaged_case_is_left_out_and_named(here: CaseStore, archive: Path) -> None:
    """What cannot be read is not packed; the others are, and a torn last line stays behind."""
    good, bad = begun(here, "x"), begun(here)
    whole = here.path(good).read_bytes()
    here.path(good).write_bytes(whole + b'{"num')
    here.path(bad).write_bytes(b"rubbish\n")
    sent = send(here, archive, here.ids())
    assert sent.cases == (good,)
    assert [case_id for case_id, _ in sent.left_out] == [bad]
    assert unpack(archive) == {good: whole}


def test_nothing_is_written_over(here: CaseStore, archive: Path) -> None:
    """A file that is there already stays."""
    begun(here)
    archive.write_text("holiday pictures")
    with pytest.raises(UsageError, match="is there already"):
        send(here, archive, here.ids())
    assert archive.read_text() == "holiday pictures"


def test_the_same_cases_make_the_same_archive(here: CaseStore, tmp_path: Path) -> None:
    """Nothing of the hour or the computer gets into the file."""
    begun(here, "x")
    for name in ("a.zip", "b.zip"):
        send(here, tmp_path / name, here.ids())
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def packed(*entries: tuple[str | zipfile.ZipInfo, bytes], manifest: bytes | None = None) -> bytes:
    """An archive made by somebody else."""
    listed = [{"file": n if isinstance(n, str) else n.filename, "sha256": sha256(d).hexdigest()} for n, d in entries]
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("manifest.json", manifest or json.dumps({"format": 1, "cases": listed}))
        for name, data in entries:
            file.writestr(name, data)
    return whole.getvalue()


def link(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name)
    entry.external_attr = 0o120777 << 16
    return entry


BAD: list[tuple[str, Callable[[bytes, str], bytes], str]] = [
    ("empty", lambda good, name: b"", "not a whole archive"),
    ("no zip", lambda good, name: b"words\n" * 90, "not a whole archive"),
    ("cut short", lambda good, name: packed((name, good))[:-30], "not a whole archive"),
    ("no list", lambda good, name: packed((name, good), manifest=b"[]"), "no list"),
    ("newer list", lambda good, name: packed(manifest=b'{"format":2,"cases":[]}'), "no list"),
    ("case not there", lambda good, name: packed(manifest=b'{"format":1,"cases":[{"file":"x","sha256":""}]}'), "does not hold"),
    ("case not listed", lambda good, name: packed((name, good), manifest=b'{"format":1,"cases":[]}'), "does not hold"),
    ("out of the folder", lambda good, name: packed(("../" + name, good)), "no case file"),
    ("from the root", lambda good, name: packed(("/tmp/" + name, good)), "no case file"),
    ("another drive", lambda good, name: packed(("c:\\" + name, good)), "no case file"),
    ("a folder", lambda good, name: packed(("x/", b"")), "no case file"),
    ("a lock", lambda good, name: packed(("20310309-a2.lock", b"")), "no case file"),
    ("a link", lambda good, name: packed((link(name), b"/etc/passwd")), "no case file"),
    ("another name", lambda good, name: packed(("20310309-z9.jsonl", good)), "the file holds case"),
    ("broken chain", lambda good, name: packed((name, good.replace(b"pump", b"lump"))), "was changed"),
    ("half a line", lambda good, name: packed((name, good + b"{")), "not complete"),
    ("too large", lambda good, name: packed((name, bytes(17 * 2**20))), "larger than any case"),
]


@pytest.mark.parametrize(("make", "says"), [b[1:] for b in BAD], ids=[b[0] for b in BAD])
def test_a_bad_archive_is_refused_in_one_line(
    make: Callable[[bytes, str], bytes], says: str, here: CaseStore, there: CaseStore, archive: Path
) -> None:
    """Damaged, foreign and harmful archives: one line says what, one what to do, and nothing is written."""
    case_id = begun(here, "pump")
    data = here.path(case_id).read_bytes()
    archive.write_bytes(make(data, f"{case_id}.jsonl"))
    with pytest.raises(InputError, match=says) as caught:
        list(take_in(there, unpack(archive)))
    assert "\n" not in caught.value.what
    assert caught.value.hint
    assert not there.folder.exists()


def test_a_size_that_lies_is_found_out(here: CaseStore, archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An entry is never unpacked further than its limit, whatever size it names for itself."""
    case_id = begun(here, "x" * 900)
    send(here, archive, (case_id,))
    monkeypatch.setattr(transfer, "MOST_BYTES", 500)
    with pytest.raises(InputError, match="larger than any case"):
        unpack(archive)
    monkeypatch.setattr(transfer, "MOST_BYTES", 16 * 2**20)
    monkeypatch.setattr(transfer, "MOST_IN_ALL", 600)
    with pytest.raises(InputError, match="larger than any case"):
        unpack(archive)


def test_a_case_as_long_as_a_case_may_be_is_unpacked(here: CaseStore, archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One byte less room, and it is refused; the same for all of an archive together."""
    case_id = begun(here, "x" * 900)
    send(here, archive, (case_id,))
    size = here.path(case_id).stat().st_size
    monkeypatch.setattr(transfer, "MOST_BYTES", size)
    assert unpack(archive) == {case_id: here.path(case_id).read_bytes()}
    monkeypatch.setattr(transfer, "MOST_BYTES", size - 1)
    with pytest.raises(InputError, match="larger than any case"):
        unpack(archive)


def test_a_twin_in_the_archive_is_refused(here: CaseStore, archive: Path) -> None:
    """Two entries of one name could say two things."""
    case_id = begun(here)
    data = here.path(case_id).read_bytes()
    with pytest.warns(UserWarning, match="Duplicate name"):
        archive.write_bytes(packed((f"{case_id}.jsonl", data), (f"{case_id}.jsonl", data)))
    with pytest.raises(InputError, match="no case file"):
        unpack(archive)


def test_a_newer_case_is_told_from_damage(archive: Path) -> None:
    """A case of a later format is refused as newer."""
    archive.write_bytes(packed(("20310309-a2.jsonl", b'{"format":9}\nwho knows\n')))
    with pytest.raises(CaseNewer, match="format 9"):
        unpack(archive)


def test_no_archive_is_named(tmp_path: Path) -> None:
    """A missing file and a folder are no archive."""
    for path in (tmp_path / "gone.zip", tmp_path):
        with pytest.raises(NotFound, match="there is no file"):
            unpack(path)


@settings(max_examples=150, deadline=None)
@given(st.floats(0, 1, exclude_max=True), st.integers(1, 255))
def test_no_changed_byte_gets_in(where: float, change: int) -> None:
    """Whatever byte of an archive is changed: it is refused in words, or what it holds is still what was packed."""
    with folders() as folder:
        source = CaseStore(folder / "a")
        case_id = begun(source, "one", "two")
        file = folder / "x.zip"
        send(source, file, source.ids())
        whole = bytearray(file.read_bytes())
        whole[int(where * len(whole))] ^= change
        file.write_bytes(whole)
        try:
            found = unpack(file)
        except AdvisorError:
            return
        assert found == {case_id: source.path(case_id).read_bytes()}
