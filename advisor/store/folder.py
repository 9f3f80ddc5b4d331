"""A folder of case files: one `<case>.jsonl` a case, `<case>.lock` beside it while and after it was open for writing.

An event is on the disk (flushed and fsynced) before `append` returns. A last line without its newline is what a power
cut leaves; it is moved to `<case>.torn-N` before anything is appended, because appending to it would spoil both lines.
Reading takes no lock.
"""

from __future__ import annotations

import difflib
import os
import secrets
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from hashlib import sha256
from itertools import product
from pathlib import Path
from tempfile import TemporaryFile
from types import TracebackType
from typing import TYPE_CHECKING, Self

from pydantic import BaseModel

from advisor.errors import AdvisorError, CaseDamaged, CaseLocked, Location, NotFound, Problem, StoreError
from advisor.model.case import Case, Event, KnowledgeChanged, Opened, fold
from advisor.store.disk import append, move_tail_aside, reported, write_whole
from advisor.store.lines import ABOVE, Contents, Header, event_line, header_line, scan

if TYPE_CHECKING:
    from filelock import BaseFileLock

SUFFIX = ".jsonl"
RANKING = ".ranking"
# Letters and digits that are not mistaken for one another on a dirty screen or in handwriting.
_LETTERS = "acdefhjkmnprtuvwxy"
_DIGITS = "23456789"


class _Kept(BaseModel):
    """The ranking that was shown last, and the knowledge it came from."""

    knowledge: str
    ranking: dict[str, float]


@dataclass(frozen=True)
class StoredCase:
    """A case as its file holds it; messages say what was found that needs telling."""

    case_id: str
    path: Path
    created: datetime
    knowledge_digest: str  # of the knowledge the case goes on with
    case: Case
    messages: tuple[str, ...] = ()


@dataclass(frozen=True)
class CaseInfo:
    """One line of the list of cases; `trouble` says why a case cannot be read, or what was cut short in it."""

    case_id: str
    path: Path
    created: datetime | None = None
    changed: datetime | None = None
    events: int = 0
    complaint: str = ""
    machine: str = ""  # title in the machine file; empty without one
    closed: bool = False
    trouble: str = ""


@dataclass(frozen=True)
class Verified:
    """What recomputing a file's hashes gave."""

    case_id: str
    path: Path
    good: int  # events before the first that is not as it was written; all of them without a problem
    head: str  # SHA-256 of the last line that could be read
    sealed: bool  # the last line carries its own hash, so that a change of it would show
    problem: Problem | None = None


class OpenCase:
    """A case open for writing; a context manager that holds its lock until it is closed."""

    def __init__(self, stored: StoredCase, lock: BaseFileLock, size: int, last_line: bytes) -> None:
        self._stored = stored
        self._lock = lock
        self._size = size
        self._last_line = last_line

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

    def append(self, event: Event, now: datetime) -> None:
        """Writes one event with the time `now` (aware); when this returns, it is on the disk.

        Raises InputError for an event no file can hold and StoreError when it could not be written; the file and the
        case are then as they were. Raises ValueError when the case was closed.
        """
        if not self._lock.is_locked:
            raise ValueError("the case was closed")
        line, kept = event_line(len(self.case.events), event, now, self._last_line)
        append(self._stored.path, line + b"\n", self._size)
        self._size += len(line) + 1
        self._last_line = line
        self._stored = _with_events(self._stored, (*self.case.events, kept))

    def close(self) -> None:
        """Lets go of the lock; closing twice does nothing."""
        self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()


class CaseStore:
    """The cases of one folder; without one, the user's own data folder. The folder is made with the first case."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = default_folder() if folder is None else folder

    def list(self) -> tuple[CaseInfo, ...]:
        """Every case, newest first; one that cannot be read stands in the list with its trouble."""
        rows = [(self._info(case_id), self.path(case_id)) for case_id in self.ids()]
        rows.sort(key=lambda row: (_sort_time(*row), row[0].case_id), reverse=True)
        return tuple(info for info, _ in rows)

    def newest(self) -> str:
        """The id of the case created last that can be read. Raises NotFound when there is none."""
        for info in self.list():
            if info.created is not None:
                return info.case_id
        raise NotFound(f"there is no case in {self.folder}", "Open one with: advisor start")

    def resolve(self, text: str) -> str:
        """The one case id that is `text`, begins with it, or has it after the dash. Raises NotFound."""
        ids = self.ids()
        wanted = text.strip().lower()
        if wanted in ids:
            return wanted
        found = [i for i in ids if wanted and (i.startswith(wanted) or i.endswith("-" + wanted))]
        if len(found) == 1:
            return found[0]
        if found:
            shown = ", ".join(found[:5]) + (", ..." if len(found) > 5 else "")
            raise NotFound(f"{text!r} fits {len(found)} cases: {shown}", "Type more of the id.")
        near = difflib.get_close_matches(wanted, ids, n=1)
        hint = f"Did you mean {near[0]}?" if near else "See them all with: advisor cases"
        raise NotFound(f"there is no case {text!r} in {self.folder}", hint)

    def read(self, case_id: str) -> StoredCase:
        """A case as it is now, without a lock. Raises NotFound, CaseDamaged, CaseNewer, StoreError."""
        case_id = self.resolve(case_id)
        contents, _ = self._scan(case_id)
        stored = self._stored(case_id, contents)
        if not contents.tail:
            return stored
        message = (
            f"{stored.path}: the last line is not complete ({len(contents.tail)} bytes) and is left out; "
            "it is being written now, or was cut short"
        )
        return replace(stored, messages=(message,))

    def verify(self, case_id: str) -> Verified:
        """Recomputes every hash of a case's file. Raises NotFound, CaseNewer, StoreError."""
        case_id = self.resolve(case_id)
        contents, data = self._scan(case_id)
        problem, path = contents.problem, self.path(case_id)
        if problem is None and contents.tail:
            problem = Problem(Location(str(path), data.count(b"\n") + 1, 1), "the line is not complete")
        good = len(contents.events)
        if problem is not None and problem.what == ABOVE:
            good = max(0, good - 1)
        return Verified(case_id, path, good, sha256(contents.last_line).hexdigest(), contents.sealed, problem)

    def keep_ranking(self, case_id: str, digest: str, ranking: dict[str, float]) -> None:
        """Keeps the ranking shown last, with the knowledge it came from, beside the case; the caller holds its lock."""
        data = _Kept(knowledge=digest, ranking=ranking).model_dump_json().encode()
        write_whole(self.path(case_id).with_suffix(RANKING), data)

    def kept_ranking(self, case_id: str, digest: str) -> dict[str, float]:
        """The ranking shown last with this knowledge; empty when none was kept."""
        try:
            kept = _Kept.model_validate_json(self.path(case_id).with_suffix(RANKING).read_bytes())
        except (OSError, ValueError):
            return {}  # it is a help, and no part of the case
        return kept.ranking if kept.knowledge == digest else {}

    def open(self, case_id: str) -> OpenCase:
        """Opens a case for writing and moves a torn last line aside.

        Raises NotFound, CaseLocked, CaseDamaged, CaseNewer, StoreError.
        """
        case_id = self.resolve(case_id)
        lock = self.locked(case_id)
        try:
            contents, data = self._scan(case_id)
            stored = self._stored(case_id, contents)
            size = len(data) - len(contents.tail)
            if contents.tail:
                torn = move_tail_aside(stored.path, contents.tail, size)
                cut = f"the last line was cut short ({len(contents.tail)} bytes) and was moved to {torn.name}"
                stored = replace(stored, messages=(f"{stored.path}: {cut}",))
            return OpenCase(stored, lock, size, contents.last_line)
        except BaseException:
            lock.release()
            raise

    def create(self, opened: Opened, knowledge_digest: str, now: datetime) -> OpenCase:
        """Makes a case with its first event. `now` is aware; the id carries its date in its own time zone.

        Raises InputError, StoreError.
        """
        self.make()
        case_id, lock = self._claim(now)
        try:
            path = self.path(case_id)
            header = Header(case=case_id, knowledge=knowledge_digest, created=now.astimezone(UTC))
            first = header_line(header)
            line, kept = event_line(0, opened, now, first)
            data = first + b"\n" + line + b"\n"
            write_whole(path, data)
            stored = StoredCase(case_id, path, header.created, knowledge_digest, Case((kept,)))
            return OpenCase(stored, lock, len(data), line)
        except BaseException:
            lock.release()
            raise

    def make(self) -> None:
        """Makes the folder where it is not there yet. Raises StoreError."""
        with reported("make the folder", self.folder):
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)

    def prove_writable(self) -> None:
        """Makes the folder, and a file in it that goes again. Raises StoreError where no case could be kept."""
        self.make()
        with reported("write in", self.folder), TemporaryFile(dir=self.folder) as file:
            file.write(bytes(4096))
            file.flush()
            os.fsync(file.fileno())

    def path(self, case_id: str) -> Path:
        """Where a case's file lies, or would lie."""
        return self.folder / (case_id + SUFFIX)

    def ids(self) -> tuple[str, ...]:
        """The ids of all case files, readable or not, sorted."""
        with reported("read the folder", self.folder):
            try:
                names = [entry.name for entry in os.scandir(self.folder) if entry.is_file()]
            except FileNotFoundError:
                return ()
        return tuple(sorted(name.removesuffix(SUFFIX) for name in names if name.endswith(SUFFIX)))

    def _scan(self, case_id: str) -> tuple[Contents, bytes]:
        path = self.path(case_id)
        with reported("read", path):
            data = path.read_bytes()
        return scan(str(path), case_id, data), data

    def _stored(self, case_id: str, contents: Contents) -> StoredCase:
        if contents.problem is not None:
            raise CaseDamaged(str(contents.problem))
        assert contents.header is not None  # a file without a header has a problem
        header = contents.header
        stored = StoredCase(case_id, self.path(case_id), header.created, header.knowledge, Case())
        return _with_events(stored, contents.events)

    def _info(self, case_id: str) -> CaseInfo:
        path = self.path(case_id)
        try:
            stored = self.read(case_id)
        except AdvisorError as error:
            return CaseInfo(case_id, path, trouble=error.what)
        state = fold(stored.case)
        machine = state.opened.machine if state.opened else None
        return CaseInfo(
            case_id,
            path,
            stored.created,
            stored.case.events[-1].at,
            len(stored.case.events),
            state.opened.complaint if state.opened else "",
            str(machine.get("title", "")) if machine else "",
            state.closed is not None,
            " ".join(stored.messages),
        )

    def _claim(self, now: datetime) -> tuple[str, BaseFileLock]:
        """A case id that nobody uses, and its lock."""
        dice = secrets.SystemRandom()
        pairs, triples = list(product(_LETTERS, _DIGITS)), list(product(_LETTERS, _DIGITS, _LETTERS))
        for suffix in (*dice.sample(pairs, len(pairs)), *dice.sample(triples, len(triples))):
            case_id = f"{now:%Y%m%d}-{''.join(suffix)}"
            if self.path(case_id).exists():
                continue
            with suppress(CaseLocked):
                lock = self.locked(case_id)
                if not self.path(case_id).exists():  # another process may have made it a moment ago
                    return case_id, lock
                lock.release()
        raise StoreError(f"{self.folder} has no case id left for today")

    def locked(self, case_id: str) -> BaseFileLock:
        """The lock of a case, held. Raises CaseLocked, StoreError."""
        from filelock import FileLock, Timeout

        # No soft fallback: a marker file would stay behind after a crash and lock the case for ever.
        lock = FileLock(self.folder / f"{case_id}.lock", timeout=0, mode=0o600, thread_local=False, fallback_to_soft=False)
        with reported("lock a case in", self.folder):
            try:
                lock.acquire()
            except Timeout as error:
                raise CaseLocked(f"case {case_id} is open in another window or process") from error
        return lock


def default_folder() -> Path:
    """Where the user's own data lie on this system."""
    from platformdirs import user_data_dir

    return Path(user_data_dir("advisor", appauthor=False))


def _with_events(stored: StoredCase, events: tuple[Event, ...]) -> StoredCase:
    """The stored case with these events; the newest change of knowledge is the one it goes on with."""
    digests = [event.digest for event in events if isinstance(event, KnowledgeChanged)]
    return replace(stored, case=Case(events), knowledge_digest=digests[-1] if digests else stored.knowledge_digest)


def _sort_time(info: CaseInfo, path: Path) -> float:
    """When the case was created; for one that cannot be read, when its file was last written."""
    if info.created is not None:
        return info.created.timestamp()
    with suppress(OSError):
        return path.stat().st_mtime
    return 0.0
