"""Where cases are kept: what every home of them can do, and the folder of case files as one. Databases are in `database.py`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from advisor.errors import AdvisorError
from advisor.store.folder import CaseStore
from advisor.store.heads import Head, heads, keep_heads, read_heads
from advisor.store.lines import own_id
from advisor.store.listing import WORTH_KEEPING
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

    def held(self, cases: Sequence[Kept]) -> frozenset[Kept]:
        """Those of which some continuation here has every line."""

    def lines(self, names: Sequence[str]) -> dict[str, bytes | AdvisorError]:
        """The complete lines of each case, its hash chain checked; or why it cannot be had. Raises StoreError."""

    def take(self, cases: Mapping[str, bytes]) -> list[Taken | AdvisorError]:
        """Adds cases, extends those here, or keeps them beside ones that went on otherwise. Doing it again changes nothing.

        Each case is taken in whole, or refused where its lines are not what was written; the others come in all the same.
        Raises StoreError: nothing that was not whole is there then, and the rest comes with the next try.
        """


@dataclass
class FolderHome:
    """The folder of case files as a home."""

    store: CaseStore
    _heads: dict[str, list[str]] = field(default_factory=dict)  # by the name under which a case is kept
    _last: dict[str, Head] = field(default_factory=dict)  # the ends of cases whose files did not change

    @property
    def name(self) -> str:
        return str(self.store.folder)

    def kept(self, since: int = 0) -> Listing:
        before, kept, left_out, anew = read_heads(self.store.folder), [], [], 0
        self._last = {}
        for case_id, stamp in self.store.stamps():
            known = before.get(case_id)
            if known is None or known[0] != stamp:
                try:
                    lines, anew = heads(complete_lines(self.store, case_id)), anew + 1
                except AdvisorError as error:
                    left_out.append((case_id, error.what))
                    continue
                known = (stamp or (0, 0, 0), len(lines) - 1, lines[-1])
                self._heads[case_id] = lines
            self._last[case_id] = known
            kept.append(Kept(case_id, *known[1:]))
        if anew >= WORTH_KEEPING:
            keep_heads(self.store.folder, self._last)
        return Listing(tuple(kept), tuple(left_out))

    def held(self, cases: Sequence[Kept]) -> frozenset[Kept]:
        return frozenset(case for case in cases if self._holds(case))

    def _holds(self, case: Kept) -> bool:
        known = self._last.get(case.kept_as)
        if known is not None and known[1:] == (case.events, case.head):
            return True
        return any(len(h) > case.events and h[case.events] == case.head for h in self._continuations(own_id(case.kept_as)))

    def _continuations(self, own: str) -> Iterator[list[str]]:
        number = 1
        while (name := own if number == 1 else f"{own}.{number}") in self._heads or self.store.path(name).exists():
            if name not in self._heads:
                with suppress(AdvisorError):  # one that is damaged holds nothing, so its good lines are fetched beside it
                    self._heads[name] = heads(complete_lines(self.store, name))
            yield self._heads.get(name, [])
            number += 1

    def lines(self, names: Sequence[str]) -> dict[str, bytes | AdvisorError]:
        found: dict[str, bytes | AdvisorError] = {}
        for name in names:
            try:
                found[name] = complete_lines(self.store, name)
            except AdvisorError as error:
                found[name] = error
        return found

    def take(self, cases: Mapping[str, bytes]) -> list[Taken | AdvisorError]:
        taken: list[Taken | AdvisorError] = []
        for one in take_in(self.store, cases):
            self._heads.pop(one.kept_as, None)
            self._last.pop(one.kept_as, None)
            taken.append(one)
        return taken


def folder_home(folder: Path | None) -> FolderHome:
    """The user's own folder of cases, or the one named."""
    return FolderHome(CaseStore(folder))
