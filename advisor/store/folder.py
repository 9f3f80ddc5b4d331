"""A folder of case files: one `<case>.jsonl` a case, `<case>.lock` beside it while and after it was open for writing.

An event is on the disk (flushed and fsynced) before `append` returns. A last line without its newline is what a power
cut leaves; it is moved to `<case>.torn-N` before anything is appended, because appending to it would spoil both lines.
Reading takes no lock.
"""

from __future__ import annotations

import difflib
import os
import re
import secrets
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from hashlib import sha256
from operator import itemgetter
from pathlib import Path
from tempfile import TemporaryFile
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict

from advisor.errors import AdvisorError, CaseDamaged, CaseLocked, Location, NotFound, Problem, StoreError, UsageError
from advisor.model.case import Case, Opened, fold
from advisor.store import system
from advisor.store.disk import Stamp, move_tail_aside, reported, stamp_of, write_whole
from advisor.store.lines import DIGITS, LETTERS, Contents, Header, check_code, event_line, header_line, own_id, scan
from advisor.store.listing import WORTH_KEEPING, CaseInfo, Listed, keep_listing, listed, read_listing
from advisor.store.open_case import OpenCase, StoredCase, with_events

if TYPE_CHECKING:
    from filelock import BaseFileLock

SUFFIX = ".jsonl"
RANKING = ".ranking"
NEWEST = "begun-last"  # holds the id of the case that was begun last
ID_LENGTH = 7  # after the date: 5,500 million a day, so two laptops of a shop draw the same once in a thousand years
DRAWS = 100  # of an id, before the folder is said to take no more
_ID = re.compile(r"[0-9]{8}-[a-z0-9]{2,7}(\.[0-9]{1,4})?")


class _Kept(BaseModel):
    """The ranking that was shown last, and the knowledge it came from."""

    model_config = ConfigDict(defer_build=True)

    knowledge: str
    ranking: dict[str, float]


@dataclass(frozen=True)
class Verified:
    """What recomputing a file's hashes gave."""

    case_id: str
    path: Path
    good: int  # events before the first that is not as it was written; all of them without a problem
    head: str  # SHA-256 of the last line that could be read
    codes: tuple[str, ...]  # the short check code after each good event, for the job card
    sealed: bool  # the last line carries its own hash, so that a change of it would show
    problem: Problem | None = None


class CaseStore:
    """The cases of one folder; without one, the user's own data folder. The folder is made with the first case."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = default_folder() if folder is None else folder

    def list(self) -> tuple[CaseInfo, ...]:
        """Every case, newest first; one that cannot be read stands in the list with its trouble."""
        kept = read_listing(self.folder).cases
        fresh: dict[str, Listed] = {}
        rows, anew = [], 0
        for case_id, now in self.stamps():
            known = kept.get(case_id)
            if known is not None and known[0] == now:
                rows.append((known[1].timestamp(), case_id, CaseInfo(case_id, *known[1:])))
            else:
                info, anew = self._info(case_id), anew + 1
                known = None if now is None else listed(now, info)
                rows.append((self._sort_time(info), case_id, info))
            if known is not None:
                fresh[case_id] = known
        if anew >= WORTH_KEEPING:
            keep_listing(self.folder, fresh)
        rows.sort(key=itemgetter(0, 1), reverse=True)
        return tuple(info for *_, info in rows)

    def newest(self) -> str:
        """The id of the case begun last that can be read. Raises NotFound when there is none."""
        begun = self._pointed_at()
        if begun is not None:
            return begun
        for info in self.list():
            if info.created is not None:
                return info.case_id
        raise NotFound(f"there is no case in {self.folder}", "Open one with: advisor start")

    def resolve(self, text: str) -> str:
        """The one case id that is `text`, begins with it, or whose part after the dash is it or begins so. Raises NotFound."""
        wanted = text.strip().lower()
        if _ID.fullmatch(wanted) and self.path(wanted).is_file():  # a whole id: a full folder need not be looked through
            return wanted
        ids = self.ids()
        if wanted in ids:
            return wanted
        found = [i for i in ids if wanted and (i.startswith(wanted) or i.endswith("-" + wanted))]
        found = found or [i for i in ids if wanted and i.partition("-")[2].startswith(wanted)]
        if len(found) == 1:
            return found[0]
        if found:
            shown = ", ".join(found[:5]) + (", ..." if len(found) > 5 else "")
            raise NotFound(f"{text!r} fits {len(found)} cases: {shown}", "Type more of the id.")
        near = difflib.get_close_matches(wanted, ids, n=1)
        hint = f"Did you mean {near[0]}?" if near else "See them all with: advisor cases"
        raise NotFound(f"there is no case {text!r} in {self.folder}", hint)

    def read(self, case_id: str, *, damaged: bool = False) -> StoredCase:
        """A case as it is now, without a lock. Raises NotFound, CaseDamaged, CaseNewer, StoreError.

        `damaged`: what stands before a damage is good, and is given with the damage. Without an event it is refused.
        """
        case_id = self.resolve(case_id)
        contents, _ = self._scan(case_id)
        stored = self._stored(case_id, contents, damaged=damaged)
        if stored.damage is not None:
            return replace(stored, messages=(_damage_says(stored),))
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
            line = data.count(b"\n") - contents.tail.count(b"\n") + 1
            problem = Problem(Location(str(path), line, 1), "the line is not complete")
        good = contents.good
        codes = tuple(map(check_code, data.split(b"\n")[1 : 1 + good]))
        return Verified(case_id, path, good, sha256(contents.last_line).hexdigest(), codes, contents.sealed, problem)

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
            return OpenCase(stored, lock, data[:size])
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
            with suppress(StoreError):
                self._point_at(case_id)
            stored = StoredCase(case_id, path, header.created, knowledge_digest, Case((kept,)), check=check_code(line))
            return OpenCase(stored, lock, data)
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
            system.sync(file.fileno())

    def path(self, case_id: str) -> Path:
        """Where a case's file lies, or would lie."""
        return self.folder / (case_id + SUFFIX)

    def ids(self) -> tuple[str, ...]:
        """The ids of all case files, readable or not, sorted."""
        return tuple(entry.name.removesuffix(SUFFIX) for entry in self._entries())

    def _entries(self) -> tuple[os.DirEntry[str], ...]:
        """All case files, sorted by their ids."""
        with reported("read the folder", self.folder):
            try:
                found = [entry for entry in os.scandir(self.folder) if entry.name.endswith(SUFFIX) and entry.is_file()]
            except FileNotFoundError:
                return ()
        return tuple(sorted(found, key=lambda entry: entry.name.removesuffix(SUFFIX)))

    def stamps(self) -> Iterator[tuple[str, Stamp | None]]:
        """Every case id with its file's stamp; None for one that cannot be looked at."""
        for entry in self._entries():
            try:
                found = stamp_of(entry.stat())
            except OSError:
                found = None
            yield entry.name.removesuffix(SUFFIX), found

    def _scan(self, case_id: str) -> tuple[Contents, bytes]:
        path = self.path(case_id)
        with reported("read", path):
            data = path.read_bytes()
        return scan(str(path), case_id, data), data

    def _stored(self, case_id: str, contents: Contents, *, damaged: bool = False) -> StoredCase:
        header, events = contents.header, contents.sound
        if contents.problem is not None and not (damaged and events):
            raise CaseDamaged(str(contents.problem), go_on_hint(case_id) if events else "")
        assert header is not None  # a file without a header has a problem
        stored = StoredCase(case_id, self.path(case_id), header.created, header.knowledge, Case(), damage=contents.problem)
        stored = replace(stored, check=check_code(contents.last_line))
        return with_events(stored, events)

    def copy_sound(self, case_id: str) -> str:
        """Copies what stands before a damage to a case beside it, whose id is returned; the damaged file stays as it is.

        Raises NotFound, CaseDamaged when nothing stands before it, UsageError when there is no damage.
        """
        case_id = self.resolve(case_id)
        contents, data = self._scan(case_id)
        events = contents.sound
        if contents.problem is None:
            raise UsageError(f"case {case_id} is not damaged", f"Go on with: advisor resume {case_id}")
        if not events:
            raise CaseDamaged(str(contents.problem))
        sound = b"".join(line + b"\n" for line in data.split(b"\n")[: 1 + len(events)])
        return self.keep_beside(case_id, sound)

    def keep_beside(self, case_id: str, data: bytes) -> str:
        """Keeps the lines of a case under the first free id beside those of the same case. Raises StoreError."""
        number = 2
        while True:
            name = f"{own_id(case_id)}.{number}"
            with suppress(CaseLocked):
                lock = self.locked(name)
                try:
                    if not self.path(name).exists():
                        write_whole(self.path(name), data)
                        return name
                finally:
                    lock.release()
            number += 1

    def rescue(self, case: OpenCase) -> OpenCase:
        """Writes an open case to this folder, from memory, and goes on with it here. Its file elsewhere stays as it is.

        Raises StoreError; the case is then still open where it was.
        """
        self.prove_writable()
        case_id, path = case.stored.case_id, self.path(case.stored.case_id)
        lock = self.locked(case_id)
        try:
            with reported("read", path):
                there = path.read_bytes() if path.exists() else b""
            if not case.data.startswith(there):
                raise StoreError(f"{path} is another case, or has other answers", "Choose another folder.")
            write_whole(path, case.data)
            moved = OpenCase(replace(case.stored, path=path, messages=()), lock, case.data)
        except BaseException:
            lock.release()
            raise
        with suppress(StoreError):
            self._point_at(case_id)
        with suppress(StoreError):
            case.close()
        return moved

    def _point_at(self, case_id: str) -> None:
        """Remembers which case was begun last: the clock may go back before the next."""
        write_whole(self.folder / NEWEST, case_id.encode())

    def _pointed_at(self) -> str | None:
        """The case begun last, where that is known and it can be read."""
        with suppress(AdvisorError, OSError, UnicodeDecodeError):
            name = (self.folder / NEWEST).read_text(encoding="ascii").strip()
            if _ID.fullmatch(name) and self.path(name).is_file():
                self.read(name)
                return name
        return None

    def _info(self, case_id: str) -> CaseInfo:
        try:
            stored = self.read(case_id, damaged=True)
        except AdvisorError as error:
            return CaseInfo(case_id, trouble=error.what)
        state = fold(stored.case)
        machine = state.opened.machine if state.opened else None
        return CaseInfo(
            case_id,
            stored.created,
            stored.case.events[-1].at,
            len(stored.case.events),
            state.opened.complaint if state.opened else "",
            str(machine.get("title", "")) if machine else "",
            state.closed is not None,
            " ".join(stored.messages),
        )

    def _sort_time(self, info: CaseInfo) -> float:
        """When a case was created; for one that cannot be read, when its file was last written."""
        if info.created is not None:
            return info.created.timestamp()
        with suppress(OSError):
            return self.path(info.case_id).stat().st_mtime
        return 0.0

    def _claim(self, now: datetime) -> tuple[str, BaseFileLock]:
        """A case id that nobody uses, and its lock."""
        signs = LETTERS + DIGITS
        for _ in range(DRAWS):
            suffix = secrets.choice(LETTERS) + "".join(secrets.choice(signs) for _ in range(ID_LENGTH - 1))
            case_id = f"{now:%Y%m%d}-{suffix}"
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


def go_on_hint(case_id: str) -> str:
    """What to do with a case that is damaged after its first event."""
    return f"Go on with what stands before it: advisor resume {case_id} --copy. The damaged file stays as it is."


def _damage_says(stored: StoredCase) -> str:
    count = len(stored.case.events)
    return f"DAMAGED after {count} event{'s' if count > 1 else ''}: {stored.damage}; only what stands before it is shown"


def default_folder() -> Path:
    """Where the user's own data lie on this system."""
    from platformdirs import user_data_dir

    return Path(user_data_dir("advisor", appauthor=False))
