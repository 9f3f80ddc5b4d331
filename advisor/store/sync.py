"""Cases between this computer's folder and a shared home: each side gets what it lacks, in any order, any number of times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final, Literal

from pydantic import AwareDatetime, BaseModel, ValidationError

from advisor.errors import AdvisorError
from advisor.store.disk import write_whole
from advisor.store.home import Home, Kept
from advisor.store.transfer import Taken

# A server has room for some 64 locks a connection, and each case takes one until its load is in.
TOGETHER: Final = 32
EVENTS_TOGETHER: Final = 4000
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
    """Sends and fetches what is missing, some cases at a time; ends with what to give as `since` the next time.

    Those cases are whole on the other side before the next are begun, so a cut loses nothing and the next run goes on.
    """
    own = here.kept()
    yield from (Moved("kept-out", case_id, why=why) for case_id, why in own.left_out)
    yield from _carried("sent", own.kept, here, there)
    theirs = there.kept(since)
    until, open_here = theirs.until, False
    yield from (Moved("kept-out", case_id, why=why) for case_id, why in theirs.left_out)
    for moved in _carried("fetched", theirs.kept, there, here):
        open_here |= moved.way == "kept-out" or (moved.taken is not None and moved.taken.did == "locked")
        yield moved
    yield since if open_here else until  # what could not be taken in is asked for again


def _carried(way: Literal["sent", "fetched"], cases: Sequence[Kept], source: Home, target: Home) -> Iterator[Moved]:
    """Brings over those cases that the target lacks."""
    held = target.held(cases)
    for names in _loads([case for case in cases if case not in held]):
        found = source.lines(names)
        whole = {name: data for name, data in found.items() if isinstance(data, bytes)}
        taken = dict(zip(whole, target.take(whole), strict=True)) if whole else {}
        for name in names:
            what = taken.get(name, found[name])
            assert not isinstance(what, bytes)
            yield Moved("kept-out", name, why=what.what) if isinstance(what, AdvisorError) else Moved(way, name, what)


def _loads(cases: Sequence[Kept]) -> Iterator[list[str]]:
    """The names of cases that go over together."""
    load: list[str] = []
    events = 0
    for case in cases:
        if load and (len(load) == TOGETHER or events + case.events > EVENTS_TOGETHER):
            yield load
            load, events = [], 0
        load.append(case.kept_as)
        events += case.events
    if load:
        yield load


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
