"""Families of answers, each weighed by itself: an answer changes its own family and leaves the others as they are."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from advisor.reasoning.likelihoods import Space
from advisor.reasoning.pairs import PairLogs, Rows
from advisor.reasoning.witnesses import Witness, likelihood, strengths

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Family:
    """The answers of one family with their strengths, and where the space keeps what they say."""

    name: str
    used: tuple[Witness, ...]
    strengths: Floats
    rows: NDArray[np.intp]  # of `log_rows`
    found: Floats  # strengths of answers to checks
    pairs: NDArray[np.intp]  # their rows of `pair_logs`
    told: tuple[float, ...]  # strengths of what the operator told
    likelihoods: tuple[Floats, ...] = field(repr=False)  # P(what was told | suspect)


def family_name(space: Space, check: str) -> str:
    """What an answer looks at: the family of its check, or the check or the question itself."""
    own = None if space.asks(check) else space.knowledge.checks[check].family
    return own or check


def family(space: Space, name: str, witnesses: Sequence[Witness]) -> Family:
    """The witnesses of one family, weighed."""
    used = strengths(space, witnesses)
    checks = [w for w in used if not space.asks(w.check)]
    told = [w for w in used if space.asks(w.check)]
    logs = pair_logs_of(space)
    return Family(
        name, used, np.array([w.strength for w in used]), np.array([_row(space, w) for w in used], dtype=np.intp),
        np.array([w.strength for w in checks]), np.array([logs.row(w) for w in checks], dtype=np.intp),
        tuple(w.strength for w in told), tuple(likelihood(space, w) for w in told),
    )  # fmt: skip


def families(space: Space, witnesses: Iterable[Witness]) -> tuple[Family, ...]:
    """All witnesses by families, in the order of their names."""
    members: dict[str, list[Witness]] = {}
    for w in witnesses:
        members.setdefault(family_name(space, w.check), []).append(w)
    return tuple(family(space, name, members[name]) for name in sorted(members))


def log_rows(space: Space) -> Rows:
    """The logarithm of `likelihood` of every answer so far, a row each."""
    if "log rows" not in space.memo:
        space.memo["log rows"] = Rows(len(space.suspects))
    found: Rows = space.memo["log rows"]
    return found


def pair_logs_of(space: Space) -> PairLogs:
    """What is kept for every two suspects."""
    if "pair logs" not in space.memo:
        space.memo["pair logs"] = PairLogs(space)
    found: PairLogs = space.memo["pair logs"]
    return found


def _row(space: Space, w: Witness) -> int:
    rows, key = log_rows(space), w._replace(strength=1.0)  # what it says does not depend on how much it counts
    known = rows.index.get(key)
    return rows.add(key, np.log(likelihood(space, w))) if known is None else known
