"""What the list of cases shows of each, kept beside the cases so that a full folder need not be read whole again.

It is a help and no part of any case. An entry counts only as long as its file is the same one, as long and as old as when
it was read; everything else is read again.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Final, Literal, NamedTuple

from pydantic import BaseModel, ValidationError

from advisor.errors import StoreError
from advisor.store.disk import Stamp, write_whole

NAME: Final = "list-of-cases"
WORTH_KEEPING: Final = 20  # cases that were read anew from which on it is written again


class CaseInfo(NamedTuple):
    """One line of the list of cases; `trouble` says why a case cannot be read, or what was cut short in it."""

    case_id: str
    created: datetime | None = None
    changed: datetime | None = None
    events: int = 0
    complaint: str = ""
    machine: str = ""  # title in the machine file; empty without one
    closed: bool = False
    trouble: str = ""


# A file's stamp and what the list shows of it, in the order of `CaseInfo` from `created` to `closed`. A full folder has 20,000.
Listed = tuple[Stamp, datetime, datetime | None, int, str, str, bool]


def listed(stamp: Stamp, info: CaseInfo) -> Listed | None:
    """A line to be kept with its file's stamp; None for a case in trouble, which is looked at each time."""
    if info.created is None or info.trouble:
        return None
    return stamp, info.created, info.changed, info.events, info.complaint, info.machine, info.closed


class Listing(BaseModel):
    """The file; `format` changes with what a line holds."""

    format: Literal[2] = 2
    cases: dict[str, Listed] = {}


def read_listing(folder: Path) -> Listing:
    """What was kept; nothing where it cannot be read."""
    with suppress(OSError, ValidationError, ValueError):
        return Listing.model_validate_json((folder / NAME).read_bytes())
    return Listing()


def keep_listing(folder: Path, cases: dict[str, Listed]) -> None:
    """Writes it whole, or leaves it: a full or read-only disk is no reason not to list."""
    with suppress(StoreError):
        write_whole(folder / NAME, Listing(cases=cases).model_dump_json().encode())
