"""Going on with a case that was left early, and notes that were typed before there was a case."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from builders import SMALL, small_knowledge
from folders import real_knowledge
from terminal.talk import talk

from advisor.cli import run
from advisor.model.case import Case, Noted, Opened, Repaired, Told
from advisor.session.said import plain
from advisor.session.session import Session
from advisor.store.folder import CaseStore

HEARD = Told(question="operator-words")


def test_going_on_within_the_intake_does_not_ask_how_the_machine_stands() -> None:
    """Nobody was told to move anything yet."""
    found = talk("pause", stored=[Opened(complaint="motion-without-steering", asks=True), HEARD], resumed=True)
    assert "Fault codes" in found.printed
    assert "Does the machine still stand so?" not in found.printed


def _typed(folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any, *lines: str) -> str:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
    run(["start", "--knowledge", str(SMALL), "--data-dir", str(folder)])
    return " ".join(capsys.readouterr().out.split())


def _notes(folder: Path) -> list[str]:
    store = CaseStore(folder)
    return [e.text for e in store.read(store.newest()).case.events if isinstance(e, Noted)]


def test_a_note_typed_before_the_complaint_waits_for_the_next_case(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """Leaving there loses nothing: the next start asks whether the note belongs to its case, once."""
    left = _typed(tmp_path, monkeypatch, capsys, "note washed yesterday")
    assert "The note you typed waits for the next case." in left
    again = _typed(tmp_path, monkeypatch, capsys, "1", "yes", "pause")
    assert "A note waits from a start without a complaint: washed yesterday" in again
    assert _notes(tmp_path) == ["washed yesterday"]
    assert "A note waits" not in _typed(tmp_path, monkeypatch, capsys, "1", "pause")


def test_a_note_that_belongs_to_no_case_is_deleted_by_a_no(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    """And one that nobody answered for waits on."""
    _typed(tmp_path, monkeypatch, capsys, "note of another machine")
    _typed(tmp_path, monkeypatch, capsys, "1")
    assert "A note waits" in _typed(tmp_path, monkeypatch, capsys, "1", "no", "pause")
    assert _notes(tmp_path) == []
    assert "A note waits" not in _typed(tmp_path, monkeypatch, capsys, "1", "pause")


def test_going_on_does_not_tell_all_advice_again(tmp_path: Path) -> None:
    """A screen of old advice pushes the step away; it is counted, and show tells it."""
    stored = [Opened(complaint="position-erratic", intake={"temperature": ("hot",)}, occurrences=6, hours=14)]
    knowledge = real_knowledge()
    fresh = talk("pause", stored=list(stored), knowledge=knowledge).printed
    again = talk("yes", "show", "pause", stored=list(stored), knowledge=knowledge, resumed=True).printed
    advice = [line for line in fresh.splitlines() if line.startswith("Advice: ")]
    assert advice
    before, _, shown = again.partition("answer> show")
    assert advice[0] not in before
    assert f"Advice so far: {len(advice)}. The word show tells it." in before
    assert advice[0] in shown


def test_how_to_go_on_names_the_folder_where_it_is_not_the_usual_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """The line can be typed as it stands."""
    folder = tmp_path / "my cases"
    said = _typed(folder, monkeypatch, capsys, "1", "pause")
    assert f"--data-dir '{folder}'" in said.split("Go on with: ")[1]
    monkeypatch.setenv("ADVISOR_DATA_DIR", str(folder))
    assert "--data-dir" not in _typed(folder, monkeypatch, capsys, "1", "pause")


def test_a_fault_that_came_back_is_not_offered_as_zero_times() -> None:
    """The example below the refusal of 0 is a number that is taken."""
    events = [Opened(complaint="motion-without-steering", occurrences=6, hours=14), Repaired(cause="sensor-coupling-loose")]
    session = Session.going_on(small_knowledge(), Case(tuple(events)), lambda *new: None, reopened=True)
    for typed in ("yes", "5 h", "", "0"):
        session.answer(typed)
    said = " ".join(line for item in session.take() for line in plain(item))
    assert "it was at least once" in said
    assert "Here you could type: 0" not in said
