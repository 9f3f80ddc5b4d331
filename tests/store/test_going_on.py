"""A disk that fails, a file that rots, a folder that goes: what was told is kept, said, and gone on with."""

from __future__ import annotations

import io
import json
import os
import shutil
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from builders import MORNING, SMALL, small_knowledge

from advisor.cli import run
from advisor.commands.keeping import Keeping
from advisor.errors import CaseDamaged, EndOfInput, InputError, StoreError, UsageError
from advisor.model.case import Answered, Closed, Event, Moved, Noted, Opened
from advisor.store import open_case as open_module
from advisor.store.folder import CaseStore
from advisor.terminal.environment import Terminal

OPENED = Opened(complaint="motion-without-steering")
GRIP = Answered(check="coupling-grip", result="tight")
MOVE = Moved(to={"key": "off"})
NOTES = tuple(Noted(text=f"note {n}") for n in range(4))


def made(folder: Path, *events: Event) -> str:
    """The id of a case with these events after its opening."""
    with CaseStore(folder).create(OPENED, small_knowledge().digest, MORNING) as case:
        for event in events:
            case.append(event, MORNING)
        return case.stored.case_id


def advisor(*arguments: object) -> int:
    return run([*map(str, arguments), "--knowledge", str(SMALL)])


def keeping(folder: Path, *typed: str, asks: bool = True) -> tuple[Keeping, io.StringIO]:
    """A session on a new case, and what it prints; `typed` is answered when a write fails."""
    output = io.StringIO()
    terminal = Terminal(output=output, source=io.StringIO("".join(f"{t}\n" for t in typed)), width=400)
    store = CaseStore(folder)
    return Keeping(terminal, store, store.create(OPENED, "d" * 64, MORNING), asks), output


@pytest.fixture
def full(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Folders whose disk is full: a write to a file in one of them fails half-way."""
    folders: list[Path] = []
    real = open_module.append

    def append(path: Path, data: bytes, *more: Any) -> Any:
        if path.parent in folders:
            raise StoreError(f"cannot write {path}: No space left on device")
        return real(path, data, *more)

    monkeypatch.setattr(open_module, "append", append)
    return folders


def test_a_full_disk_says_what_was_refused_and_that_the_rest_is_safe(tmp_path: Path, full: list[Path]) -> None:
    """The answer is named, it is not in the case, and the session goes on."""
    kept, said = keeping(tmp_path / "a", "")
    full.append(tmp_path / "a")
    with pytest.raises(InputError):
        kept.append(MOVE, GRIP)
    assert "NOT SAVED: the answer to coupling-grip." in said.getvalue()
    assert "No space left on device" in said.getvalue()
    assert "The entry before it is safe" in said.getvalue()
    assert len(kept.open_case.case.events) == 1
    full.clear()
    kept.append(MOVE, GRIP)
    kept.close()
    assert [e.event for e in CaseStore(tmp_path / "a").read(kept.open_case.stored.case_id).case.events] == [
        "opened", "moved", "answered"
    ]  # fmt: skip


def test_a_full_disk_can_be_tried_again(tmp_path: Path, full: list[Path], monkeypatch: pytest.MonkeyPatch) -> None:
    """`again` after room was made writes the answer once."""
    kept, _ = keeping(tmp_path / "a", "what", "again", "again")
    full.append(tmp_path / "a")
    tries = iter(["full", "full", "free"])
    real = kept.open_case.append_all

    def append_all(*a: Any) -> None:
        if next(tries) == "free":
            full.clear()
        real(*a)

    monkeypatch.setattr(kept.open_case, "append_all", append_all)
    kept.append(GRIP)
    kept.close()
    assert len(CaseStore(tmp_path / "a").read(kept.open_case.stored.case_id).case.events) == 2


def test_one_word_goes_on_in_another_folder(tmp_path: Path, full: list[Path], monkeypatch: pytest.MonkeyPatch) -> None:
    """`elsewhere` alone finds a folder; the whole case is there, and the refused answer too."""
    monkeypatch.setattr(Path, "home", lambda: tmp_path / "home")
    kept, said = keeping(tmp_path / "a", "elsewhere")
    kept.append(NOTES[0])
    full.append(tmp_path / "a")
    kept.append(GRIP)
    kept.append(NOTES[1])
    kept.close()
    other = CaseStore(tmp_path / "home" / "advisor-cases")
    assert [e.event for e in other.read(other.newest()).case.events] == ["opened", "noted", "answered", "noted"]
    assert other.verify(other.newest()).problem is None
    assert str(other.folder) in said.getvalue()
    assert kept.moved


def test_a_folder_deleted_under_a_case_is_rescued_from_memory(tmp_path: Path) -> None:
    """Nothing of the case is lost with its folder."""
    kept, said = keeping(tmp_path / "a", f"elsewhere {tmp_path / 'b'}")
    kept.append(*NOTES[:2])
    shutil.rmtree(tmp_path / "a")
    kept.append(GRIP)
    kept.close()
    assert "its file is gone" in said.getvalue()
    other = CaseStore(tmp_path / "b")
    assert [e.event for e in other.read(other.newest()).case.events] == ["opened", "noted", "noted", "answered"]


def test_a_folder_that_takes_nothing_either_asks_again(tmp_path: Path, full: list[Path]) -> None:
    """A wrong name of a folder loses neither the session nor the answer."""
    (tmp_path / "file").write_text("x", encoding="utf-8")
    kept, said = keeping(tmp_path / "a", f"elsewhere {tmp_path / 'file'}", f"elsewhere {tmp_path / 'b'}")
    full.append(tmp_path / "a")
    kept.append(GRIP)
    kept.close()
    assert "Not there: " in said.getvalue()
    assert len(list((tmp_path / "b").glob("*.jsonl"))) == 1


def test_a_case_is_not_rescued_over_another_one(tmp_path: Path) -> None:
    """A case of the same name with other answers is left as it is."""
    case_id = made(tmp_path / "a", *NOTES)
    (tmp_path / "b").mkdir()
    shutil.copy(tmp_path / "a" / f"{case_id}.jsonl", tmp_path / "b")
    with CaseStore(tmp_path / "b").open(case_id) as there:
        there.append(GRIP, MORNING)
    with CaseStore(tmp_path / "a").open(case_id) as here:
        with pytest.raises(StoreError, match="other answers"):
            CaseStore(tmp_path / "b").rescue(here)
        here.append(NOTES[0], MORNING)


def test_without_anybody_to_ask_a_failed_write_ends_the_session(tmp_path: Path, full: list[Path]) -> None:
    """A scenario cannot choose: the failure is told as it always was."""
    kept, _ = keeping(tmp_path / "a", asks=False)
    full.append(tmp_path / "a")
    with pytest.raises(StoreError):
        kept.append(GRIP)


def test_the_end_of_input_while_nothing_can_be_saved_ends_it(tmp_path: Path, full: list[Path]) -> None:
    """No loop without an end when nobody answers any more."""
    kept, _ = keeping(tmp_path / "a")
    full.append(tmp_path / "a")
    with pytest.raises(EndOfInput):
        kept.append(GRIP)


def test_several_events_are_written_all_or_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The moves of an answer never stand in a case without the answer."""
    with CaseStore(tmp_path).create(OPENED, "d" * 64, MORNING) as case:
        before = case.stored.path.read_bytes()
        with pytest.raises(InputError):
            case.append_all((MOVE, Noted(text="\ud800")), MORNING)

        def failing(handle: int) -> None:
            raise OSError(5, "Input/output error")

        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", failing)
            with pytest.raises(StoreError):
                case.append_all((MOVE, GRIP), MORNING)
        assert case.stored.path.read_bytes() == before
        assert len(case.case.events) == 1


def test_an_edit_of_the_same_length_behind_an_open_case_is_noticed(tmp_path: Path) -> None:
    """Whatever was changed, nothing is written after it; what the session holds can go on elsewhere."""
    with CaseStore(tmp_path / "a").create(OPENED, "d" * 64, MORNING) as case:
        case.append(NOTES[0], MORNING)
        data = case.stored.path.read_bytes()
        case.stored.path.write_bytes(data.replace(b"note 0", b"mote 0"))
        with pytest.raises(StoreError, match="changed by something else"):
            case.append(NOTES[1], MORNING)
        moved = CaseStore(tmp_path / "b").rescue(case)
        moved.append(NOTES[1], MORNING)
        moved.close()
    assert CaseStore(tmp_path / "b").verify(moved.stored.case_id).problem is None


def test_a_file_that_was_only_touched_is_written_to(tmp_path: Path) -> None:
    """A backup that sets the time of a file stops nobody."""
    with CaseStore(tmp_path).create(OPENED, "d" * 64, MORNING) as case:
        os.utime(case.stored.path, (1, 1))
        case.append(NOTES[0], MORNING)
    assert CaseStore(tmp_path).verify(case.stored.case_id).problem is None


def test_after_the_clock_went_back_the_case_begun_last_is_gone_on_with(tmp_path: Path) -> None:
    """A laptop whose clock battery is flat begins its next case in the past."""
    store = CaseStore(tmp_path)
    made(tmp_path)
    with store.create(OPENED, "d" * 64, MORNING - timedelta(days=9000)) as second:
        pass
    assert store.newest() == second.stored.case_id
    second.stored.path.unlink()
    assert store.newest() != second.stored.case_id


# ---- damage


def spoilt(folder: Path, case_id: str, line: int) -> Path:
    """The file of a case with one letter of a line changed."""
    path = folder / f"{case_id}.jsonl"
    lines = path.read_bytes().split(b"\n")
    lines[line] = lines[line].replace(b"note", b"nose")
    path.write_bytes(b"\n".join(lines))
    return path


@pytest.fixture
def damaged(tmp_path: Path) -> Path:
    """A case of six events whose fourth was changed."""
    return spoilt(tmp_path / "cases", made(tmp_path / "cases", GRIP, *NOTES), 4)


def test_what_stands_before_a_damage_is_shown_and_recorded(damaged: Path, capsys: Any) -> None:
    """`show` and `record` give the three whole events, say that the file is damaged, and exit with 1."""
    for command in (["show"], ["show", "--json"], ["record"], ["record", "--format", "json"], ["record", "--format", "html"]):
        assert advisor(command[0], damaged.stem, *command[1:], "--data-dir", damaged.parent) == 1
        said = capsys.readouterr()
        assert "note 0" in said.out
        assert "note 2" not in said.out
        assert f"{damaged}:5:1" in said.err
        assert "--copy" in said.err


def test_a_record_of_a_damaged_case_says_so_itself(damaged: Path, capsys: Any) -> None:
    """Paper has no error output."""
    advisor("record", damaged.stem, "--data-dir", damaged.parent)
    assert "DAMAGED" in capsys.readouterr().out


def test_a_damaged_case_stands_in_the_list_with_date_and_complaint(damaged: Path, capsys: Any) -> None:
    """It is found again by what it was about."""
    assert run(["cases", "--data-dir", str(damaged.parent)]) == 0
    said = capsys.readouterr().out
    assert "2031-03-04" in said
    assert "Motion without steering" in said
    assert "DAMAGED after 3 events" in " ".join(said.split())
    damaged.write_bytes(damaged.read_bytes().replace(b"coupling-grip", b"coupling-grin"))
    assert run(["cases", "--data-dir", str(damaged.parent)]) == 0
    assert "DAMAGED after 1 event:" in " ".join(capsys.readouterr().out.split())


def test_a_damaged_case_goes_on_in_a_copy(damaged: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """The copy holds what was whole and takes new answers; the damaged file is not touched."""
    before = damaged.read_bytes()
    for command in (["resume"], ["close", "--by", "me"]):
        assert advisor(command[0], damaged.stem, *command[1:], "--data-dir", damaged.parent) == 1
    monkeypatch.setattr("sys.stdin", io.StringIO("1\nnote after\npause\n"))
    assert advisor("resume", damaged.stem, "--copy", "--data-dir", damaged.parent) == 5
    store = CaseStore(damaged.parent)
    copy = store.read(f"{damaged.stem}.2")
    assert [e.event for e in copy.case.events] == ["opened", "answered", "noted", "noted"]
    assert store.verify(f"{damaged.stem}.2").problem is None
    assert damaged.read_bytes() == before
    assert f"advisor resume {damaged.stem}.2" in capsys.readouterr().out


def test_a_whole_case_is_not_copied(tmp_path: Path) -> None:
    """Two files of one case without need are two truths."""
    with pytest.raises(UsageError, match="not damaged"):
        CaseStore(tmp_path).copy_sound(made(tmp_path))


def test_a_case_damaged_from_its_beginning_has_nothing_to_show(tmp_path: Path) -> None:
    """Then only the damage is told."""
    case_id = made(tmp_path, *NOTES)
    path = tmp_path / f"{case_id}.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"opened"', b'"closed"'))
    store = CaseStore(tmp_path)
    for doing in (lambda: store.read(case_id, damaged=True), lambda: store.copy_sound(case_id)):
        with pytest.raises(CaseDamaged):
            doing()
    assert json.dumps(store.list()[0].trouble)


def test_every_cut_and_every_changed_byte_leaves_a_beginning_or_is_named(tmp_path: Path) -> None:
    """A bounded walk over the file: never another history in silence."""
    case_id = made(tmp_path, GRIP, NOTES[0], Closed(by="x"))
    path, store = tmp_path / f"{case_id}.jsonl", CaseStore(tmp_path)
    whole, events = path.read_bytes(), store.read(case_id).case.events
    for at in range(0, len(whole), 7):
        for data in (whole[:at], whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :]):
            path.write_bytes(data)
            try:
                found = store.read(case_id, damaged=True)
            except (CaseDamaged, StoreError):
                continue
            assert found.case.events == events[: len(found.case.events)] or at < whole.index(b"\n")
            assert found.messages or data in (whole[: whole.rindex(b"\n", 0, at) + 1] if at else b"", whole)
