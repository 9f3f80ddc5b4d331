"""The worked examples of knowledge/README.md, done in a copy of the knowledge as the page says."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

from folders import REAL

from advisor.library.files import read_machine
from advisor.library.lints import run_lints
from advisor.library.parser import load

WORKED = dict(
    re.findall(r"^```worked (\S+)\n(.*?)^```$", (REAL / "README.md").read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
)
CHECK = "checks/sensor/cable-exit-bent.yaml"
ROW = "  sensor-cable-broken: {reacts: very-likely}\n"


def added(folder: Path, name: str, text: str) -> None:
    file = folder / name
    file.write_text((file.read_text(encoding="utf-8") if file.exists() else "") + text, encoding="utf-8")


def test_a_check_a_cause_and_a_word_done_as_the_page_says_give_no_finding(tmp_path: Path) -> None:
    """The copy loads after each step, and nothing is found in it at the end."""
    copy = tmp_path / "mine"
    shutil.copytree(REAL, copy)
    added(copy, CHECK, WORKED[CHECK])
    assert "cable-exit-bent" in load(copy).checks
    added(copy, "causes/sensor.yaml", "\n" + WORKED["causes/sensor.yaml"])
    check = copy / CHECK
    check.write_text(check.read_text(encoding="utf-8").replace("evidence:\n", f"evidence:\n{ROW}"), encoding="utf-8")
    added(copy, "glossary.yaml", WORKED["glossary.yaml"])
    assert [f"{i.lint}: {i.what}" for i in run_lints(load(copy))] == []


def test_the_worked_machine_is_read(tmp_path: Path) -> None:
    """A machine file with three circuits, each from controller to sensor."""
    file = tmp_path / "loader.yaml"
    file.write_text(WORKED["machine"], encoding="utf-8")
    machine = read_machine(file)
    assert [machine.section(c, "controller", "sensor") is not None for c in machine.circuits] == [True] * 3
