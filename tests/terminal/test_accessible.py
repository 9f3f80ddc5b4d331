"""The stream of a case as a screen reader gets it: statements, one a line, without bars, boxes and signs."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from builders import SMALL
from folders import ROOT, SCENARIOS, real_knowledge

from advisor.cli import run
from advisor.consultation.scenario import opening
from advisor.library.files import read_scenario
from advisor.model.case import Case
from advisor.model.machine import generic_machine
from advisor.session.script import Script
from advisor.session.session import Session
from advisor.terminal.client import Echoed, play
from advisor.terminal.environment import Terminal
from advisor.terminal.layout import layout


@pytest.fixture(scope="module")
def stream() -> list[str]:
    """The lines of a whole scenario."""
    scenario = real_knowledge().retired.scenario(read_scenario(next(f for f in SCENARIOS if f.stem == "sprayer-coupling")))
    output = io.StringIO()
    terminal = Terminal(output=output, blocks=False, accessible=True, width=40)
    session = Session.going_on(real_knowledge(), Case((opening(real_knowledge(), scenario),)), lambda *new: None)
    play(terminal, Echoed(terminal, Script(scenario)), session)
    return output.getvalue().splitlines()


def test_no_line_holds_a_bar_a_box_or_a_sign(stream: list[str]) -> None:
    """Nothing that a reader would spell out."""
    assert [x for x in stream if re.search(r"[#\u2588\u00b7\u2500\[\]<]|--|\\.\\.|^!|^- |  ", x)] == []


def test_a_caution_is_one_line(stream: list[str]) -> None:
    """With its reason, whatever the width of the window."""
    caution = real_knowledge().cautions["hands-clear-steering"]
    assert f"Caution: {caution.says} {caution.why}" in stream


def test_the_ranking_is_told_in_words(stream: list[str]) -> None:
    """Rank, share, movement and title on one line."""
    assert any(re.fullmatch(r"1\. \d+% (far )?up .+", x) for x in stream)


def test_a_prompt_ends_with_a_word_and_a_colon(stream: list[str]) -> None:
    """Every prompt is named, and no sign stands behind the name."""
    assert any(x.startswith("answer: ") for x in stream)
    assert not any(re.match(r"[a-z ]+> ?", x) for x in stream)


def test_a_typed_answer_is_asked_for_in_words() -> None:
    """The same where somebody types: prompt and answer stand on one line of the log."""
    output = io.StringIO()
    terminal = Terminal(output=output, source=io.StringIO("again\n"), accessible=True)
    assert terminal.read("not saved> ") == "again"
    assert output.getvalue() == "not saved: again\n"


@pytest.mark.parametrize(
    "words",
    [
        ("knowledge", "map", "--complaint", "reads-low", "--knowledge", SMALL),
        ("knowledge", "list", "--knowledge", SMALL),
        ("knowledge", "show", "load-test", "--knowledge", SMALL),
        ("find", "splice", "--knowledge", SMALL),
        ("machine", "check", ROOT / "scenarios" / "machines" / "loader.yaml"),
        ("machine", "list", ROOT / "scenarios" / "machines"),
        ("drop", "--reference", "11.84", "--loaded", "11.1", "--mm2", "0.75", "--metres", "3", "--load-ohms", "5"),
        ("proof", "--occurrences", "6", "--hours", "14"),
        ("config",),
    ],
    ids=lambda words: " ".join(str(w) for w in words[:2]),
)
def test_maps_and_listings_are_statements(
    words: tuple[object, ...], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """No table, no box, no indent, no bars: one statement a line."""
    monkeypatch.setenv("ACCESSIBLE", "1")
    monkeypatch.setenv("COLUMNS", "90")
    assert run([str(w) for w in words]) in (0, 1)
    lines = capsys.readouterr().out.splitlines()
    assert len([x for x in lines if x]) > 3
    assert [x for x in lines if re.search(r"[\u2500-\u259f|#\[\]]|--[^a-z]|^-|^!|^ |  ", x)] == []


def test_the_cases_are_statements(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The list of cases and one case shown."""
    monkeypatch.setenv("ACCESSIBLE", "1")
    shared = ["--data-dir", str(tmp_path), "--knowledge", str(SMALL)]
    monkeypatch.setattr("sys.stdin", io.StringIO("\n" * 12 + "1\npause\n"))
    run(["start", "--complaint", "motion-without-steering", *shared])
    capsys.readouterr()
    assert run(["cases", "--data-dir", str(tmp_path)]) == 0
    assert run(["show", *shared]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) > 10
    assert [x for x in lines if re.search(r"[\u2500-\u259f|#\[\]<]|--[^a-z]|^-|^!|^ |  ", x)] == []


def test_the_harness_is_told_in_words() -> None:
    """Each element with its kind, and no drawing."""
    output = io.StringIO()
    layout(Terminal(output=output, accessible=True), generic_machine(), ())
    assert "terminal controller:" in output.getvalue()
    assert not re.search(r"[<\[]|--", output.getvalue())
