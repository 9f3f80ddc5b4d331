"""Two faults at once: what an answer says of every two suspects.

What an answer says of two suspects depends on nothing else, so it is worked out once and kept with the space, for the suspects
that have led so far. A case of many answers asks for all of them again after each new one, often with other leaders.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from advisor.reasoning.likelihoods import Space
from advisor.reasoning.witnesses import Witness, by_spot, said_in, table_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ends = NDArray[np.intp]

BLOCK = 8  # columns
LEAST_CHANCE = 1e-12  # of what was said, for two suspects: its logarithm must be a number


@cache
def upper(count: int) -> tuple[list[int], list[int]]:
    """Indices of every two of so many, each pair once."""
    first, second = np.triu_indices(count, k=1)
    return first.tolist(), second.tolist()


def pair_chances(normal: Floats, said: Floats, otherwise: Floats, is_normal: NDArray[np.bool_]) -> Floats:
    """P(what was said | both suspects), shape (answers, members, members).

    For A answers: chance of each one's normal result and of what was said for each member, (A, members); chance of the normal
    result otherwise, (A,); whether what was said is the normal result, (A,).
    """
    return both_chances(
        (normal[:, :, None], normal[:, None, :]), (said[:, :, None], said[:, None, :]), otherwise[:, None, None],
        is_normal[:, None, None],
    )  # fmt: skip


def both_chances(
    normal: tuple[Floats, Floats], said: tuple[Floats, Floats], otherwise: Floats, is_normal: NDArray[np.bool_]
) -> Floats:
    """The same element by element: each of the first two holds the chances for the one suspect and for the other.

    A normal result needs both causes to leave it normal: P(n | s, t) = P(n | s) P(n | t) / P(n | otherwise), but no more than
    the greater of the two: causes that each make it likelier than otherwise do not make it certain together.
    The other results share the rest in proportion to how likely the two causes make them.
    """
    first, second = normal
    both = np.minimum(first * second / otherwise, np.maximum(first, second))
    others = 2.0 - first - second
    possible = others > 1e-12
    rest = np.where(possible, (1.0 - both) / np.where(possible, others, 1.0), 0.0)
    shared = (said[0] + said[1]) * rest
    found: Floats = np.where(is_normal, np.where(possible, both, 1.0), shared)
    return found


def logs_of_pairs(normal: Floats, said: Floats, otherwise: Floats, is_normal: NDArray[np.bool_]) -> Floats:
    """The logarithms of `pair_chances`, each a number."""
    logs: Floats = np.log(np.maximum(pair_chances(normal, said, otherwise, is_normal), LEAST_CHANCE))
    return logs


class Rows:
    """Rows of one array, each found by what it is of; it grows as rows come."""

    def __init__(self, width: int) -> None:
        self.index: dict[Hashable, int] = {}
        self._data = np.empty((64, width))

    @property
    def data(self) -> Floats:
        return self._data[: len(self.index)]

    def add(self, key: Hashable, row: Any) -> int:
        """The number of a new row."""
        at = len(self.index)
        if at == len(self._data):
            self._data = np.concatenate([self._data, np.empty_like(self._data)])
        self._data[at] = row
        self.index[key] = at
        return at


class PairLogs:
    """The log likelihood of every answer so far for every two suspects that have led so far."""

    def __init__(self, space: Space) -> None:
        self._space = space
        count = len(space.suspects)
        self._normal, self._said = Rows(count), Rows(count)  # chance of the normal result, and of what was said
        self._otherwise, self._is_normal = Rows(1), Rows(1)
        self._pairs: dict[tuple[int, int], int] = {}  # and the columns of `_logs` that they stand in
        self._ends = np.empty((0, 2), dtype=np.intp)  # the suspects of each column
        self._logs = np.empty((64, 256))  # with room for more rows and columns
        self._columns: tuple[tuple[int, ...], NDArray[np.intp]] = ((), np.empty(0, dtype=np.intp))

    def row(self, w: Witness) -> int:
        """The number of the row of an answer; its strength does not matter."""
        key = (w.check, w.result, w.place, w.showing, w.further, w.where, w.side)
        known = self._normal.index.get(key)
        if known is not None:
            return known
        check, table = self._space.knowledge.checks[w.check], table_of(self._space, w)
        normal, said = next(i for i, r in enumerate(check.results) if r.normal), said_in(check, w)
        place = by_spot(self._space, w)
        self._said.add(key, table[said] if place is None else table[said] * place)
        self._otherwise.add(key, table[normal, -1])  # the last suspect is `otherwise`
        self._is_normal.add(key, said == normal)
        at = self._normal.add(key, table[normal])
        if at == len(self._logs):
            self._logs = np.concatenate([self._logs, np.empty_like(self._logs)])
        self._logs[at, : len(self._ends)] = self._worked_out(self._ends, slice(at, at + 1))
        return at

    def weighed(self, strengths: Floats, rows: NDArray[np.intp], members: tuple[int, ...]) -> Floats:
        """What these answers, each at its strength, say together of every two of the members, in the order of `upper`."""
        if self._columns[0] != members:
            pairs = [(members[i], members[j]) for i, j in zip(*upper(len(members)), strict=True)]
            self._columns = (members, self._columns_of(pairs))
        columns = self._columns[1]
        starts = rows[:, None] * self._logs.shape[1]
        found: Floats = strengths @ self._logs.reshape(-1).take(starts + columns)
        return found[: len(members) * (len(members) - 1) // 2]

    def _columns_of(self, pairs: list[tuple[int, int]]) -> NDArray[np.intp]:
        """Where these pairs stand. The last is repeated up to whole blocks, for a sum of odd columns is rounded otherwise."""
        self._grow([pair for pair in pairs if pair not in self._pairs])
        pairs = pairs + pairs[-1:] * (-len(pairs) % BLOCK)
        return np.array([self._pairs[pair] for pair in pairs], dtype=np.intp)

    def _grow(self, new: Sequence[tuple[int, int]]) -> None:
        if not new:
            return
        before, count = len(self._ends), len(self._normal.index)
        self._ends = np.concatenate([self._ends, np.array(new, dtype=np.intp)])
        while len(self._ends) > self._logs.shape[1]:
            self._logs = np.concatenate([self._logs, np.empty_like(self._logs)], axis=1)
        self._logs[:count, before : len(self._ends)] = self._worked_out(self._ends[before:], slice(0, count))
        self._pairs |= {pair: before + n for n, pair in enumerate(new)}

    def _worked_out(self, pairs: NDArray[np.intp], rows: slice) -> Floats:
        """Log likelihoods of some rows for pairs of suspects, (rows, pairs)."""
        first, second = pairs[:, 0], pairs[:, 1]
        normal, said = self._normal.data[rows], self._said.data[rows]
        chances = both_chances(
            (normal[:, first], normal[:, second]), (said[:, first], said[:, second]), self._otherwise.data[rows],
            self._is_normal.data[rows] != 0,
        )  # fmt: skip
        logs: Floats = np.log(np.maximum(chances, LEAST_CHANCE))
        return logs


def told_pairs(strengths: Sequence[float], likelihoods: Sequence[Floats], first: Ends, second: Ends) -> Floats:
    """Log likelihood of what the operator told for every two suspects: either of the two faults may have been told of.

    For every answer its strength and what it says of the suspects; the suspects of every pair; (pairs,).
    """
    found = np.zeros(len(first))
    if strengths:
        own = np.array(likelihoods)
        logs = np.log((own[:, first] + own[:, second]) / 2)
        for weighed in np.array(strengths)[:, None] * logs:  # one after the other, as the answers stand
            found += weighed
    return found
