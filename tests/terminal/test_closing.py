"""Closing a case and opening it again, from the command line and in the dialogue."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from builders import MORNING, SMALL, scenario, small_knowledge
from terminal.talk import talk

from advisor.cli import run
from advisor.consultation.scenario import events_of, opening
from advisor.errors import ExitCode
from advisor.model.case import Case, Closed, Noted, Ran, Reopened, fold
from advisor.store.folder import CaseStore

SLIPS: tuple[dict[str, Any], ...] = ({"check": "coupling-grip", "result": "slips"}, {"repair": "sensor-coupling-loose"})
TIGHT: tuple[dict[str, Any], ...] = (*SLIPS, {"retest": "coupling-grip", "result": "tight"})


def stored(folder: Path, *lines: dict[str, Any]) -> str:
    """A case told by lines, on the disk."""
    knowledge, told = small_knowledge(), scenario(*lines)
    with CaseStore(folder).create(opening(knowledge, told), knowledge.digest, MORNING) as case:
        for _, event, _ in events_of(knowledge, told):
            case.append(event, MORNING)
        return case.stored.case_id


def advisor(folder: Path, *arguments: str) -> int:
    knowledge = ["--knowledge", str(SMALL)] if arguments[0] != "reopen" else []
    return run([*arguments, "--data-dir", str(folder), *knowledge])


def closed(folder: Path, case_id: str) -> Closed | None:
    return fold(CaseStore(folder).read(case_id).case).closed


def test_a_case_closes_with_what_was_repaired(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a cause named it is the last repair, with who confirms it; what is not proven yet is said."""
    case_id = stored(tmp_path, *SLIPS)
    assert advisor(tmp_path, "close", case_id, "--by", "shop foreman", "--yes") == 0
    found = closed(tmp_path, case_id)
    assert found is not None
    assert (found.cause, found.by, found.reason) == ("sensor-coupling-loose", "shop foreman", "")
    said = " ".join(capsys.readouterr().out.split())
    assert "Closed: Coupling loose on the sensor stem, confirmed by shop foreman." in said
    assert "NOT PROVEN" in said


@pytest.mark.parametrize(
    ("typed", "code", "is_closed"),
    [
        ("yes\n", 0, True),
        ("no\n", 1, False),
        ("back\n", 1, False),
        ("perhaps\nwhy\n1\n", 0, True),
        ("", 2, False),
        ("pause\n", 2, False),
    ],
)
def test_an_unproven_case_asks_once_more(
    typed: str, code: int, is_closed: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only a yes closes it; where nobody answers, the message names the option for scripts."""
    case_id = stored(tmp_path, *TIGHT)
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    assert advisor(tmp_path, "close", case_id, "--by", "shop foreman") == code
    assert (closed(tmp_path, case_id) is not None) is is_closed
    said = capsys.readouterr()
    assert "Close it all the same?" in said.out
    assert ("--yes" in said.err) is (code == 2)


def test_a_proven_case_closes_without_a_warning(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Retested and run: nobody is asked once more."""
    case_id = stored(tmp_path, *TIGHT, {"run": 9})
    assert advisor(tmp_path, "close", case_id, "--by", "shop foreman") == 0
    said = capsys.readouterr().out
    assert "Close it all the same?" not in said
    assert "PROVEN" not in said


def test_another_cause_than_the_leader_needs_its_reason(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With a reason it is taken, with its place; without one nothing changes."""
    case_id = stored(tmp_path, *TIGHT)
    other = ("close", case_id, "--by", "x", "--cause", "high-resistance-splice", "--place", "splice-7")
    assert advisor(tmp_path, *other) == 2
    assert "is likeliest" in capsys.readouterr().err
    assert closed(tmp_path, case_id) is None
    assert advisor(tmp_path, *other, "--reason", "found green under the tape", "--yes") == 0
    found = closed(tmp_path, case_id)
    assert found is not None
    assert (found.cause, found.place, found.reason) == ("high-resistance-splice", "splice-7", "found green under the tape")


def test_a_case_closes_without_a_cause(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`none`, for a machine that was sold before anything was found."""
    case_id = stored(tmp_path)
    assert advisor(tmp_path, "close", case_id, "--by", "x", "--cause", "none", "--reason", "machine sold", "--yes") == 0
    found = closed(tmp_path, case_id)
    assert found is not None
    assert (found.cause, found.place, found.reason) == (None, None, "machine sold")
    assert "Closed: no cause found" in capsys.readouterr().out


def test_a_closed_case_opens_again_and_closes_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Closing twice is refused; opened again it goes on, with all that was there, and can be closed again."""
    case_id = stored(tmp_path, *TIGHT)
    assert advisor(tmp_path, "close", case_id, "--by", "x", "--yes") == 0
    assert advisor(tmp_path, "close", case_id, "--by", "y", "--yes") == 1
    assert "the case was closed on" in capsys.readouterr().err
    assert advisor(tmp_path, "reopen", case_id, "--reason", "  ") == 2
    assert advisor(tmp_path, "reopen", case_id, "--reason", "came back") == 0
    assert closed(tmp_path, case_id) is None
    assert advisor(tmp_path, "reopen", case_id, "--reason", "came back") == 1
    assert advisor(tmp_path, "close", case_id, "--by", "y", "--yes") == 0
    kinds = [e.event for e in CaseStore(tmp_path).read(case_id).case.events]
    assert kinds[-3:] == ["closed", "reopened", "closed"]
    assert "repaired" in kinds


def test_resume_asks_why_before_it_opens_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Enter alone, or the end of the input, leaves it closed; a reason opens it and the dialogue goes on."""
    case_id = stored(tmp_path, *TIGHT)
    assert advisor(tmp_path, "close", case_id, "--by", "foreman", "--yes") == 0
    whole = CaseStore(tmp_path).path(case_id).read_bytes()
    for typed in ("\n", ""):
        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        assert advisor(tmp_path, "resume", case_id) == 0
        assert "It stays closed." in capsys.readouterr().out
        assert CaseStore(tmp_path).path(case_id).read_bytes() == whole
    typed = ("it came back at work", "yes", "yes", "3 hours", "on a hot day", "0", "1", "pause")
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in typed)))
    advisor(tmp_path, "resume", case_id)
    events = CaseStore(tmp_path).read(case_id).case.events
    assert [e.reason for e in events if isinstance(e, Reopened)] == ["it came back at work"]
    assert [(e.hours, e.recurrences) for e in events if isinstance(e, Ran)] == [(3, 1)]
    assert [e.text for e in events if isinstance(e, Noted)] == ["It came back: on a hot day"]
    assert "it was at least once" in " ".join(capsys.readouterr().out.split())


def test_back_among_the_questions_of_a_fault_that_came_back_asks_the_one_before(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A slip costs one answer: hours, conditions and how often are each put right, and are stored once."""
    case_id = stored(tmp_path, *TIGHT)
    assert advisor(tmp_path, "close", case_id, "--by", "foreman", "--yes") == 0
    typed = ("it came back", "yes", "yes", "back", "yes", "30 h", "back", "3 h", "dry", "back", "on a hot day", "1", "pause")
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in typed)))
    advisor(tmp_path, "resume", case_id)
    printed = capsys.readouterr().out
    events = CaseStore(tmp_path).read(case_id).case.events
    assert [(e.hours, e.recurrences) for e in events if isinstance(e, Ran)] == [(3, 1)]
    assert [e.text for e in events if isinstance(e, Noted)] == ["It came back: on a hot day"]
    assert printed.count("After how many hours of work") == 3


def test_a_case_reopened_by_command_is_asked_too_whether_the_fault_came_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """After `reopen` the next `resume` asks it; no changes nothing, and it is asked once only."""
    case_id = stored(tmp_path, *TIGHT)
    advisor(tmp_path, "close", case_id, "--by", "foreman", "--yes")
    advisor(tmp_path, "reopen", case_id, "--reason", "a part is missing in the record")
    monkeypatch.setattr("sys.stdin", io.StringIO("yes\nno\nnote seal entered\npause\n"))
    advisor(tmp_path, "resume", case_id)
    assert "Did the fault come back?" in capsys.readouterr().out
    monkeypatch.setattr("sys.stdin", io.StringIO("yes\npause\n"))
    advisor(tmp_path, "resume", case_id)
    assert "Did the fault come back?" not in capsys.readouterr().out
    assert not [e for e in CaseStore(tmp_path).read(case_id).case.events if isinstance(e, Ran)]


def test_the_dialogue_says_what_it_closes_with_and_asks_who_confirms() -> None:
    """The cause, what the record lacks, who, and why when another suspect leads."""
    said = talk("close steering-valve-leak", "yes", "night shift", "seen with the gauge")
    assert said.code == ExitCode.OK
    found = fold(said.case).closed
    assert found is not None
    assert (found.cause, found.by, found.reason) == ("steering-valve-leak", "night shift", "seen with the gauge")
    assert "This case has no repair" in said.printed
    assert "First in the ranking: " in said.printed


def test_the_dialogue_closes_without_a_cause() -> None:
    """`close none` names none."""
    found = fold(talk("close none", "yes", "x", "sold").case).closed
    assert found is not None
    assert (found.cause, found.place, found.reason) == (None, None, "sold")


def test_an_unknown_cause_does_not_close() -> None:
    """A word that is no cause is told, and the case stays open."""
    said = talk("close moon", "pause")
    assert "'moon' is no cause" in said.printed
    assert fold(Case(tuple(said.stored))).closed is None


@pytest.mark.parametrize("given", ["no", "back"])
def test_a_case_without_its_proof_closes_only_after_a_second_yes(given: str) -> None:
    """It says what the record lacks and asks once more; anything but yes leaves it open."""
    said = talk("close none", given, "note still here")
    assert fold(said.case).closed is None
    assert "Close it all the same?" in said.printed
    assert "Noted." in said.printed


def test_each_question_of_closing_stands_before_its_prompt() -> None:
    """A prompt of three words leaves open what happens when Enter alone is typed."""
    said = talk("close none", "yes", "", "").printed
    assert "Who confirms it? Enter alone: not said." in said
