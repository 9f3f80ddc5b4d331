"""A file that is cut or rots at any byte, and many programs on one folder: a bounded part of the benchmarks `rot` and `at_once`."""

from __future__ import annotations

from pathlib import Path

import pytest
from benchmarks.at_once import begin, mixed
from benchmarks.rot import a_case, walk
from builders import MORNING, SMALL

from advisor.cli import run
from advisor.model.case import Noted, Opened
from advisor.store.folder import CaseStore
from advisor.store.transfer import send


def test_a_cut_or_a_changed_byte_never_gives_another_history(tmp_path: Path) -> None:
    """Every sound event is read, none behind the damage, and the check code of the whole fits no more."""
    found = list(walk(a_case(tmp_path, seed=5, replies=40), step=23))
    assert len(found) > 500
    assert [one for one in found if one.wrong] == []


def test_no_byte_of_a_line_can_be_changed_in_silence(tmp_path: Path) -> None:
    """Every single byte of the header, the first event and the end: each kind of sign that a line has, at every place of it."""
    path = a_case(tmp_path, seed=5, replies=40)
    whole = path.read_bytes()
    second, last = whole.index(b"\n", whole.index(b"\n") + 1) + 1, whole.rindex(b"\n", 0, -1) + 1
    found = [*walk(path, end=second), *walk(path, first=last)]
    assert len(found) == 2 * (second + len(whole) - last) > 1000
    assert [one for one in found if one.wrong] == []


def test_a_case_with_its_last_line_cut_off_fits_the_card_no_more(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The file alone cannot show it; the code of the last check on the record and the job card does."""
    path = a_case(tmp_path, seed=5, replies=40)
    own = ("--data-dir", str(tmp_path), "--knowledge", str(SMALL))
    code = CaseStore(tmp_path).verify(path.stem).codes[-1]
    assert run(["verify", path.stem, *own]) == 0
    assert code in capsys.readouterr().out
    assert run(["record", path.stem, *own]) == 0
    assert code in capsys.readouterr().out
    assert run(["verify", path.stem, "--code", code, *own]) == 0
    whole = path.read_bytes()
    path.write_bytes(whole[: whole.rindex(b"\n", 0, -1) + 1])
    assert run(["verify", path.stem, *own]) == 0
    assert run(["verify", path.stem, "--code", code, *own]) == 1
    assert "Its end was cut off" in capsys.readouterr().out


def test_processes_that_begin_at_the_same_moment_get_a_case_each(tmp_path: Path) -> None:
    """Forty of them, in a folder that is not there yet."""
    found = begin(tmp_path / "new", 40)
    assert found.well, found
    assert found.cases == found.acknowledged == 40


def test_processes_that_write_pack_and_take_in_at_once_lose_and_mix_nothing(tmp_path: Path) -> None:
    """Each entry that was acknowledged is there once, every file verifies, and nobody meets anything but a lock."""
    found = mixed(tmp_path, workers=4, turns=15, seed=3)
    assert found.well, found
    assert found.acknowledged > 15


def test_an_import_during_a_dialogue_waits_and_leaves_the_case_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 4 and a clear line; what the dialogue writes next follows what it wrote before."""
    here, there = CaseStore(tmp_path / "a"), CaseStore(tmp_path / "b")
    with here.create(Opened(complaint="motion-without-steering"), "d" * 64, MORNING) as case:
        there.make()
        there.path(case.stored.case_id).write_bytes(case.data)
        with there.open(case.stored.case_id) as longer:
            longer.append(Noted(text="from the other computer"), MORNING)
        send(there, tmp_path / "x.zip", [case.stored.case_id])
        assert run(["cases", "--import", str(tmp_path / "x.zip"), "--data-dir", str(here.folder)]) == 4
        assert "open in another window" in " ".join(capsys.readouterr().out.split())
        case.append(Noted(text="here"), MORNING)
    assert [e.text for e in here.read(case.stored.case_id).case.events if isinstance(e, Noted)] == ["here"]
    assert here.verify(case.stored.case_id).problem is None
