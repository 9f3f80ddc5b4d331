"""The commands as a shell sees them: what they print, what they leave behind, how they exit."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pexpect
import pytest
from builders import SMALL
from folders import variant

from advisor.cli import run

SCENARIO = """\
format: 1
title: A coupling that slips (test)
complaint: motion-without-steering
intake: {temperature: cold, occurrences: 3, hours: 20}
answers:
  - {check: coupling-grip, result: slips}
  - {note: "seen by two people"}
  - {correct: coupling-grip, result: tight}
  - {correct: coupling-grip, result: slips}
  - {repair: sensor-coupling-loose, minutes: 25}
  - {retest: coupling-grip, result: tight}
  - {run: 9}
  - {close: sensor-coupling-loose, by: night shift}
expect: {leading: sensor-coupling-loose, share: 0.5}
"""


@pytest.fixture
def scenario(tmp_path: Path) -> Path:
    file = tmp_path / "coupling.yaml"
    file.write_text(SCENARIO, encoding="utf-8")
    return file


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "cases"


def advisor(*arguments: object) -> int:
    """A command line with the small knowledge."""
    return run([str(a) for a in (*arguments, "--knowledge", SMALL)])


def only_case(data: Path) -> str:
    return next(data.glob("*.jsonl")).stem


def test_a_scenario_typed_at_the_prompts_leaves_a_closed_case(
    scenario: Path, data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`start --answers` answers the same prompts as a person, and the case it leaves is closed with its cause."""
    assert advisor("start", "--answers", scenario, "--data-dir", data) == 0
    said = capsys.readouterr().out
    assert "complaint> motion-without-steering" in said
    assert "Tick off the work" in said
    assert "The case is closed." in said
    assert run(["cases", "--data-dir", str(data), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["cases"][0]["closed"] is True


def test_replay_and_the_dialogue_come_to_the_same_ranking(scenario: Path, data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The case that the dialogue stored and the scenario replayed in memory end with the same shares."""
    assert advisor("start", "--answers", scenario, "--data-dir", data) == 0
    capsys.readouterr()
    assert advisor("show", only_case(data), "--data-dir", data, "--json") == 0
    shown = json.loads(capsys.readouterr().out)
    assert advisor("replay", scenario, "--json") == 0
    replayed = json.loads(capsys.readouterr().out)
    assert replayed["met"] is True
    assert shown["suspects"] == replayed["suspects"]
    assert set(replayed) >= {"format", "suspects", "next", "steps", "readings", "holds", "cautions", "met"}


def test_replay_exits_with_one_when_a_scenario_differs(scenario: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A scenario whose expectation is not met is named, with what came out instead."""
    scenario.write_text(SCENARIO.replace("leading: sensor-coupling-loose", "leading: steering-valve-leak"), encoding="utf-8")
    assert advisor("replay", scenario) == 1
    assert "steering-valve-leak should lead, but sensor-coupling-loose does" in capsys.readouterr().out


@pytest.mark.parametrize("form", ["md", "html", "json"])
def test_the_record_names_the_true_cause(
    form: str, scenario: Path, data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each format of the record names the cause that was found, and is written whole to the file asked for."""
    assert advisor("start", "--answers", scenario, "--data-dir", data) == 0
    out = tmp_path / f"record.{form}"
    assert advisor("record", only_case(data)[:10], "--format", form, "--out", out, "--data-dir", data) == 0
    assert "Coupling loose on the sensor stem" in out.read_text(encoding="utf-8")
    assert list(tmp_path.glob(".*part")) == []


def test_a_case_goes_on_on_another_computer(scenario: Path, data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A case file copied to another data folder shows the same there."""
    assert advisor("start", "--answers", scenario, "--data-dir", data) == 0
    other = tmp_path / "other"
    other.mkdir()
    name = only_case(data)
    (other / f"{name}.jsonl").write_bytes((data / f"{name}.jsonl").read_bytes())
    capsys.readouterr()
    assert advisor("show", name, "--data-dir", data, "--json") == 0
    here = capsys.readouterr().out
    assert advisor("show", name, "--data-dir", other, "--json") == 0
    assert capsys.readouterr().out == here


def test_piped_without_arguments_prints_the_help(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """`advisor` alone begins a case on a terminal and prints its help in a pipe."""
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
    assert run([]) == 0
    assert "start" in capsys.readouterr().out


def test_drop_gives_the_arithmetic_as_text_and_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    """`drop` judges one reading without a case."""
    line = ["drop", "--reference", "12.10", "--loaded", "11.35", "--sections", "2", "--load-ohms", "5"]
    assert run(line) == 0
    assert "0.750 V" in capsys.readouterr().out
    assert run([*line, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["drop_volts"] == pytest.approx(0.75)
    assert found["verdict"] == "over"


@pytest.mark.parametrize("name", ["coupling-grip", "sensor-coupling-loose", "motion-without-steering"])
def test_an_entry_is_shown_as_a_page(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """`knowledge show` prints a check, a cause or a complaint for a reader, not as data."""
    assert advisor("knowledge", "show", name) == 0
    said = capsys.readouterr().out
    assert len(said.splitlines()) > 4
    assert "{" not in said


@pytest.mark.parametrize("word", ["glow-worm", "Glow worm", "LAMP"])
def test_a_word_of_the_trade_is_told_in_a_sentence(word: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`knowledge show` finds a word however it is written, and by another word for the same thing."""
    terms = "- {id: glow-worm, says: It shines where a wire is live., also: [lamp]}\n"
    folder = variant(tmp_path, glossary=terms)
    assert run(["knowledge", "show", word, "--knowledge", str(folder)]) == 0
    assert "It shines where a wire is live." in capsys.readouterr().out


def test_an_unknown_entry_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    """An unknown id exits with 3 and names the nearest one."""
    assert advisor("knowledge", "show", "coupling-gripp") == 3
    assert "did you mean 'coupling-grip'?" in capsys.readouterr().err


def test_a_wrong_option_is_one_line_and_a_hint(capsys: pytest.CaptureFixture[str]) -> None:
    """A wrong option exits with 2 and without a traceback."""
    assert run(["start", "--colour"]) == 2
    said = capsys.readouterr().err
    assert "No such option: --colour" in said
    assert len(said.splitlines()) == 2


def at_the_keyboard(data: Path, columns: int) -> Any:
    """A case begun on a terminal of its own, waiting at the first question after the complaint."""
    arguments = ["-m", "advisor", "start", "--knowledge", str(SMALL), "--data-dir", str(data)]
    arguments += ["--complaint", "motion-without-steering"]
    # A shell's background job ignores Ctrl-C and hands that on; at a keyboard it is heard.
    child = pexpect.spawn(
        sys.executable, arguments, encoding="utf-8", timeout=60, dimensions=(40, columns),
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    child.expect("words> ")
    return child


def test_ctrl_c_saves_and_leaves_with_130(data: Path) -> None:
    """Ctrl-C at a prompt of a terminal keeps the case and exits with 130."""
    child = at_the_keyboard(data, 40)
    child.sendline("")
    child.expect("> ")
    child.sendintr()
    child.expect("Saved. Go on with: advisor resume")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 130
    assert len(list(data.glob("*.jsonl"))) == 1


def test_end_of_input_at_a_terminal_pauses_with_five(data: Path) -> None:
    """Ctrl-D in the intake pauses the case, and resume asks on where it stopped."""
    child = at_the_keyboard(data, 80)
    child.sendeof()
    child.expect("Saved. Go on with")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 5
    done = subprocess.run(
        [sys.executable, "-m", "advisor", "resume", "--knowledge", str(SMALL), "--data-dir", str(data)],
        input="pause\n", capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 5
    assert "words> pause" in done.stdout
    assert done.stderr == ""


def test_a_scenario_that_cannot_be_typed_is_refused_before_a_case_begins(
    scenario: Path, data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An answer that cannot be is named by its number, and no case is left behind."""
    scenario.write_text(
        SCENARIO.replace("check: coupling-grip, result: slips", "check: coupling-gripe, result: slips"), encoding="utf-8"
    )
    assert advisor("start", "--answers", scenario, "--data-dir", data) == 1
    assert "answer 1: no check 'coupling-gripe'" in capsys.readouterr().err
    assert not data.exists()


def test_the_map_is_printed_and_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`knowledge map` prints a table, or writes the page or the table to the file that is named."""
    assert advisor("knowledge", "map", "--complaint", "reads-low") == 0
    printed = capsys.readouterr().out
    assert "Position reads below its range: 4 causes" in printed
    assert advisor("knowledge", "map", "--out", tmp_path / "map.html") == 0
    assert advisor("knowledge", "map", "--complaint", "reads-low", "--format", "text", "--out", tmp_path / "map.txt") == 0
    assert capsys.readouterr().out == ""
    assert (tmp_path / "map.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert (tmp_path / "map.txt").read_text(encoding="utf-8") == printed


def test_how_the_machine_can_stand_is_drawn_as_a_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`knowledge states` writes the page to the file that is named, or prints it."""
    assert advisor("knowledge", "states", "--out", tmp_path / "states.html") == 0
    assert capsys.readouterr().out == ""
    assert advisor("knowledge", "states") == 0
    assert capsys.readouterr().out == (tmp_path / "states.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("option", "said"),
    [(("--complaint", "reads-lo"), "no complaint 'reads-lo'"), (("--format", "htm"), "no format 'htm' for the map")],
)
def test_a_map_of_nothing_known_is_refused(option: tuple[str, str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A complaint or a format that does not exist is named, with what was probably meant."""
    assert advisor("knowledge", "map", *option) == 2
    error = capsys.readouterr().err
    assert said in error
    assert "did you mean" in error
