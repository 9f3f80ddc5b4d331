"""A case open for writing: what it holds in memory is what its file holds, or the write is refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from advisor.errors import Problem
from advisor.model.case import Case, Event, KnowledgeChanged
from advisor.store.disk import append, reported, stamp
from advisor.store.lines import check_code, event_line

if TYPE_CHECKING:
    from filelock import BaseFileLock


@dataclass(frozen=True)
class StoredCase:
    """A case as its file holds it; messages say what was found that needs telling."""

    case_id: str
    path: Path
    created: datetime
    knowledge_digest: str  # of the knowledge the case goes on with
    case: Case
    messages: tuple[str, ...] = ()
    check: str = ""  # short code of the last line and of all above it
    damage: Problem | None = None  # what is wrong in the file from here on: the events are those before it


class OpenCase:
    """A case open for writing; a context manager that holds its lock until it is closed."""

    def __init__(self, stored: StoredCase, lock: BaseFileLock, data: bytes) -> None:
        """`data` are the complete lines of the file."""
        self._stored = stored
        self._lock = lock
        self._data = data
        self._stamp = stamp(stored.path)

    @property
    def stored(self) -> StoredCase:
        """Id, path, creation, knowledge and events as they are on the disk now."""
        return self._stored

    @property
    def case(self) -> Case:
        return self._stored.case

    @property
    def messages(self) -> tuple[str, ...]:
        return self._stored.messages

    @property
    def data(self) -> bytes:
        """The lines of the file as this program wrote or read them."""
        return self._data

    def append(self, event: Event, now: datetime) -> None:
        """Writes one event; see `append_all`."""
        self.append_all((event,), now)

    def append_all(self, events: Sequence[Event], now: datetime) -> None:
        """Writes events with the time `now` (aware), all of them or none; when this returns, they are on the disk.

        They are one reply: where a power cut leaves a part of them, none is read.

        Raises InputError for an event no file can hold and StoreError when they could not be written; the file and the
        case are then as they were. Raises ValueError when the case was closed.
        """
        if not self._lock.is_locked:
            raise ValueError("the case was closed")
        last, added, kept = self._last_line, b"", list(self.case.events)
        for rest, event in zip(reversed(range(len(events))), events, strict=True):
            last, read = event_line(len(kept), event, now, last, rest)
            added += last + b"\n"
            kept.append(read)
        self._stamp = append(self._stored.path, added, self._data, self._stamp)
        self._data += added
        self._stored = with_events(replace(self._stored, check=check_code(last)), tuple(kept))

    @property
    def _last_line(self) -> bytes:
        return self._data[self._data.rindex(b"\n", 0, -1) + 1 : -1]

    def close(self) -> None:
        """Lets go of the lock; closing twice does nothing. Raises StoreError."""
        with reported("let go of", self._stored.path):
            self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()


def with_events(stored: StoredCase, events: tuple[Event, ...]) -> StoredCase:
    """The stored case with these events; the newest change of knowledge is the one it goes on with."""
    digests = [event.digest for event in events if isinstance(event, KnowledgeChanged)]
    return replace(stored, case=Case(events), knowledge_digest=digests[-1] if digests else stored.knowledge_digest)
