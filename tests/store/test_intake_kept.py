"""The intake: every answer that was acknowledged is in the case, whatever ends the program."""

from __future__ import annotations

import io
import os
import resource
import signal
import sys
from pathlib import Path
from typing import Any

import pexpect
import pytest
from builders import MORNING, SMALL, small_knowledge

from advisor.cli import run
from advisor.consultation.scenario import opening
from advisor.errors import ExitCode
from advisor.model.case import CODES, HOURS, LAYOUT, OCCURRENCES, Case, Event, Noted, Opened, Told, fold, intake_events
from advisor.model.scenario import Scenario
from advisor.session.intake import pending
from advisor.session.session import Session
from advisor.store.folder import CaseStore
from advisor.terminal.client import Person, play
from advisor.terminal.environment import Terminal

COMPLAINT = "motion-without-steering"
TYPED = ("522990/10", "7001/4", "", "2", "1", "4", "12.5")  # two codes, no more, two questions, how often, in how many hours
BEGUN = Opened(complaint=COMPLAINT, asks=True)


def hangs_up() -> None:
    """Lets the child be hung up, though whoever started the tests is not."""
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))  # a signal that asks for a picture of the memory gets none


def begun(data: Path) -> Any:
    """A case begun at a keyboard, waiting at the first question after the complaint."""
    arguments = ["-m", "advisor", "start", "--knowledge", str(SMALL), "--data-dir", str(data), "--complaint", COMPLAINT]
    child = pexpect.spawn(sys.executable, arguments, encoding="utf-8", timeout=60, dimensions=(40, 80), preexec_fn=hangs_up)
    child.expect("words> ")
    return child


def told(*typed: str, before: tuple[Event, ...] = (BEGUN,)) -> tuple[Event, ...]:
    """The events of an intake into which these lines were typed."""
    terminal = Terminal(output=io.StringIO(), source=io.StringIO("".join(f"{line}\n" for line in typed)), blocks=False)
    events = list(before)
    play(terminal, Person(terminal), Session.going_on(small_knowledge(), Case(before), lambda *new: events.extend(new)))
    return tuple(events)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT, signal.SIGKILL])
def test_a_killed_intake_keeps_every_answer(tmp_path: Path, number: signal.Signals) -> None:
    """Codes typed before the program was killed are in the case file when the next question stands on the screen."""
    child = begun(tmp_path)
    child.sendline("522990/10")
    child.expect("code> ")
    child.sendline("7001/4")
    child.expect("code> ")
    os.kill(child.pid, number)
    child.expect(pexpect.EOF)
    store = CaseStore(tmp_path)
    opened = fold(store.read(store.newest()).case).opened
    assert opened is not None
    assert (opened.complaint, opened.codes) == (COMPLAINT, ("522990/10", "7001/4"))


@pytest.mark.parametrize("kept", range(len(TYPED)))
def test_an_intake_goes_on_where_it_stopped_and_ends_the_same(kept: int) -> None:
    """Cut after any answer and gone on with, the intake comes to the same opening as without the cut."""
    whole = fold(Case(told(*TYPED))).opened
    first = told(*TYPED[:kept])
    rest = TYPED[2:] if kept == 3 else TYPED[kept:]  # after a code the question for codes stands again
    assert fold(Case(told(*rest, before=first))).opened == whole


def test_an_intake_comes_to_the_opening_of_a_scenario() -> None:
    """What is told answer by answer adds up to the opening that a scenario with the same intake makes at once."""
    knowledge = small_knowledge()
    opened = fold(Case(told(*TYPED))).opened
    assert opened is not None
    intake = {**{q: list(a) for q, a in opened.intake.items()}, "occurrences": 4, "hours": 12.5}
    told_at_once = {"title": "same", "complaint": COMPLAINT, "codes": ["522990/10", "7001/4"], "intake": intake}
    assert opening(knowledge, Scenario.model_validate(told_at_once)) == opened.model_copy(update={"asks": False})


def test_a_question_answered_with_enter_is_not_asked_again() -> None:
    """Not known is an answer."""
    events = told(*[""] * 9)
    assert pending(small_knowledge(), fold(Case(events))) == ()
    assert pending(small_knowledge(), fold(Case(events[:4]))) == (list(small_knowledge().intake)[-1], OCCURRENCES, HOURS, LAYOUT)


def test_a_case_that_was_opened_whole_is_not_asked_its_intake() -> None:
    """A case of an older version, or of a scenario, began with its answers."""
    assert pending(small_knowledge(), fold(Case((Opened(complaint=COMPLAINT),)))) == ()


def test_the_newest_answer_to_a_question_stands_for_it() -> None:
    """Told twice, the later one counts, and not known takes an answer back."""
    events = (BEGUN, Told(question=CODES, words=("522990/10",)), Told(question=CODES), Told(question=OCCURRENCES, number=3))
    opened = fold(Case(events)).opened
    assert opened is not None
    assert (opened.codes, opened.occurrences) == ((), 3)
    assert intake_events(Case((*events, Noted(text="later")))) == 3


def test_pause_leaves_the_intake_and_saves(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    """The word that leaves the dialogue leaves its questions at the start too."""
    monkeypatch.setattr("sys.stdin", io.StringIO("522990/10\npause\n"))
    code = run(["start", "--complaint", COMPLAINT, "--knowledge", str(SMALL), "--data-dir", str(tmp_path)])
    assert code == ExitCode.PAUSED
    assert "Saved. Go on with" in capsys.readouterr().out


def test_a_folder_that_takes_no_file_is_told_before_the_first_question(tmp_path: Path, capsys: Any) -> None:
    """Nobody answers ten questions for a case that cannot be kept."""
    blocked = tmp_path / "file"
    blocked.write_text("not a folder", encoding="utf-8")
    code = run(["start", "--knowledge", str(SMALL), "--data-dir", str(blocked / "cases")])
    said = capsys.readouterr()
    assert code == ExitCode.FAILURE
    assert "complaint" not in said.out
    assert "--data-dir" in said.err


def test_the_intake_is_no_step_of_the_record(tmp_path: Path, capsys: Any) -> None:
    """Its answers belong to the opening: the first step is the first event after them."""
    with CaseStore(tmp_path).create(BEGUN, small_knowledge().digest, MORNING) as case:
        for event in (*told(*TYPED)[1:], Noted(text="first step")):
            case.append(event, MORNING)
    assert run(["show", case.stored.case_id, "--json", "--knowledge", str(SMALL), "--data-dir", str(tmp_path)]) == 0
    assert '"event": "told"' not in capsys.readouterr().out


def test_a_note_typed_before_the_complaint_is_in_the_case(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It waits for the case to be begun, and the program says so; nothing that was noted is dropped."""
    monkeypatch.setattr("sys.stdin", io.StringIO(f"note seen by the driver\n{COMPLAINT}\n522990/10\npause\n"))
    assert run(["start", "--knowledge", str(SMALL), "--data-dir", str(tmp_path)]) == ExitCode.PAUSED
    assert "It is saved as soon as the complaint is chosen." in capsys.readouterr().out
    store = CaseStore(tmp_path)
    kept = store.read(store.newest()).case
    assert [e.text for e in kept.events if isinstance(e, Noted)] == ["seen by the driver"]
    assert pending(small_knowledge(), fold(kept))[0] == CODES
