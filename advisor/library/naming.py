"""Names that entries use: each must be among those there are, and nobody is blamed for an entry with errors of its own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Protocol

from advisor.errors import Problem, nearest
from advisor.library.reader import Path_


class Spot(Protocol):
    """Where an entry stands. `broken` are ids of entries that exist but have errors of their own."""

    @property
    def broken(self) -> set[str]: ...

    def problem(self, path: Path_, what: str, hint: str = "") -> Problem: ...


Found = Iterator[Problem]


def known(spot: Spot, path: Path_, name: str, kind: str, among: Iterable[str]) -> Found:
    """A problem where a name is not among those there are."""
    names = among if isinstance(among, dict) else list(among)
    if name not in names and name not in spot.broken:
        yield spot.problem(path, f"no {kind} '{name}'", nearest(name, names))


def all_known(spot: Spot, key: Path_, names: Iterable[str], kind: str, among: Iterable[str]) -> Found:
    """A problem for each of several names that is not among those there are."""
    for i, name in enumerate(names):
        yield from known(spot, (*key, i), name, kind, among)
