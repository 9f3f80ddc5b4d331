"""How much a check tells: bits of uncertainty about the suspects, before and after it (Shannon 1948)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def bits(chances: Floats) -> float:
    """Uncertainty of chances that sum to one."""
    return float(_terms(chances).sum())


def bits_gained(shares: Floats, tables: Sequence[Floats]) -> Floats:
    """Bits that each check takes away on average: (checks,).

    `shares` (suspects,) sum to one; each table holds P(result | suspect), (results, suspects). The bits are those of result
    and suspect apart, less those of both together.
    """
    import numpy as np

    joint = np.concatenate(tables) * shares
    terms = _terms(joint).sum(axis=1) - _terms(joint.sum(axis=1))
    starts = np.cumsum([0, *(len(t) for t in tables[:-1])])
    found: Floats = bits(shares) - np.add.reduceat(terms, starts)
    return found


def _terms(p: Floats) -> Floats:
    import numpy as np

    found: Floats = -p * np.log2(np.maximum(p, 1e-300))
    return found
