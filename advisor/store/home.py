"""Where cases are kept: what every home of them can do, and the folder of case files as one. Databases are in `database.py`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Protocol

from advisor.errors import AdvisorError
from advisor.store.folder import CaseStore
from advisor.store.lines import own_id
from advisor.store.transfer import Taken, complete_lines, take_in


@dataclass(frozen=True)
class Kept:
    """One continuation of a case in a home. `head` is the SHA-256 of its last line: it says which case, and how far."""

    kept_as: str
    events: int
    head: str


@dataclass(frozen=True)
class Listing:
    """What a home keeps; `left_out` are cases that cannot be read, with why. `until` goes into the next `kept`."""

    kept: tuple[Kept, ...]
    left_out: tuple[tuple[str, str], ...] = ()
    until: int = 0


class Home(Protocol):
    """A home of cases. Cases only grow: nothing in it is written over or taken out."""

    @property
    def name(self) -> str:
        """How it is named to people; never with a password."""

    def kept(self, since: int = 0) -> Listing:
        """What is kept; of a database only what came since an earlier listing, and perhaps some of what was in it."""

    def holds(self, case: Kept) -> bool:
        """Whether some continuation here has every line of this one."""

    def lines(self, kept_as: str) -> bytes:
        """The complete lines of a case, its hash chain checked. Raises CaseDamaged, StoreError."""

    def take(self, case_id: str, data: bytes) -> Taken:
        """Adds a case, extends the one here, or keeps it beside one that went on otherwise. Doing it again changes nothing.

        Raises InputError for lines that are not what was written, StoreError.
        """


def heads(data: bytes) -> list[str]:
    """SHA-256 of every complete line of a case, the header first."""
    return [sha256(line).hexdigest() for line in data.split(b"\n")[:-1]]


@dataclass
class FolderHome:
    """The folder of case files as a home."""

    store: CaseStore
    _heads: dict[str, list[str]] = field(default_factory=dict)  # by the name under which a case is kept

    @property
    def name(self) -> str:
        return str(self.store.folder)

    def kept(self, since: int = 0) -> Listing:
        kept, left_out = [], []
        for case_id in self.store.ids():
            try:
                self._heads[case_id] = heads(self.lines(case_id))
            except AdvisorError as error:
                left_out.append((case_id, error.what))
                continue
            kept.append(Kept(case_id, len(self._heads[case_id]) - 1, self._heads[case_id][-1]))
        return Listing(tuple(kept), tuple(left_out))

    def holds(self, case: Kept) -> bool:
        return any(len(h) > case.events and h[case.events] == case.head for h in self._continuations(own_id(case.kept_as)))

    def _continuations(self, own: str) -> Iterator[list[str]]:
        number = 1
        while (name := own if number == 1 else f"{own}.{number}") in self._heads or self.store.path(name).exists():
            if name not in self._heads:
                self._heads[name] = heads(self.lines(name))
            yield self._heads[name]
            number += 1

    def lines(self, kept_as: str) -> bytes:
        return complete_lines(self.store, kept_as)

    def take(self, case_id: str, data: bytes) -> Taken:
        (taken,) = take_in(self.store, {case_id: data})
        self._heads.pop(taken.kept_as, None)
        return taken


def folder_home(folder: Path | None) -> FolderHome:
    """The user's own folder of cases, or the one named."""
    return FolderHome(CaseStore(folder))
