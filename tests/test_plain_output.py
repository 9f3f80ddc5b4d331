"""What leaves the program: no control character from outside, no file lost, no traceback from a console or a stream."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
import unicodedata
from pathlib import Path
from typing import Any

import pytest
from builders import MACHINE, MORNING, SMALL, small_knowledge
from hypothesis import given
from hypothesis import strategies as st

from advisor.cli import run
from advisor.errors import short
from advisor.model.case import Noted, Opened
from advisor.plain import fitting, one_line, plain
from advisor.store.folder import CaseStore
from advisor.terminal.environment import Terminal

EVIL = "\x1b]0;title\x07\x1b[2J\x9b31m\u202egnp.exe\u2066\u200f\x00\r"
HARM = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2028\u2029\u2066-\u2069]")


@pytest.fixture(params=[True, False])
def evil_case(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """A case whose complaint, machine and note try to drive the terminal."""
    fits = request.param  # whether its complaint is one of the knowledge's
    opened = Opened(complaint="motion-without-steering" if fits else f"reads{EVIL}", machine={**MACHINE, "title": f"Loader {EVIL}"})
    with CaseStore(tmp_path / "cases").create(opened, small_knowledge().digest, MORNING) as case:
        case.append(Noted(text=EVIL), MORNING)
        return case.stored.path


@given(st.text())
def test_no_text_keeps_a_character_that_moves_a_terminal(text: str) -> None:
    """Whatever comes in, no control, no turning mark and no half character comes out; ordinary letters all stay."""
    for made in (plain(text), one_line(text), short(text)):
        assert HARM.search(made) is None
        made.encode("utf-8")
    assert "\n" not in one_line(text)
    letters = [c for c in text if unicodedata.category(c)[0] in "LNP"]
    assert [c for c in plain(text) if unicodedata.category(c)[0] in "LNP"] == letters


@given(st.text(), st.sampled_from(["ascii", "latin-1", "cp437", "cp1252", "no-such-encoding", None]))
def test_what_a_console_lacks_is_shown_by_what_it_has(text: str, encoding: str | None) -> None:
    """A text is never longer in coming than once, and what fits is not touched."""
    ascii_only = text.encode("ascii", "ignore").decode()
    assert fitting(ascii_only, encoding) == ascii_only


def test_a_minus_stays_a_minus_on_every_console() -> None:
    """A reading's sign is no question mark on an old console."""
    assert fitting("\N{MINUS SIGN}0.2 V \N{EN DASH} 3 \N{GREEK CAPITAL LETTER OMEGA}", "cp1252") == "-0.2 V - 3 ohm"


@pytest.mark.parametrize("command", [["cases"], ["show", "*"], ["verify", "*"], ["record", "*"], ["show", EVIL], ["replay", EVIL]])
def test_no_command_lets_a_case_or_a_name_drive_the_terminal(evil_case: Path, command: list[str], capsys: Any) -> None:
    """Neither what a case holds nor what was typed reaches the terminal with a control character in it."""
    words = [evil_case.stem if w == "*" else w.replace("\x00", "") for w in command]
    folder = [] if command[0] == "replay" else ["--data-dir", str(evil_case.parent)]
    run([*words, *folder, *([] if command[0] == "cases" else ["--knowledge", str(SMALL)])])
    said = capsys.readouterr()
    assert said.out + said.err
    assert HARM.search(said.out + said.err) is None


def test_a_name_of_a_file_is_told_as_text(case: Path, tmp_path: Path, capsys: Any) -> None:
    """Where a record was written to, whatever its name is made of."""
    assert recorded(case, tmp_path / "record \x1b[2J\u202egnp.md") == 0
    said = capsys.readouterr()
    assert "Written: " in said.err
    assert HARM.search((said.out + said.err).replace("\n", "")) is None


def test_every_line_and_prompt_of_the_dialogue_is_clean() -> None:
    """Headings, laid-out lines and what was typed go out without control characters, in colour too."""
    for colour in (False, True):
        output = io.StringIO()
        terminal = Terminal(output=output, source=io.StringIO(EVIL + "x\n"), colour=colour)
        terminal.line(EVIL)
        terminal.rule(EVIL)
        terminal.raw(EVIL)
        assert HARM.search(terminal.read(f"{EVIL}> ")) is None
        assert HARM.search(output.getvalue().replace("\x1b[1m", "").replace("\x1b[0m", "")) is None


def test_a_note_of_a_scenario_is_kept_clean(tmp_path: Path, capsys: Any) -> None:
    """What `start --answers` types is cleaned as what a person types."""
    told = {"format": 1, "title": "t", "complaint": "motion-without-steering", "answers": [{"note": f"seen{EVIL}twice"}]}
    file = tmp_path / "told.yaml"
    file.write_text(json.dumps(told), encoding="utf-8")
    run(["start", "--answers", str(file), "--knowledge", str(SMALL), "--data-dir", str(tmp_path / "c")])
    assert HARM.search(capsys.readouterr().out) is None
    store = CaseStore(tmp_path / "c")
    notes = [e.text for e in store.read(store.newest()).case.events if isinstance(e, Noted)]
    assert len(notes) == 1
    assert HARM.search(notes[0]) is None


# ---- files that are there already


@pytest.fixture
def case(tmp_path: Path) -> Path:
    with CaseStore(tmp_path / "cases").create(Opened(complaint="motion-without-steering"), "d" * 64, MORNING) as made:
        return made.stored.path


def recorded(case: Path, *out: object) -> int:
    return run(["record", case.stem, "--data-dir", str(case.parent), "--knowledge", str(SMALL), "--out", *map(str, out)])


def test_a_record_never_takes_the_place_of_a_case(case: Path, capsys: Any) -> None:
    """Neither asked nor unasked: a case file stays as it is."""
    before = case.read_bytes()
    assert recorded(case, case) == 2
    assert recorded(case, case, "--replace") == 2
    assert "never written over" in capsys.readouterr().err
    assert case.read_bytes() == before


def test_a_file_is_written_over_only_when_that_is_asked(case: Path, tmp_path: Path) -> None:
    """Another file of that name stays, until --replace says that it may go; nothing else is left in the folder."""
    out = tmp_path / "mine.md"
    out.write_text("mine", encoding="utf-8")
    assert recorded(case, out) == 2
    assert out.read_text(encoding="utf-8") == "mine"
    assert recorded(case, out, "--replace") == 0
    assert "mine" not in out.read_text(encoding="utf-8")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["cases", "mine.md"]


@pytest.mark.parametrize("mask", [0o000, 0o022, 0o077, 0o777])
def test_a_record_and_a_case_are_their_owners_whatever_the_mask(case: Path, tmp_path: Path, mask: int) -> None:
    """What a case and a record hold of people is for its owner to read and to hand on."""
    before = os.umask(mask)
    try:
        assert recorded(case, tmp_path / "out.md") == 0
        with CaseStore(tmp_path / "new").create(Opened(complaint="reads-low"), "d" * 64, MORNING) as made:
            made.append(Noted(text="x"), MORNING)
    finally:
        os.umask(before)
    for file in (tmp_path / "out.md", made.stored.path, tmp_path / "new"):
        assert file.stat().st_mode & 0o077 == 0


def test_a_planted_link_is_not_followed(case: Path, tmp_path: Path) -> None:
    """Somebody who knows the record's name cannot make it write to another file."""
    other = tmp_path / "other"
    other.write_text("other", encoding="utf-8")
    (tmp_path / ".r.md.part").symlink_to(other)
    (tmp_path / "r.md").symlink_to(other)
    assert recorded(case, tmp_path / "r.md", "--replace") == 0
    assert other.read_text(encoding="utf-8") == "other"


@pytest.mark.parametrize("name", ["", ".", "/", "no/such/folder/r.md", "x" * 5000])
def test_a_name_that_is_no_file_is_explained(case: Path, name: str, capsys: Any) -> None:
    """Two lines, whatever was named."""
    assert recorded(case, name) in (1, 2, 3)
    assert 1 <= len(capsys.readouterr().err.splitlines()) <= 2


# ---- consoles and streams of a real process


def process(*arguments: object, **more: Any) -> subprocess.CompletedProcess[bytes]:
    environment = {k: v for k, v in os.environ.items() if k not in ("PYTHONIOENCODING", "PYTHONUTF8")}
    environment |= more.pop("environment", {})
    return subprocess.run(
        [sys.executable, "-m", "advisor", *map(str, arguments)],
        env=environment, capture_output="stdout" not in more, check=False, timeout=60, **more,
    )  # fmt: skip


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "latin-1", "ascii"])
def test_a_record_comes_out_on_an_old_console(case: Path, encoding: str) -> None:
    """No character of a record stops it from being printed."""
    for form in ("md", "html"):
        done = process(
            "record", case.stem, "--format", form, "--data-dir", case.parent, "--knowledge", SMALL,
            environment={"PYTHONIOENCODING": encoding},
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (0, b"")
        assert done.stdout.decode(encoding)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full here")
@pytest.mark.parametrize("command", ["cases", "show"])
def test_a_full_disk_behind_the_output_is_one_line(case: Path, command: str) -> None:
    """What could not be printed is said, and never as a traceback."""
    named = [case.stem, "--knowledge", SMALL] if command == "show" else []
    with open("/dev/full", "wb") as full:
        done = process(command, *named, "--data-dir", case.parent, stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 1
    assert b"Traceback" not in done.stderr
    assert b"could not be written" in done.stderr


@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
def test_a_closed_stream_is_no_traceback(case: Path, closed: str) -> None:
    """A service that starts the program without input or output gets an exit code."""
    line = f'"{sys.executable}" -m advisor resume {case.stem} --knowledge "{SMALL}" --data-dir "{case.parent}" {closed}'
    done = subprocess.run(["bash", "-c", line], capture_output=True, check=False, timeout=60)
    assert b"Traceback" not in done.stderr + done.stdout
    assert done.returncode in (1, 5)


def test_bytes_that_are_no_text_are_an_answer_like_any_other(case: Path) -> None:
    """Piped input of another encoding is refused or noted, and the case goes on."""
    typed = b"\nnote caf\xe9 \xff\xfe\n\xb2\n" + b"9" * 5000 + b"\npause\n"
    done = process("resume", case.stem, "--data-dir", case.parent, "--knowledge", SMALL, input=typed)
    assert b"Traceback" not in done.stderr
    assert done.returncode == 5
    assert "note caf\N{REPLACEMENT CHARACTER} ".encode() in done.stdout
