"""A folder of case files: nothing complete is ever lost, and every trouble is told in one line."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from advisor.errors import CaseDamaged, CaseLocked, CaseNewer, InputError, NotFound, StoreError
from advisor.model.case import Answered, Closed, KnowledgeChanged, Noted, Opened, Ran
from advisor.store import folder as folder_module
from advisor.store.folder import CaseStore, default_folder
from advisor.store.lines import Header, event_line, header_line

NOON = datetime(2031, 3, 9, 12, 0, tzinfo=UTC)
OPENED = Opened(complaint="reads-low", machine={"title": "Test rig"}, codes=("7001/4",))
NOTES = tuple(Noted(text=f"note {n} é") for n in range(4))


def made(store: CaseStore, *, at: datetime = NOON, notes: tuple[Noted, ...] = NOTES) -> str:
    """The id of a new case with notes in it."""
    with store.create(OPENED, "d1" * 32, at) as case:
        for note in notes:
            case.append(note, at + timedelta(minutes=1))
        return case.stored.case_id


def file_of(store: CaseStore, case_id: str) -> Path:
    return store.folder / f"{case_id}.jsonl"


@pytest.fixture
def store(tmp_path: Path) -> CaseStore:
    return CaseStore(tmp_path / "data" / "cases")


def test_a_case_written_is_the_case_read(store: CaseStore) -> None:
    """What was appended is there for a reader while the case is still open, with its times."""
    with store.create(OPENED, "d1" * 32, NOON) as case:
        case.append(NOTES[0], NOON + timedelta(seconds=5))
        stored = store.read(case.stored.case_id)
        assert stored == case.stored
    assert [event.at for event in stored.case.events] == [NOON, NOON + timedelta(seconds=5)]
    assert stored.case.events[1] == NOTES[0].model_copy(update={"at": NOON + timedelta(seconds=5)})
    assert (stored.created, stored.knowledge_digest, stored.messages) == (NOON, "d1" * 32, ())


def test_a_case_goes_on_after_it_was_closed_and_opened(store: CaseStore) -> None:
    """Events appended after opening a case again follow those before, in one unbroken chain."""
    case_id = made(store, notes=NOTES[:2])
    with store.open(case_id) as case:
        assert case.messages == ()
        case.append(NOTES[2], NOON)
    assert [e.event for e in store.read(case_id).case.events] == ["opened", "noted", "noted", "noted"]
    assert store.verify(case_id).problem is None


def test_a_copied_file_goes_on_in_another_folder(store: CaseStore, tmp_path: Path) -> None:
    """A case is one file: copied into another folder it can be resumed there."""
    case_id = made(store)
    other = CaseStore(tmp_path / "stick")
    other.folder.mkdir()
    shutil.copy(file_of(store, case_id), other.folder)
    with other.open(case_id) as case:
        case.append(Ran(hours=2.25), NOON)
    assert other.verify(case_id).problem is None
    assert len(other.read(case_id).case.events) == len(store.read(case_id).case.events) + 1


@pytest.mark.skipif(os.name == "nt", reason="mode bits are a POSIX matter")
def test_only_the_owner_can_read_a_case(store: CaseStore) -> None:
    """Every file is 0600 and the folder 0700, even under a generous umask."""
    before = os.umask(0)
    try:
        case_id = made(store)
        with file_of(store, case_id).open("ab") as file:
            file.write(b"torn")
        store.open(case_id).close()
    finally:
        os.umask(before)
    modes = {path.suffix: stat.S_IMODE(path.stat().st_mode) for path in store.folder.iterdir()}
    assert modes == {".jsonl": 0o600, ".lock": 0o600, ".torn-1": 0o600, "": 0o600}
    assert stat.S_IMODE(store.folder.stat().st_mode) == 0o700


def test_a_cut_at_any_byte_loses_nothing_complete(store: CaseStore) -> None:
    """Wherever the file is cut, every complete event stays, the rest is moved aside, and the case goes on."""
    case_id = made(store)
    path = file_of(store, case_id)
    whole = path.read_bytes()
    opening = whole.index(b"\n", whole.index(b"\n") + 1) + 1
    for cut in range(opening, len(whole)):
        path.write_bytes(whole[:cut])
        for torn in store.folder.glob("*.torn-*"):
            torn.unlink()
        complete = whole[:cut].count(b"\n") - 1
        tail = whole[:cut].rpartition(b"\n")[2]
        with store.open(case_id) as case:
            assert len(case.case.events) == complete
            case.append(NOTES[0], NOON)
            assert bool(case.messages) == bool(tail)
        assert store.verify(case_id).problem is None
        assert len(store.read(case_id).case.events) == complete + 1
        assert [t.read_bytes() for t in store.folder.glob("*.torn-*")] == ([tail] if tail else [])


def test_a_cut_before_the_case_was_open_leaves_the_file_alone(store: CaseStore) -> None:
    """A file cut inside its header or its first event holds no case; it is refused and not changed."""
    case_id = made(store)
    path = file_of(store, case_id)
    whole = path.read_bytes()
    opening = whole.index(b"\n", whole.index(b"\n") + 1) + 1
    for cut in range(opening):
        path.write_bytes(whole[:cut])
        with pytest.raises(CaseDamaged):
            store.open(case_id)
        assert path.read_bytes() == whole[:cut]


def test_a_reader_leaves_a_torn_line_where_it_is_and_says_so(store: CaseStore) -> None:
    """Reading without the lock changes nothing, since the line may be one that is being written."""
    case_id = made(store)
    path = file_of(store, case_id)
    with path.open("ab") as file:
        file.write(b'{"number":')
    before = path.read_bytes()
    stored = store.read(case_id)
    assert len(stored.case.events) == 1 + len(NOTES)
    assert "10 bytes" in stored.messages[0]
    assert path.read_bytes() == before
    problem = store.verify(case_id).problem
    assert problem is not None
    assert problem.location.line == before.count(b"\n") + 1


def test_a_second_torn_line_does_not_write_over_the_first(store: CaseStore) -> None:
    """Each torn line gets a file of its own."""
    case_id = made(store)
    for tail in (b"one", b"two"):
        with file_of(store, case_id).open("ab") as file:
            file.write(tail)
        with store.open(case_id) as case:
            assert ".torn-" in case.messages[0]
    assert [(store.folder / f"{case_id}.torn-{n}").read_bytes() for n in (1, 2)] == [b"one", b"two"]


def test_a_broken_chain_is_damage_and_names_the_line(store: CaseStore) -> None:
    """An edited line makes every way of reading say which line is wrong; the file stays as it is."""
    case_id = made(store)
    path = file_of(store, case_id)
    edited = path.read_bytes().replace(b"note 1", b"note 9")
    path.write_bytes(edited)
    for way in (store.read, store.open):
        with pytest.raises(CaseDamaged, match=rf"{case_id}\.jsonl:4:1: "):
            way(case_id)
    problem = store.verify(case_id).problem
    assert problem is not None
    assert problem.location.line == 4
    assert path.read_bytes() == edited


def test_a_damaged_case_can_be_tried_again(store: CaseStore) -> None:
    """A refused opening does not keep the lock."""
    case_id = made(store)
    good = file_of(store, case_id).read_bytes()
    file_of(store, case_id).write_bytes(good + b"rubbish\n")
    with pytest.raises(CaseDamaged) as caught:
        store.open(case_id)
    assert caught.traceback  # holds the frames, so that no lock is freed by being forgotten
    file_of(store, case_id).write_bytes(good)
    store.open(case_id).close()


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02\n\xff", b"words\n"])
def test_a_foreign_file_is_damage_in_one_line(store: CaseStore, content: bytes) -> None:
    """Empty and binary files are refused in one line that names the file."""
    case_id = made(store)
    file_of(store, case_id).write_bytes(content)
    with pytest.raises(CaseDamaged, match=rf"{case_id}\.jsonl:1:1: [^\n]+\Z"):
        store.read(case_id)


def test_a_newer_file_is_left_alone(store: CaseStore) -> None:
    """A case of a later format is refused as newer, not as damaged."""
    case_id = made(store)
    path = file_of(store, case_id)
    path.write_bytes(path.read_bytes().replace(b'"format":1', b'"format":3', 1) + b"torn")
    before = path.read_bytes()
    for way in (store.read, store.open, store.verify):
        with pytest.raises(CaseNewer, match="format 3"):
            way(case_id)
    assert path.read_bytes() == before


OTHER_PROCESS = """
import sys
from pathlib import Path
from advisor.errors import CaseLocked
from advisor.store.folder import CaseStore
try:
    CaseStore(Path(sys.argv[1])).open(sys.argv[2]).close()
except CaseLocked as error:
    sys.exit(int(error.exit_code))
"""


def test_another_process_finds_the_case_locked_until_it_is_closed(store: CaseStore) -> None:
    """One process writes at a time, anybody may read, and closing frees the case."""
    command = [sys.executable, "-c", OTHER_PROCESS, str(store.folder)]
    with store.create(OPENED, "d1", NOON) as case:
        case_id = case.stored.case_id
        assert subprocess.run([*command, case_id], check=False).returncode == 4
        with pytest.raises(CaseLocked, match=case_id):
            store.open(case_id)
        assert store.read(case_id).case.events
    assert subprocess.run([*command, case_id], check=False).returncode == 0


KILLED_PROCESS = """
import os, signal, sys
from pathlib import Path
from advisor.store.folder import CaseStore
case = CaseStore(Path(sys.argv[1])).open(sys.argv[2])
os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(os.name == "nt", reason="needs SIGKILL")
def test_a_killed_process_leaves_no_lock(store: CaseStore) -> None:
    """The lock belongs to the process, so a crash never locks a case for ever."""
    case_id = made(store)
    done = subprocess.run([sys.executable, "-c", KILLED_PROCESS, str(store.folder), case_id], check=False)
    assert done.returncode == -9
    store.open(case_id).close()


def test_nothing_is_appended_after_closing(store: CaseStore) -> None:
    """Without the lock nothing is written."""
    case_id = made(store)
    case = store.open(case_id)
    case.close()
    case.close()
    with pytest.raises(ValueError, match="closed"):
        case.append(NOTES[0], NOON)


def test_a_refused_event_leaves_case_and_file_alone(store: CaseStore) -> None:
    """An event no file can hold is refused before a byte is written, and the next one goes through."""
    case_id = made(store)
    with store.open(case_id) as case:
        before = file_of(store, case_id).read_bytes()
        with pytest.raises(InputError):
            case.append(Noted(text="\ud9ab"), NOON)
        assert file_of(store, case_id).read_bytes() == before
        case.append(NOTES[0], NOON)
    assert store.verify(case_id).problem is None


def test_a_failed_write_leaves_case_and_file_as_they_were(store: CaseStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk fails while an event is written, the event is neither in the file nor in the case."""
    case_id = made(store)
    with store.open(case_id) as case:
        before, events = file_of(store, case_id).read_bytes(), case.case.events

        def full(handle: int) -> None:
            raise OSError(28, "No space left on device")

        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", full)
            with pytest.raises(StoreError, match="No space left"):
                case.append(NOTES[0], NOON)
        assert file_of(store, case_id).read_bytes() == before
        assert case.case.events == events
        case.append(NOTES[0], NOON)
    assert len(store.read(case_id).case.events) == len(events) + 1


def test_every_event_is_synced_before_append_returns(store: CaseStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """The file is fsynced with the whole line in it, and the folder when the file is new."""
    synced: list[tuple[bool, int]] = []

    def watched(handle: int) -> None:
        info = os.fstat(handle)
        synced.append((stat.S_ISDIR(info.st_mode), info.st_size))

    monkeypatch.setattr(os, "fsync", watched)
    monkeypatch.setattr(sys, "platform", "linux")  # macOS is asked by another call: see test_system
    with store.create(OPENED, "d1", NOON) as case:
        path = case.stored.path
        assert synced[0] == (False, path.stat().st_size)
        each = [False] + ([True] if os.name != "nt" else [])
        assert [is_folder for is_folder, _ in synced] == each * 2  # the case, then the note of which was begun last
        case.append(NOTES[0], NOON)
        assert synced[-1] == (False, path.stat().st_size)


def test_a_file_changed_while_open_is_not_written_to(store: CaseStore) -> None:
    """When another program changed the file's length, nothing is added to it."""
    case_id = made(store)
    with store.open(case_id) as case:
        with file_of(store, case_id).open("ab") as file:
            file.write(b"# edited\n")
        before = file_of(store, case_id).read_bytes()
        with pytest.raises(StoreError, match="changed by something else"):
            case.append(NOTES[0], NOON)
        assert file_of(store, case_id).read_bytes() == before


def test_a_file_taken_away_while_open_is_reported(store: CaseStore) -> None:
    """A stick pulled out or a file deleted gives one line, and no new file without a beginning."""
    case_id = made(store)
    with store.open(case_id) as case:
        file_of(store, case_id).unlink()
        with pytest.raises(StoreError, match="cannot write"):
            case.append(NOTES[0], NOON)
        assert not file_of(store, case_id).exists()


def test_a_folder_that_cannot_be_one_is_a_store_error(tmp_path: Path) -> None:
    """Where a file stands in the folder's place, reading and writing say so and what to do."""
    (tmp_path / "taken").write_text("a file")
    store = CaseStore(tmp_path / "taken")
    with pytest.raises(StoreError, match="taken") as caught:
        store.create(OPENED, "d1", NOON)
    assert "--data-dir" in caught.value.hint
    with pytest.raises(StoreError, match="taken"):
        store.list()
    with pytest.raises(StoreError):
        CaseStore(tmp_path / "taken" / "below").create(OPENED, "d1", NOON)


def test_a_folder_without_permission_is_a_store_error(store: CaseStore) -> None:
    """A folder that may not be written, or not even read, is told in one line."""
    case_id = made(store)
    file_of(store, case_id).with_suffix(".lock").unlink()
    try:
        store.folder.chmod(0o500)
        if os.access(store.folder, os.W_OK):
            pytest.skip("permissions do not bind this user")
        with pytest.raises(StoreError):
            store.create(OPENED, "d1", NOON)
        with pytest.raises(StoreError):
            store.open(case_id)
        assert store.read(case_id).case.events
        store.folder.chmod(0o000)
        with pytest.raises(StoreError):
            store.list()
    finally:
        store.folder.chmod(0o700)


def test_a_case_that_could_not_be_made_leaves_nothing_half_made(store: CaseStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that fills while a case is made leaves no case behind."""

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StoreError, match="No space left"):
        store.create(OPENED, "d1", NOON)
    assert store.list() == ()
    assert [path.suffix for path in store.folder.iterdir()] == [".lock"]


def test_a_folder_that_is_not_there_has_no_cases_and_is_not_made(store: CaseStore) -> None:
    """Looking for cases makes no folder."""
    assert store.list() == ()
    with pytest.raises(NotFound, match="no case"):
        store.newest()
    with pytest.raises(NotFound):
        store.read("20310309-h4")
    assert not store.folder.exists()


def test_the_list_is_newest_first_and_shows_damage(store: CaseStore) -> None:
    """Every case is listed, newest first, damaged ones with their trouble and torn ones with both."""
    old = made(store, at=NOON - timedelta(days=40))
    new = made(store, at=NOON + timedelta(days=2))
    torn = made(store, at=NOON)
    with file_of(store, torn).open("ab") as file:
        file.write(b"half")
    bad = made(store, at=NOON)
    file_of(store, bad).write_bytes(b"\x00\n")
    os.utime(file_of(store, bad), (0, 0))
    with store.open(new) as case:
        case.append(Closed(), NOON + timedelta(days=3))
    infos = store.list()
    assert [info.case_id for info in infos] == [new, torn, old, bad]
    assert [info.closed for info in infos] == [True, False, False, False]
    assert [bool(info.trouble) for info in infos] == [False, True, False, True]
    first = infos[0]
    assert (first.complaint, first.machine, first.events) == ("reads-low", "Test rig", 2 + len(NOTES))
    assert (first.created, first.changed) == (NOON + timedelta(days=2), NOON + timedelta(days=3))
    assert infos[3].created is None
    assert store.newest() == new


def test_the_newest_is_one_that_can_be_read(store: CaseStore) -> None:
    """A damaged file is never offered as the case to go on with."""
    good = made(store)
    damaged = made(store, at=NOON + timedelta(days=1))
    file_of(store, damaged).write_bytes(b"")
    later = (NOON + timedelta(days=1)).timestamp()
    os.utime(file_of(store, damaged), (later, later))
    assert store.list()[0].case_id == damaged
    assert store.newest() == good


def test_a_case_without_a_machine_file_is_listed(store: CaseStore) -> None:
    """A case on the generic layout has no machine title."""
    store.create(Opened(complaint="hunting"), "d1", NOON).close()
    assert [(info.complaint, info.machine, info.trouble) for info in store.list()] == [("hunting", "", "")]


def test_ids_are_never_used_twice(store: CaseStore) -> None:
    """Ids carry the date in the zone of the clock that was handed in, and a suffix without look-alikes."""
    late = datetime(2031, 3, 10, 1, 0, tzinfo=UTC).astimezone(timezone(timedelta(hours=-8)))
    ids = {made(store, at=late, notes=()) for _ in range(40)}
    assert len(ids) == 40
    assert all(len(i) == 16 and i.startswith("20310309-") for i in ids)
    assert not set("".join(i[9:] for i in ids)) & set("01bgilosqz")


def test_an_id_that_is_used_is_drawn_again(store: CaseStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """With few signs to draw from every case still gets an id of its own, until there is none left."""
    monkeypatch.setattr(folder_module, "LETTERS", "ac")
    monkeypatch.setattr(folder_module, "DIGITS", "")
    monkeypatch.setattr(folder_module, "ID_LENGTH", 2)
    assert len({made(store, notes=()) for _ in range(4)}) == 4
    with pytest.raises(StoreError, match="no case id left"):
        store.create(OPENED, "d1", NOON)


def test_the_short_ids_of_older_cases_are_read(store: CaseStore) -> None:
    """Cases with two or three signs after the date open, list and go on as before."""
    store.make()
    for old in ("20310309-h4", "20310309-h4k"):
        header = header_line(Header(case=old, knowledge="d1" * 32, created=NOON))
        store.path(old).write_bytes(header + b"\n" + event_line(0, OPENED, NOON, header)[0] + b"\n")
        assert store.resolve(old) == old
        with store.open(old) as case:
            case.append(NOTES[0], NOON)
        assert len(store.read(old).case.events) == 2
    assert store.resolve("h4") == "20310309-h4"


def test_part_of_an_id_is_enough_when_it_fits_one_case(store: CaseStore) -> None:
    """The beginning of an id, or what follows its dash, finds the case; an unclear part lists what it fits."""
    one = made(store)
    other = made(store, at=NOON + timedelta(days=31))
    assert store.resolve(one) == one
    assert store.resolve(" " + one.upper() + " ") == one
    assert store.resolve(other[:7]) == other
    assert len(store.read(other[:7]).case.events) == 1 + len(NOTES)
    with pytest.raises(NotFound, match="fits 2 cases") as caught:
        store.resolve("2031")
    assert one in caught.value.what
    assert other in caught.value.what


def test_the_part_after_the_dash_is_enough(store: CaseStore) -> None:
    """What stands after the dash finds a case, and so does its beginning."""
    case_id = made(store)
    assert store.resolve(case_id[-7:]) == case_id
    assert store.resolve(case_id[-7:-4]) == case_id


def test_a_wrong_id_names_the_nearest(store: CaseStore) -> None:
    """A mistyped id is answered with the one that is nearest; nothing like it points at the list."""
    case_id = made(store)
    with pytest.raises(NotFound) as caught:
        store.read(case_id[:-2] + "zz")
    assert case_id in caught.value.hint
    with pytest.raises(NotFound) as caught:
        store.resolve("wheel")
    assert "advisor cases" in caught.value.hint


@pytest.mark.parametrize("text", ["", " ", "../x", "/etc/passwd", "20310309-h4.jsonl", "a\x00b"])
def test_only_names_of_cases_are_cases(store: CaseStore, text: str) -> None:
    """No text reaches a file outside the folder or anything that is not a case."""
    made(store)
    with pytest.raises(NotFound):
        store.open(text)


def test_a_folder_named_like_a_case_is_none(store: CaseStore) -> None:
    """Only files are cases."""
    made(store)
    (store.folder / "20310101-a2.jsonl").mkdir()
    assert len(store.list()) == 1


def test_the_knowledge_of_a_case_is_the_one_it_changed_to(store: CaseStore) -> None:
    """After a change of knowledge the case goes on with the newer digest, in memory and on the disk."""
    with store.create(OPENED, "d1", NOON) as case:
        case.append(Answered(check="visual", result="chafed"), NOON)
        assert case.stored.knowledge_digest == "d1"
        case.append(KnowledgeChanged(digest="e2"), NOON)
        assert case.stored.knowledge_digest == "e2"
    assert store.read(case.stored.case_id).knowledge_digest == "e2"


def test_without_a_folder_the_users_own_is_taken() -> None:
    """The default folder is the one the system keeps for this program's data."""
    assert CaseStore().folder == default_folder()
    assert "advisor" in default_folder().parts
