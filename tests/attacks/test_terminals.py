"""Every console, width and way to leave: no traceback, nothing lost, no line wider than the window."""

from __future__ import annotations

import errno
import io
import os
import random
import shutil
import signal
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pexpect
import pytest
from attacks.dialogues import drawn
from builders import MACHINE, MORNING, SMALL, small_knowledge

from advisor.cli import run
from advisor.consultation.consultation import Consultation
from advisor.errors import EndOfInput
from advisor.model.case import Case, Noted, Opened, Told
from advisor.model.machine import Machine
from advisor.model.question import Question
from advisor.session.session import Session
from advisor.store.folder import CaseStore
from advisor.terminal.client import Person, play
from advisor.terminal.environment import Terminal

COMPLAINT = "motion-without-steering"
# What leads through every kind of question: a check, a place, a tool, a load test, a repair with its points, a run, and a close.
TYPED = (
    COMPLAINT, "", "522990/10", "", *("1",) * 12, "4", "12.5", "why", "note", "a note", "other", "1", "back", "missing", "1",
    "stands", "0", "other terminal-drag", "1", "correct", "1", "1", "repair sensor-coupling-loose", "done", "", "", "", "yes",
    "yes", "yes", "30", "retest coupling-grip", "1", "run 8", "0", "skip", "close sensor-coupling-loose", "yes",
    "for a reason", "me",
)  # fmt: skip


class Leaving(io.StringIO):
    """A keyboard at which the nth line is a way to leave."""

    def __init__(self, lines: tuple[str, ...], at: int, error: type[BaseException] | None) -> None:
        super().__init__()
        self.lines, self.at, self.error, self.read_so_far = lines, at, error, 0

    def readline(self, size: int | None = -1, /) -> str:
        number = self.read_so_far
        self.read_so_far += 1
        if number >= min(self.at, len(self.lines)):
            if self.error is not None and number == self.at:
                raise self.error
            return ""
        return self.lines[number] + "\n"


@pytest.mark.parametrize(("error", "code"), [(KeyboardInterrupt, (130,)), (None, (0, 5))])
def test_leaving_at_any_question_keeps_what_was_answered(
    error: type[BaseException] | None, code: tuple[int, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """Ctrl-C with 130, the end of input with a pause: every event up to there is in the file, whichever question it was."""
    asked: set[str] = set()
    before = -1
    for at in range(len(TYPED) + 1):
        folder = tmp_path / str(at)
        monkeypatch.setattr("sys.stdin", Leaving(TYPED, at, error))
        found = run(["start", "--knowledge", str(SMALL), "--data-dir", str(folder)])
        said = capsys.readouterr()
        assert found in (*code, 0), at
        assert "Traceback" not in said.err
        prompts = [line.split(">")[0] for line in said.out.splitlines() if "> " in line or line.endswith(">")]
        asked |= {p for p in prompts if len(p) < 40}
        store = CaseStore(folder)
        if not store.ids():
            assert "Nothing was begun" in said.out
            continue
        assert "Saved." in said.out
        events = len(store.read(store.newest()).case.events)
        assert store.verify(store.newest()).problem is None
        assert events >= before
        before = events
    assert {"complaint", "code", "occurrences", "hours", "answer", "minutes it took", "yes or no"} <= asked


class CutLine(io.StringIO):
    """A screen whose line is cut when its keyboard's is: from then on nothing can be written."""

    def __init__(self, keyboard: Leaving) -> None:
        super().__init__()
        self.keyboard = keyboard

    def write(self, text: str, /) -> int:
        if self.keyboard.read_so_far > self.keyboard.at:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return super().write(text)


@pytest.mark.parametrize("both", [True, False])
def test_a_line_that_is_cut_at_any_question_keeps_what_was_answered(
    both: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """Where it outlives its terminal, reading fails, and as a rule writing too: it ends, and every event is in the file."""

    class Cut(OSError):
        def __init__(self) -> None:
            super().__init__(errno.EIO, os.strerror(errno.EIO))

    before = 0
    for at in range(len(TYPED)):
        folder = tmp_path / str(at)
        keyboard = Leaving(TYPED, at, Cut)
        monkeypatch.setattr("sys.stdin", keyboard)
        if both:
            monkeypatch.setattr("sys.stdout", CutLine(keyboard))
        assert run(["start", "--knowledge", str(SMALL), "--data-dir", str(folder)]) in ((1, 0, 5) if both else (0, 5)), at
        said = capsys.readouterr().err
        assert len(said.splitlines()) == (2 if both else 0), said
        store = CaseStore(folder)
        events = len(store.read(store.newest()).case.events) if store.ids() else 0
        assert events >= before
        before = events
        assert all(store.verify(name).problem is None for name in store.ids())
    assert before > 20


def test_a_hang_up_at_the_keyboard_keeps_what_was_answered(tmp_path: Path) -> None:
    """The lid is shut or the line is cut: the note that was acknowledged is there."""

    def hangs_up() -> None:
        signal.signal(signal.SIGHUP, signal.SIG_DFL)

    arguments = ["-m", "advisor", "start", "--knowledge", str(SMALL), "--data-dir", str(tmp_path), "--complaint", COMPLAINT]
    child = pexpect.spawn(
        sys.executable, arguments, encoding="utf-8", timeout=120, dimensions=(40, 80), preexec_fn=hangs_up,
        env={**os.environ, "TERM": "dumb"},
    )  # fmt: skip
    child.expect("words> ")
    child.sendline("")
    child.expect("code> ")
    child.sendline("note seen by the driver")
    child.expect("Noted")
    child.expect("code> ")
    child.kill(signal.SIGHUP)
    child.expect(pexpect.EOF)
    store = CaseStore(tmp_path)
    assert [e.text for e in store.read(store.newest()).case.events if isinstance(e, Noted)] == ["seen by the driver"]


def test_a_window_may_change_its_size_and_a_paragraph_be_pasted(tmp_path: Path) -> None:
    """From 80 to 30 columns while a question stands: what follows fits. A paste of three lines is one note and no more answers."""
    pytest.importorskip("readline")
    arguments = ["-m", "advisor", "start", "--knowledge", str(SMALL), "--data-dir", str(tmp_path), "--complaint", COMPLAINT]
    environment = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES")} | {"TERM": "xterm", "NO_COLOR": "1"}
    child = pexpect.spawn(sys.executable, arguments, encoding="utf-8", timeout=120, dimensions=(40, 80), env=environment)
    child.expect("words> ")
    child.sendline("")
    child.expect("code> ")
    child.setwinsize(40, 30)
    child.send("note \x1b[200~the first line\nthe second line\nthe third line\x1b[201~\r")
    child.expect("Noted")
    child.expect("code> ")
    child.sendline("help")
    child.expect("pause: save and leave")
    child.expect("code> ")
    shown = child.before + str(child.after)
    child.sendline("pause")
    child.expect(pexpect.EOF)
    store = CaseStore(tmp_path)
    notes = [e.text for e in store.read(store.newest()).case.events if isinstance(e, Noted)]
    assert notes == ["the first line the second line the third line"]
    assert not [e for e in store.read(store.newest()).case.events if isinstance(e, Told) and e.words]
    assert max(len(line) for line in shown.replace("\x1b[?2004h", "").replace("\x1b[?2004l", "").split("\r\n")) <= 30


class Drawn:
    """A technician who types what is drawn."""

    def __init__(self, seed: int, length: int) -> None:
        self.dice, self.left = random.Random(seed), length

    def answer(self, prompt: Question) -> str:
        if not self.left:
            raise EndOfInput
        self.left -= 1
        return drawn(prompt, self.dice, small_knowledge())


def dialogue(terminal: Terminal, seed: int, length: int = 25) -> None:
    """A random dialogue on a case from its steps on."""
    machine = Machine.model_validate(MACHINE)
    session = Session.going_on(
        small_knowledge(), Case((Opened(complaint=COMPLAINT, machine=MACHINE),)), lambda *_: None,
        consultation=Consultation(small_knowledge(), machine),
    )  # fmt: skip
    play(terminal, Drawn(seed, length), session)


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437", "cp1252", "utf-8"])
def test_a_dialogue_prints_on_a_console_of_any_encoding(encoding: str) -> None:
    """No line holds what the console cannot show, though the console would refuse it."""
    for seed in (1, 2):
        output = io.TextIOWrapper(io.BytesIO(), encoding=encoding, errors="strict", newline="")
        dialogue(Terminal(output=output, source=io.StringIO(), width=60), seed)
        output.flush()
        assert "Likely causes" in output.buffer.getvalue().decode(encoding)  # type: ignore[attr-defined]


@pytest.mark.parametrize("width", [20, 21, 25, 32, 40, 63, 64, 80, 132, 200])
@pytest.mark.parametrize("blocks", [True, False])
def test_no_line_of_a_random_dialogue_is_wider_than_the_window(width: int, blocks: bool) -> None:
    """At any width from 20 to 200."""
    output = io.StringIO()
    dialogue(Terminal(output=output, source=io.StringIO(), width=width, blocks=blocks), seed=width)
    assert [line for line in output.getvalue().splitlines() if len(line) > width] == []


@pytest.mark.parametrize(
    ("environ", "colour", "blocks"),
    [
        ({"TERM": "dumb"}, False, False), ({"NO_COLOR": "1"}, False, True), ({"NO_COLOR": ""}, True, True),
        ({"ACCESSIBLE": "1"}, False, False), ({}, True, True),
    ],
)  # fmt: skip
def test_what_the_environment_asks_for_is_kept(
    environ: Mapping[str, str], colour: bool, blocks: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Colour only on a screen that has it and nobody refused; block characters only where they are wanted."""

    class Screen(io.TextIOWrapper):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr("sys.stdout", Screen(io.BytesIO(), encoding="utf-8"))
    found = Terminal.of_process(environ=environ)
    assert (found.colour, found.blocks) == (colour, blocks)


def shell(line: str, **environment: str) -> subprocess.CompletedProcess[str]:
    kept = {"PATH": os.environ["PATH"], "PYTHONPATH": os.environ.get("PYTHONPATH", ""), **environment}
    return subprocess.run(
        ["bash", "-c", line], capture_output=True, text=True, env=kept, timeout=120, check=False, errors="replace"
    )


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
@pytest.mark.parametrize("tail", ["head -n 1", "head -c 20", "true"])
def test_a_reader_that_goes_away_is_no_failure_worth_a_word(tail: str, tmp_path: Path) -> None:
    """`| head` ends quietly, for a short page and for a long one."""
    with CaseStore(tmp_path).create(Opened(complaint=COMPLAINT), small_knowledge().digest, MORNING) as case:
        name = case.stored.case_id
    for command in (f"show {name} --knowledge '{SMALL}' --data-dir '{tmp_path}'", "knowledge list"):
        done = shell(f"'{sys.executable}' -m advisor {command} | {tail}")
        assert done.stderr == ""
        assert done.returncode == 0


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
@pytest.mark.parametrize("tail", ["head -n 1", "head -n 12", "true"])
def test_a_dialogue_whose_reader_goes_away_keeps_what_it_took(tail: str, tmp_path: Path) -> None:
    """Nobody reads its questions any more: it ends without a word, and what it wrote down is a whole case."""
    typed = "\\n".join(["", "522990/10", "note one", "", "1", "1", "1", "note two", "pause"])
    own = f"--complaint {COMPLAINT} --knowledge '{SMALL}' --data-dir '{tmp_path}'"
    done = shell(f"printf '{typed}\\n' | '{sys.executable}' -m advisor start {own} | {tail}")
    assert done.stderr == ""
    store = CaseStore(tmp_path)
    assert all(store.verify(name).problem is None for name in store.ids())
    assert tail != "head -n 12" or store.ids()


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
@pytest.mark.parametrize("home", [None, "", "/dev/null", "/no/such/home"])
def test_without_a_home_a_case_is_kept_where_it_is_told_to(home: str | None, tmp_path: Path) -> None:
    """Neither settings nor caches are needed; what cannot be kept is left out in silence."""
    where = {} if home is None else {"HOME": home}
    own = f"--knowledge '{SMALL}' --data-dir '{tmp_path}'"
    done = shell(f"printf '\\nnote x\\npause\\n' | '{sys.executable}' -m advisor start --complaint {COMPLAINT} {own}", **where)
    assert done.returncode == 5
    assert done.stderr == ""
    done = shell(f"'{sys.executable}' -m advisor show {own}", **where)
    assert (done.returncode, done.stderr) == (0, "")


def test_piped_words_leave_the_same_case_as_a_person(tmp_path: Path) -> None:
    """A pipe is an answerer like any other: what it typed stands in the log and in the case."""
    output = io.StringIO()
    terminal = Terminal(output=output, source=io.StringIO("\nnote one\nnote two\n"), width=40)
    events: list[Any] = [Opened(complaint=COMPLAINT, asks=True)]
    play(terminal, Person(terminal), Session.going_on(small_knowledge(), Case(tuple(events)), lambda *new: events.extend(new)))
    assert [e.text for e in events if isinstance(e, Noted)] == ["one", "two"]
    assert "code> note one" in output.getvalue()
    assert not list(tmp_path.iterdir())
