"""Two faults at once: what an answer says of every two suspects.

What an answer says of two suspects depends on nothing else, so it is worked out once and kept with the space, for the suspects
that have led so far. A case of many answers asks for all of them again after each new one, often with other leaders.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from advisor.reasoning.likelihoods import Space
from advisor.reasoning.witnesses import Witness, by_spot, said_in, table_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LEAST_CHANCE = 1e-12  # of what was said, for two suspects: its logarithm must be a number


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
        self._logs = np.empty((64, 0))
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
        self._logs[at] = self._worked_out(np.array([*self._pairs], dtype=np.intp).reshape(-1, 2), slice(at, at + 1))
        return at

    def of(self, rows: Sequence[int], members: tuple[int, ...]) -> Floats:
        """Log likelihood of these answers for every two of the members, (answers, members, members)."""
        if self._columns[0] != members:
            pairs = [(i, j) for i in members for j in members]
            self._grow([pair for pair in pairs if pair not in self._pairs])
            self._columns = (members, np.array([self._pairs[pair] for pair in pairs], dtype=np.intp))
        found: Floats = self._logs[np.array(rows, dtype=np.intp)[:, None], self._columns[1]]
        return found.reshape(len(rows), len(members), len(members))

    def _grow(self, new: Sequence[tuple[int, int]]) -> None:
        if not new:
            return
        more = np.empty((len(self._logs), len(new)))
        count = len(self._normal.index)
        more[:count] = self._worked_out(np.array(new, dtype=np.intp), slice(0, count))
        self._logs = np.concatenate([self._logs, more], axis=1)
        for pair in new:
            self._pairs[pair] = len(self._pairs)

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


def told_pairs(strengths: Sequence[float], likelihoods: Sequence[Floats], members: NDArray[np.intp]) -> Floats:
    """Log likelihood of what the operator told for every two of the members: either of the two faults may have been told of.

    For every answer its strength and what it says of the suspects; (members, members).
    """
    found = np.zeros((len(members), len(members)))
    if strengths:
        own = np.array(likelihoods)[:, members]
        logs = np.log((own[:, :, None] + own[:, None, :]) / 2)
        for weighed in np.array(strengths)[:, None, None] * logs:  # one after the other, as the answers stand
            found += weighed
    return found
