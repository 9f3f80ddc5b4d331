"""Broken input, one folder a case: each ends with its exit code and in words, never with a traceback.

A folder of tests/defects holds the input, `command` (the arguments) and `expected` (the exit code, then what is said on
standard error, line by line). In both, {dir} is the folder (a copy), {data} an empty data folder, {small} the small
knowledge, and {knowledge} the small knowledge with the files of the folder's `knowledge/` laid over it.
"""

from __future__ import annotations

import io
import shlex
import shutil
import sys
from pathlib import Path

import pytest
from builders import SMALL

from advisor.cli import run

DEFECTS = Path(__file__).parent / "defects"
FOLDERS = sorted(f for f in DEFECTS.iterdir() if f.is_dir())


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda f: f.name)
def test_broken_input_is_explained(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The exit code, what is wrong and what to do about it; nothing else on standard error."""
    here = tmp_path / folder.name
    shutil.copytree(folder, here)
    names = {
        "{dir}": str(here),
        "{data}": str(tmp_path / "data"),
        "{small}": str(SMALL),
        "{knowledge}": str(tmp_path / "knowledge"),
    }
    if (here / "knowledge").is_dir():
        shutil.copytree(SMALL, tmp_path / "knowledge")
        shutil.copytree(here / "knowledge", tmp_path / "knowledge", dirs_exist_ok=True)
    command = (folder / "command").read_text(encoding="utf-8").strip()
    code, *wanted = (folder / "expected").read_text(encoding="utf-8").splitlines()
    for name, value in names.items():
        command = command.replace(name, value)
    for variable in ("ADVISOR_DATA_DIR", "ADVISOR_KNOWLEDGE", "ADVISOR_SHOP", "ADVISOR_STORE"):
        monkeypatch.delenv(variable, raising=False)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr("sys.argv", ["advisor"])  # as the installed command, whoever runs the tests
    monkeypatch.setattr(sys.modules["__main__"], "__package__", None)
    monkeypatch.setattr("sys.stdin", io.StringIO(""))

    found = run(shlex.split(command))
    said = capsys.readouterr()

    error = said.err
    for name, value in names.items():
        error = error.replace(value, name)
    assert error.splitlines() == wanted
    assert found == int(code)
    assert "Traceback" not in said.out + said.err


def test_every_defect_is_a_failure() -> None:
    """Each folder says what is expected, and no defect is expected to pass in silence."""
    assert len(FOLDERS) >= 25
    for folder in FOLDERS:
        code, *lines = (folder / "expected").read_text(encoding="utf-8").splitlines()
        assert int(code) in (1, 2, 3, 4), folder.name
        assert len(lines) >= 2, f"{folder.name}: what is wrong, and what to do"


def test_the_check_never_passes_what_does_not_load(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that cannot be read is a finding: `knowledge check` does not say that nothing was found."""
    shutil.copytree(SMALL, tmp_path / "knowledge")
    (tmp_path / "knowledge" / "tools.yaml").unlink()
    (tmp_path / "knowledge" / "tools.yaml").symlink_to(tmp_path / "gone.yaml")
    assert run(["knowledge", "check", "--knowledge", str(tmp_path / "knowledge")]) == 1
    said = capsys.readouterr()
    assert "tools.yaml" in said.out + said.err
    assert "nothing found" not in said.out
