"""Cases between this computer's folder and a shared home: each side gets what it lacks, in any order, any number of times."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from pydantic import AwareDatetime, BaseModel, ValidationError

from advisor.errors import AdvisorError, CaseDamaged, InputError
from advisor.store.disk import write_whole
from advisor.store.home import Home
from advisor.store.transfer import Taken

STATE = ".sync"  # in the folder: when it was last in step with which home, and how far that one was read


@dataclass(frozen=True)
class Moved:
    """One case that went over, or did not; `why` says why not."""

    way: Literal["sent", "fetched", "kept-out"]
    case_id: str
    taken: Taken | None = None
    why: str = ""


class InStep(BaseModel):
    """When a folder was last in step with a home; `until` is that home's own count of what had come."""

    at: AwareDatetime
    until: int


class _State(BaseModel):
    homes: dict[str, InStep] = {}


def sync(here: Home, there: Home, since: int = 0) -> Iterator[Moved | int]:
    """Sends and fetches what is missing, a case at a time; ends with what to give as `since` the next time.

    Each case is whole on the other side before the next is begun, so a cut loses nothing and the next run goes on.
    """
    own = here.kept()
    yield from (Moved("kept-out", case_id, why=why) for case_id, why in own.left_out)
    for case in own.kept:
        if not there.holds(case):
            yield _carried("sent", case.kept_as, here, there)
    theirs = there.kept(since)
    until, open_here = theirs.until, False
    yield from (Moved("kept-out", case_id, why=why) for case_id, why in theirs.left_out)
    for case in theirs.kept:
        if not here.holds(case):
            moved = _carried("fetched", case.kept_as, there, here)
            open_here |= moved.way == "kept-out" or (moved.taken is not None and moved.taken.did == "locked")
            yield moved
    yield since if open_here else until  # what could not be taken in is asked for again


def _carried(way: Literal["sent", "fetched"], case_id: str, source: Home, target: Home) -> Moved:
    try:
        return Moved(way, case_id, target.take(case_id, source.lines(case_id)))
    except (CaseDamaged, InputError) as error:
        return Moved("kept-out", case_id, why=error.what)


def in_step(folder: Path) -> dict[str, InStep]:
    """When the folder was last in step, by the name of the home; empty when never, or when that is not known."""
    try:
        return _State.model_validate_json((folder / STATE).read_bytes()).homes
    except (OSError, ValidationError):
        return {}


def keep_in_step(folder: Path, home: str, at: datetime, until: int) -> None:
    """Keeps when the folder was in step with a home. Raises StoreError."""
    try:
        state = _State(homes={**in_step(folder), home: InStep(at=at, until=until)})
        write_whole(folder / STATE, state.model_dump_json().encode())
    except AdvisorError:
        if folder.is_dir():
            raise
