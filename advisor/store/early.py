"""Notes that were typed before a case had its complaint, when nobody went on: they wait for the next case of the folder."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from advisor.store.disk import write_whole

WAITING = "notes-waiting.txt"


def waiting(folder: Path) -> tuple[str, ...]:
    """The notes that wait, one a line; none where the file cannot be read."""
    try:
        text = (folder / WAITING).read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ()
    return tuple(line for line in (" ".join(raw.split()) for raw in text.split("\n")) if line)


def keep(folder: Path, notes: Sequence[str]) -> None:
    """These notes wait, and no others. Raises StoreError."""
    if notes:
        write_whole(folder / WAITING, "".join(f"{' '.join(note.split())}\n" for note in notes).encode())
        return
    with suppress(OSError):
        (folder / WAITING).unlink()
