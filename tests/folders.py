"""Knowledge folders for tests: the real one, and copies of the small one with files changed."""

from __future__ import annotations

import shutil
from functools import cache
from pathlib import Path

from builders import SMALL

from advisor.library.parser import load
from advisor.model.knowledge import Knowledge

ROOT = Path(__file__).parent.parent
REAL = ROOT / "knowledge"
SCENARIOS = sorted((ROOT / "scenarios").glob("*.yaml"))


@cache
def real_knowledge() -> Knowledge:
    """The knowledge that comes with the program; loaded once."""
    return load(REAL)


def variant(where: Path, **files: str | bytes) -> Path:
    """A copy of the small knowledge in `where`; each keyword is a file's text, its name with __ for / and no .yaml."""
    folder = where / "knowledge"
    shutil.copytree(SMALL, folder)
    for name, content in files.items():
        file = folder / (name.replace("__", "/").replace("_cases", ".cases").replace("_", "-") + ".yaml")
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content if isinstance(content, bytes) else content.encode())
    return folder


def changed(name: str, old: str, new: str) -> str:
    """The text of a file of the small knowledge with one place of it changed."""
    text = (SMALL / name).read_text(encoding="utf-8")
    assert text.count(old) == 1, f"{name} has {text.count(old)} times {old!r}"
    return text.replace(old, new)
