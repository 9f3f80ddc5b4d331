"""New files to fill in: a check, a cause or a machine with a comment at each field, or the change of a shipped entry."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from string import Template
from typing import get_args

from advisor.errors import UsageError, nearest
from advisor.library.entries import Raw, read_all
from advisor.library.sources import knowledge_files
from advisor.model.knowledge import System

KINDS = ("check", "cause", "machine")


def begun(kind: str, name: str, system: str) -> str:
    """The text of a new file. Texts to fill in begin with FILL IN, and are refused until they are written over."""
    text = files("advisor.library").joinpath("templates", f"{kind}.yaml").read_text(encoding="utf-8")
    return Template(text).substitute(id=name, system=system)


def system_of(chosen: str | None) -> str:
    """A system of the machine. Raises UsageError when none, or one that is not known, was chosen."""
    known = get_args(System)
    if chosen is None:
        raise UsageError("the system is missing", f"Write --system with one of: {', '.join(known)}.")
    if chosen not in known:
        raise UsageError(f"no system '{chosen}'", nearest(chosen, known))
    return chosen


def shipped(folder: Path, kind: str, name: str) -> tuple[str, str] | None:
    """The system and the text of a file that changes the shipped entry of this id; None when there is none."""
    wanted = f"{kind}s"
    for file in knowledge_files(folder):
        if file.relative_to(folder).parts[0] != wanted:
            continue
        entries = read_all(folder, [file]).raw
        for n, raw in enumerate(entries):
            if raw.id == name:
                last = entries[n + 1].spot.place.line - 1 if n + 1 < len(entries) else None
                return str(raw.data.get("system")), _change(raw, file.read_text(encoding="utf-8").splitlines(), last)
    return None


def _change(raw: Raw, lines: list[str], last: int | None) -> str:
    """`extends` with the shipped entry in comments behind it."""
    own = [line for line in lines[raw.spot.place.line - 1 : last] if not line.startswith("# yaml-language-server")]
    listed = raw.kind == "causes"
    dash, indent = ("- ", "  ") if listed else ("", "")
    head = [
        f"# The shop's change to '{raw.id}'. Write only what differs.",
        "# A value stands in place of the shipped one. A list is added to.",
        f"{dash}extends: {raw.id}",
        f"{indent}# The shipped entry now is:",
    ]
    shown = [f"{indent}# {line.removeprefix('- ' if n == 0 else '  ') if listed else line}".rstrip() for n, line in enumerate(own)]
    return "\n".join([*head, *shown]) + "\n"
