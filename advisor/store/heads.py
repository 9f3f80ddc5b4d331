"""How far each case of a folder goes, kept beside the cases so that a sync reads only those that changed since the last one.

It is a help and no part of any case. An entry counts only as long as its file is the same one, as long and as old as when
it was read. What is sent is read and checked again, whatever stands here.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Final, Literal

from pydantic import BaseModel, ValidationError

from advisor.errors import StoreError
from advisor.store.disk import Stamp, write_whole

NAME: Final = ".heads"

Head = tuple[Stamp, int, str]  # of a file: its stamp, its events, and the SHA-256 of its last line


class _Heads(BaseModel):
    format: Literal[1] = 1
    cases: dict[str, Head] = {}


def heads(data: bytes) -> list[str]:
    """SHA-256 of every complete line of a case, the header first."""
    return [sha256(line).hexdigest() for line in data.split(b"\n")[:-1]]


def read_heads(folder: Path) -> dict[str, Head]:
    """What was kept; nothing where it cannot be read."""
    with suppress(OSError, ValidationError, ValueError):
        return _Heads.model_validate_json((folder / NAME).read_bytes()).cases
    return {}


def keep_heads(folder: Path, cases: Mapping[str, Head]) -> None:
    """Writes it whole, or leaves it: a full or read-only disk is no reason not to go on."""
    with suppress(StoreError):
        write_whole(folder / NAME, _Heads(cases=dict(cases)).model_dump_json().encode())
