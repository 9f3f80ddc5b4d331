"""`advisor cases --export` and `--import` as a shell sees them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from builders import MORNING

from advisor.cli import run
from advisor.model.case import Noted, Opened
from advisor.store.folder import CaseStore


def begun(folder: Path, *texts: str) -> str:
    with CaseStore(folder).create(Opened(complaint="reads-low"), "d1" * 32, MORNING) as case:
        for text in texts:
            case.append(Noted(text=text), MORNING)
        return case.stored.case_id


def cases(*arguments: object) -> int:
    return run(["cases", *map(str, arguments)])


def test_cases_go_over_and_a_second_time_changes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every case is named with what became of it; exit 0."""
    here, there, file = tmp_path / "here", tmp_path / "there", tmp_path / "x.zip"
    case_id, other = begun(here, "a"), begun(here)
    assert cases("--export", file, "--data-dir", here) == 0
    assert "2 cases written" in capsys.readouterr().out
    assert cases("--import", file, "--data-dir", there) == 0
    said = capsys.readouterr().out
    assert f"{case_id}  added, 2 events" in said
    assert "2 cases looked at, 2 taken in." in said
    assert cases("--import", file, "--data-dir", there) == 0
    assert f"{other}  is here already; nothing changed" in capsys.readouterr().out


def test_one_case_goes_over_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A case that is named is the only one packed."""
    here, file = tmp_path / "here", tmp_path / "x.zip"
    case_id, _ = begun(here, "a"), begun(here)
    assert cases(case_id, "--export", file, "--data-dir", here, "--json") == 0
    assert json.loads(capsys.readouterr().out)["cases"] == [case_id]


def test_a_case_that_diverged_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where they part and under which name the other is kept; both can be listed."""
    here, there, file = tmp_path / "here", tmp_path / "there", tmp_path / "x.zip"
    case_id = begun(here, "both")
    assert cases("--export", file, "--data-dir", here) == 0
    assert cases("--import", file, "--data-dir", there) == 0
    for folder, text in ((here, "mine"), (there, "yours")):
        with CaseStore(folder).open(case_id) as case:
            case.append(Noted(text=text), MORNING)
    file.unlink()
    assert cases("--export", file, "--data-dir", here) == 0
    capsys.readouterr()
    assert cases("--import", file, "--data-dir", there) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"{case_id} DIFFERS from the one here after event 1: kept beside it as {case_id}.2" in said
    assert cases("--data-dir", there, "--json") == 0
    assert {row["case_id"] for row in json.loads(capsys.readouterr().out)["cases"]} == {case_id, f"{case_id}.2"}


def test_an_open_case_exits_with_four(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A case that another window works on is not changed, and the exit code says so."""
    here, there, file = tmp_path / "here", tmp_path / "there", tmp_path / "x.zip"
    case_id = begun(here)
    assert cases("--export", file, "--data-dir", here) == 0
    assert cases("--import", file, "--data-dir", there) == 0
    with CaseStore(here).open(case_id) as case:
        case.append(Noted(text="more"), MORNING)
    file.unlink()
    assert cases("--export", file, "--data-dir", here) == 0
    with CaseStore(there).open(case_id):
        assert cases("--import", file, "--data-dir", there) == 4
    assert f"NOT TAKEN IN: {case_id} is open in another window" in capsys.readouterr().out
    assert cases("--import", file, "--data-dir", there) == 0


def test_a_damaged_case_is_left_out_with_exit_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The rest is packed all the same."""
    here = tmp_path / "here"
    case_id = begun(here)
    (here / "20310304-z9.jsonl").write_text("rubbish\n")
    assert cases("--export", tmp_path / "x.zip", "--data-dir", here) == 1
    said = capsys.readouterr().out
    assert "20310304-z9  LEFT OUT: " in said
    assert "1 case written" in said
    assert cases("--import", tmp_path / "x.zip", "--data-dir", tmp_path / "there", "--json") == 0
    assert json.loads(capsys.readouterr().out)["cases"][0]["case_id"] == case_id
