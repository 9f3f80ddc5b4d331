"""Cases to another computer and back, without loss: an archive of case files, and what becomes of each where it arrives.

An archive is a zip of the complete lines of each case file, `<case>.jsonl`, and `manifest.json` with their SHA-256. What
comes in is looked at whole before anything is written, and nothing in the archive says where it is written to.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from advisor.errors import AdvisorError, CaseLocked, InputError, NotFound, StoreError, UsageError
from advisor.store.disk import append, move_tail_aside, new_file, reported, write_whole
from advisor.store.folder import SUFFIX, CaseStore
from advisor.store.lines import own_id, parted, scan

MANIFEST: Final = "manifest.json"
_NAME: Final = re.compile(r"[0-9]{8}-[a-z0-9]{2,7}(\.[0-9]{1,4})?\.jsonl")
# Far above any workshop's cases, and far below what would fill a disk or the memory.
MOST_CASES: Final = 20_000
MOST_BYTES: Final = 16 * 2**20  # of one case
MOST_IN_ALL: Final = 512 * 2**20
_UNREADABLE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError)
_DAMAGED_HINT = "Export the cases again and copy the file whole; nothing was changed here."


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    file: str
    sha256: str


class _Manifest(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal[1] = 1
    cases: tuple[_Entry, ...]


Did = Literal["added", "same", "longer-here", "extended", "beside", "locked"]


@dataclass(frozen=True)
class Taken:
    """What became of one case of an archive."""

    case_id: str  # in the archive
    kept_as: str  # here
    did: Did
    events: int  # in the archive
    alike: int = 0  # events at the beginning that both have, for `beside`; events there were before, for `extended`


@dataclass(frozen=True)
class Sent:
    """What went into an archive; `left_out` are cases that cannot be read, with why."""

    cases: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]
    bytes: int


def send(store: CaseStore, file: Path, case_ids: Sequence[str]) -> Sent:
    """Writes an archive of these cases. Raises UsageError when the file is there, StoreError when it cannot be written."""
    files: dict[str, bytes] = {}
    left_out = []
    for case_id in case_ids:
        try:
            files[case_id + SUFFIX] = complete_lines(store, case_id)
        except AdvisorError as error:
            left_out.append((case_id, error.what))
    manifest = _Manifest(cases=tuple(_Entry(file=n, sha256=sha256(d).hexdigest()) for n, d in files.items()))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in ((MANIFEST, manifest.model_dump_json(indent=1).encode()), *files.items()):
            entry = zipfile.ZipInfo(name)  # of 1980, so that the same cases make the same archive
            entry.external_attr = 0o600 << 16
            archive.writestr(entry, data, zipfile.ZIP_DEFLATED)
    whole = packed.getvalue()
    try:
        new_file(file, whole)
    except FileExistsError:
        raise UsageError(f"{file} is there already", "Choose another name; nothing is written over.") from None
    return Sent(tuple(n.removesuffix(SUFFIX) for n in files), tuple(left_out), len(whole))


def complete_lines(store: CaseStore, case_id: str) -> bytes:
    """The complete lines of a readable case."""
    store.read(case_id)  # refuses a damaged one
    path = store.path(case_id)
    if _NAME.fullmatch(path.name) is None:  # a copy made by hand: where it arrives, nobody takes that name
        raise StoreError(f"{path} is a copy with a name of its own; the name {own_id(case_id)}.2{SUFFIX} travels")
    with reported("read", path):
        data = path.read_bytes()
    if len(data) > MOST_BYTES:
        raise StoreError(f"{path} is larger than an archive takes ({MOST_BYTES // 2**20} MB a case)")
    return parted(data)[0]


def unpack(file: Path) -> dict[str, bytes]:
    """The case files of an archive by case id, each complete and unbroken.

    Raises NotFound, and InputError for anything but a whole archive of cases; CaseNewer for one by a newer program.
    """
    if not file.is_file():
        raise NotFound(f"there is no file {file}", "Name the file that advisor cases --export wrote.")
    try:
        with zipfile.ZipFile(file) as archive:
            contents = dict(_entries(file, archive))
    except _UNREADABLE:
        raise InputError(f"{file} is not a whole archive of cases", _DAMAGED_HINT) from None
    try:
        manifest = _Manifest.model_validate_json(contents.pop(MANIFEST, b""))
    except ValidationError:
        raise InputError(f"{file} holds no list of its cases that can be read", _DAMAGED_HINT) from None
    listed = {entry.file: entry.sha256 for entry in manifest.cases}
    if len(listed) != len(manifest.cases) or listed.keys() != contents.keys():
        raise InputError(f"{file} does not hold the cases that it lists", _DAMAGED_HINT)
    cases = {}
    for name, data in sorted(contents.items()):
        case_id = name.removesuffix(SUFFIX)
        if sha256(data).hexdigest() != listed[name]:
            raise InputError(f"{file}: {name} is not as it was packed", _DAMAGED_HINT)
        found = scan(f"{file}: {name}", case_id, data)
        if found.problem is not None or found.tail:
            what = found.problem or f"{file}: {name}: the last line is not complete"
            raise InputError(str(what), _DAMAGED_HINT)
        cases[case_id] = data
    return dict(sorted(cases.items()))


def _entries(file: Path, archive: zipfile.ZipFile) -> Iterator[tuple[str, bytes]]:
    """Names and contents, none of them larger than it may be."""
    entries = archive.infolist()
    if len(entries) > MOST_CASES + 1:
        raise InputError(f"{file} holds {len(entries)} files, more than an archive of cases", _DAMAGED_HINT)
    seen: set[str] = set()
    left = MOST_IN_ALL
    for entry in entries:
        linked = (entry.external_attr >> 16) & 0o170000 == 0o120000
        if linked or entry.filename in seen or (entry.filename != MANIFEST and _NAME.fullmatch(entry.filename) is None):
            raise InputError(f"{file} holds {entry.filename[:60]!r}, which is no case file", "It was not written by this program.")
        seen.add(entry.filename)
        most = min(MOST_BYTES, left)
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) or entry.file_size > most:
            raise InputError(f"{file}: {entry.filename} is larger than any case or packed in another way", _DAMAGED_HINT)
        with archive.open(entry) as packed:
            data = packed.read(most + 1)  # its true size may not be the one it names
        if len(data) > most:
            raise InputError(f"{file}: {entry.filename} is larger than it says", _DAMAGED_HINT)
        left -= len(data)
        yield entry.filename, data


def take_in(store: CaseStore, cases: Mapping[str, bytes]) -> Iterator[Taken]:
    """Takes in every case of an unpacked archive: new ones are added, longer ones extend, others are kept beside."""
    if cases:
        store.make()
    wanted = {own_id(case_id) for case_id in cases}
    here: dict[str, list[str]] = {own: [] for own in wanted}
    for name in store.ids() if cases else ():
        # A copy that somebody made by hand in the folder has a name of its own and is left alone.
        if own_id(name) in wanted and _NAME.fullmatch(name + SUFFIX):
            here[own_id(name)].append(name)
    for case_id, data in cases.items():
        taken = _take(store, case_id, data, sorted(here[own_id(case_id)], key=_number))
        if taken.did in ("added", "beside"):
            here[own_id(case_id)].append(taken.kept_as)
        yield taken


def _take(store: CaseStore, case_id: str, data: bytes, here: Sequence[str]) -> Taken:
    events = data.count(b"\n") - 1
    own = own_id(case_id)
    best, alike = own, 0
    for there in here:
        old, _ = _lines(store.path(there))
        if old.startswith(data):
            return Taken(case_id, there, "same" if old == data else "longer-here", events)
        if data.startswith(old):
            return _extended(store, case_id, there, data)
        alike = max(alike, _alike(old, data))
    number = 2
    while best in here:
        best, number = f"{own}.{number}", number + 1
    try:
        with _holding(store, best):
            if store.path(best).exists():  # another process may have made it a moment ago
                raise CaseLocked(f"case {best} is being written")
            write_whole(store.path(best), data)
    except CaseLocked:
        return Taken(case_id, best, "locked", events)
    return Taken(case_id, best, "beside" if here else "added", events, alike)


def _extended(store: CaseStore, case_id: str, there: str, data: bytes) -> Taken:
    """Adds the lines that a case here lacks, under its lock."""
    events, path = data.count(b"\n") - 1, store.path(there)
    try:
        with _holding(store, there):
            old, tail = _lines(path)
            if not data.startswith(old):
                return Taken(case_id, there, "locked", events)  # written to since it was looked at
            if tail:
                move_tail_aside(path, tail, len(old))
            append(path, data[len(old) :], old, None)
    except CaseLocked:
        return Taken(case_id, there, "locked", events)
    return Taken(case_id, there, "extended", events, old.count(b"\n") - 1)


@contextmanager
def _holding(store: CaseStore, case_id: str) -> Iterator[None]:
    lock = store.locked(case_id)
    try:
        yield
    finally:
        lock.release()


def _lines(path: Path) -> tuple[bytes, bytes]:
    """The whole replies of a file, and what stands behind them."""
    with reported("read", path):
        return parted(path.read_bytes())


def _number(case_id: str) -> int:
    return int(case_id.partition(".")[2] or 1)


def _alike(one: bytes, other: bytes) -> int:
    """Events at the beginning that are the same in both; the header is none."""
    same = 0
    for a, b in zip(one.split(b"\n"), other.split(b"\n"), strict=False):
        if a != b:
            break
        same += 1
    return max(0, same - 1)
