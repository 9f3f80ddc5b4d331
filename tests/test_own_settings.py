"""What the user sets once is used on every screen and in every record: the decimal sign, the voltmeter, the screen reader."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest
from builders import SMALL

from advisor.cli import run
from advisor.plain import with_comma
from advisor.record.numbers import page_with_comma

TYPED = (
    "reads-low\n\n\n\n\n\n\n\n\n\n\n\nnote seen 3.7 V at the plug\nother load-test supply-a controller sensor\n11,84 11,02\npause\n"
)


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Settings of this test alone."""
    file = tmp_path / "config.toml"
    monkeypatch.setenv("ADVISOR_CONFIG", str(file))
    monkeypatch.delenv("ACCESSIBLE", raising=False)
    return file


def advisor(*words: object) -> int:
    return run([str(w) for w in words])


def dialogue(folder: Path, typed: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    """What a dialogue prints."""
    capsys.readouterr()
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    shared = ("--data-dir", folder, "--knowledge", SMALL)
    advisor("start", "--complaint", "motion-without-steering", *shared)
    return capsys.readouterr().out


INTAKE = "\n" * 12


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("0.35 V of 0.20 V", "0,35 V of 0,20 V"), ("-0.5 or +12.25 V", "-0,5 or +12,25 V"), ("(4.98V)", "(4,98V)"),
        ("ended at 4.7. Then more", "ended at 4,7. Then more"), ("load_ohms=5.5", "load_ohms=5,5"),
        ("version 1.2.3", "version 1.2.3"), ("/tmp/run-1.5/x, ./2.5/y", "/tmp/run-1.5/x, ./2.5/y"),
        ("'4.7x' is no number", "'4.7x' is no number"),
        ("the maker's 0.5 V, the maker's 1.5 V", "the maker's 0,5 V, the maker's 1,5 V"),
        ("controller:1.5", "controller:1.5"), ("29 CFR 1926.600(a)", "29 CFR 1926.600(a)"), ("AC 43.13-1B", "AC 43.13-1B"),
        ("NASA-STD-8739.4", "NASA-STD-8739.4"), ("11.84 11.52", "11,84 11,52"),
    ],
)  # fmt: skip
def test_a_number_gets_a_comma_and_a_name_does_not(text: str, shown: str) -> None:
    """Numbers of measuring change; versions, paths, quotations and published sections stay."""
    assert with_comma(text) == shown


def test_what_was_typed_keeps_its_point() -> None:
    """A text that somebody typed stands as typed beside numbers that change."""
    assert with_comma("seen 3.7 V; drop 0.25 V", ["seen 3.7 V"]) == "seen 3.7 V; drop 0,25 V"


def test_a_page_changes_only_in_what_is_read() -> None:
    """Coordinates, styles and links of a page stay; text and spoken labels get the comma; typed words stay, escaped too."""
    page = '<style>p{width:1.5em}</style><path d="M1.5 2.5"/><text aria-label="0.35 V" x="1.5">0.35 V</text><p>it&#39;s 3.7 V</p>'
    shown = page_with_comma(page, ["it's 3.7 V"])
    assert shown == page.replace('"0.35 V"', '"0,35 V"').replace(">0.35 V", ">0,35 V")


def test_the_decimal_comma_is_on_screens_and_in_records(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Dialogue, record, error and `drop` show 0,82 V; the note keeps what was typed, and JSON the point."""
    advisor("config", "numbers", "comma")
    cases = tmp_path / "cases"
    said = dialogue(cases, TYPED.split("\n", 1)[1], monkeypatch, capsys)
    assert ("0,82 V" in said, "0.82 V" in said) == (True, False)
    shared = ("--data-dir", cases, "--knowledge", SMALL)
    advisor("record", "--format", "md", *shared)
    record = capsys.readouterr().out
    assert ("0,82" in record, "0.82" in record, "seen 3.7 V at the plug" in record) == (True, False, True)
    advisor("record", "--format", "html", *shared)
    page = capsys.readouterr().out
    assert ("0,82" in page, ">0.82" in page, "seen 3.7 V at the plug" in page) == (True, False, True)
    advisor("record", "--format", "json", *shared)
    assert "0.82" in capsys.readouterr().out
    advisor("drop", "--reference", "11.84", "--loaded", "11.02")
    assert "0,820 V" in capsys.readouterr().out
    advisor("drop", "--reference", "11.84", "--loaded", "111.02")
    assert "111,02 V" in capsys.readouterr().err


def test_the_technicians_meter_goes_with_each_load_test(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The meter of the settings stands in the event; one that is typed after the volts counts instead."""
    advisor("config", "meter", "0.1%+3@0.001V")
    typed = TYPED.split("\n", 1)[1].replace("pause", "other load-test supply-a controller sensor\n11.84 11.01 meter=1%+5\npause")
    said = dialogue(tmp_path / "cases", typed, monkeypatch, capsys)
    assert said.count("Read with your meter, 0.1%+3@0.001V.") == 1
    lines = next((tmp_path / "cases").glob("*.jsonl")).read_text(encoding="utf-8").splitlines()
    events = [json.loads(line).get("event", {}) for line in lines]
    assert [e["meter"] for e in events if isinstance(e, dict) and e.get("event") == "reading"] == ["0.1%+3@0.001V", "1%+5"]


def test_a_finer_meter_makes_drop_surer(capsys: pytest.CaptureFixture[str]) -> None:
    """`drop` judges by the meter of the settings, and by the one that is named instead."""
    words = ("drop", "--reference", "11.84", "--loaded", "11.62", "--json")
    found = []
    for key in (None, "0.05%+1@0.001V"):
        if key:
            advisor("config", "meter", key)
        capsys.readouterr()
        advisor(*words)
        found.append(json.loads(capsys.readouterr().out)["standard_uncertainty"])
    advisor(*words, "--meter", "0.5%+2")
    assert found[1] < found[0] / 5
    assert json.loads(capsys.readouterr().out)["standard_uncertainty"] == found[0]


def test_a_meter_that_cannot_be_is_refused(own_settings: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A text that is no meter's specification is not kept; the message shows one."""
    assert advisor("config", "meter", "good one") == 1
    assert "0.5%+2" in capsys.readouterr().err
    assert not own_settings.exists()


def test_screens_for_a_screen_reader_can_be_set_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With `accessible = yes` a dialogue has no bars and boxes; ACCESSIBLE=0 brings them back for one command."""
    advisor("config", "accessible", "yes")
    spoken = dialogue(tmp_path / "a", INTAKE + "pause\n", monkeypatch, capsys)
    monkeypatch.setenv("ACCESSIBLE", "0")
    seen = dialogue(tmp_path / "b", INTAKE + "pause\n", monkeypatch, capsys)
    assert not any(sign in spoken for sign in ("##", "█", "──", "-- "))
    assert "─" in seen or "--" in seen
