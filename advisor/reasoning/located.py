"""Where on the harness something reacted, and on which side: what these say of the suspects.

A check that reacts says that the fault shows; the place says which suspect it can be. With K spots that can be named, and e
the chance that the spot named is not where the fault sits (to move one piece pulls at the next),

    P(spot | it reacts, suspect at p) = (1 - e) * [the spot holds p] / (spots that hold p) + e / K

Likewise a side: P(one side only | it shows, cause) stands in the check, and left and right are equally likely. Of a suspect
without a place, or without a word on sides, the answer says nothing: it is as likely as for the rest of those which the
result speaks for, so that their share against the rest stays.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.evidence.rows import OTHERWISE
from advisor.evidence.spots import spot_named, spots
from advisor.model.knowledge import Check, Spread
from advisor.reasoning.likelihoods import Space

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

BOTH = "both"


def located(space: Space, check: Check, result: str, showing: float, where: str | None, side: str | None) -> Floats | None:
    """P(where, side | result, suspect) up to a factor, (suspects,); None where neither was said."""
    import numpy as np

    if where is None and side is None:
        return None
    key = ("located", check.id, result, round(showing, 4), where, side)
    if key not in space.memo:
        found = np.ones(len(space.suspects))
        row = [r.id for r in check.results].index(result)
        told = space.prior * space.table(check.id, None, showing)[row]
        if where is not None and check.where is not None:
            found = found * _filled(_at(space, check.where, where), told)
        if side is not None and check.sides:
            found = found * _filled(_on(space, check, side), told)
        found.setflags(write=False)
        space.memo[key] = found
    known: Floats = space.memo[key]
    return known


def _filled(chances: Floats, told: Floats) -> Floats:
    """The chances with what is not known (not a number) taken as for the rest, each weighed by what was told of it."""
    import numpy as np

    known = ~np.isnan(chances)
    rest = told[known] @ chances[known] / told[known].sum() if known.any() else 1.0
    return np.where(known, chances, rest)


def _at(space: Space, spread: Spread, where: str) -> Floats:
    """P(spot named | suspect) for those that sit at a spot; not a number for the others."""
    import numpy as np

    offered = spots(space.machine, spread)
    spot = spot_named(space.machine, spread, where)
    wrong = space.knowledge.words.wrong_place
    found = np.full(len(space.suspects), np.nan)
    if spot is None:
        return found
    count = len({*(s.id for s in offered), spot.id})
    for i, suspect in enumerate(space.suspects):
        entry = space.knowledge.causes.get(suspect.cause)
        system = "" if entry is None else entry.system
        holding = sum(s.holds(suspect.place, system) for s in offered)
        if holding or suspect.place is not None:
            hit = (1 - wrong) / max(1, holding) if spot.holds(suspect.place, system) else 0.0
            found[i] = hit + wrong / count
    return found


def _on(space: Space, check: Check, side: str) -> Floats:
    """P(side | suspect) for those of which the check has a word on sides; not a number for the others."""
    import numpy as np

    used = space.used
    one: dict[str, float] = {}
    for name, entry in space.knowledge.causes.items():
        word = check.one_sided.get(name) or check.one_sided.get(entry.kind) or check.one_sided.get(OTHERWISE)
        one[name] = used[word] if word is not None else float("nan")
    chances = np.array([one.get(s.cause, float("nan")) for s in space.suspects])
    found: Floats = 1 - chances if side == BOTH else chances / 2
    return found
