"""Answers as evidence: at what strength each counts, and what it says of every suspect.

What one answer says depends on nothing but the answer, so it is worked out once and kept with the space. A case of many
answers asks for all of them again after each new one.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from advisor.model.knowledge import Check
from advisor.reasoning.likelihoods import Space, plug_of
from advisor.reasoning.located import located

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SECOND_LOOK = 0.5  # strength, in log terms, of a second answer from one family


class Witness(NamedTuple):
    """One answer as evidence: which check, at which place, which result, and at what strength.

    `showing` is the chance that the fault showed while the check was done. `also` holds further answers to a question that
    takes several. `further`: another cavity of the same plug tells more of the suspects without a place. A tuple, for
    everything about an answer is kept under it. `where` and `side` tell where on the harness it reacted, and on which side.
    """

    check: str
    result: str
    place: str | None = None
    strength: float = 1.0
    showing: float = 1.0
    also: tuple[str, ...] = ()
    further: bool = False
    where: str | None = None
    side: str | None = None

    @property
    def given(self) -> tuple[str, ...]:
        """Every answer to a question to the operator."""
        return (self.result, *self.also)


class _Rank(NamedTuple):
    """Where an answer stands among the others."""

    order: tuple[str, str, float, str, str, str, str]  # by family and place; within them the most telling first
    family: tuple[str, str | None]
    plug: tuple[str, str | None]  # its family at its plug
    spread: float  # how far apart the suspects are by it, in log terms


def strengths(space: Space, witnesses: Sequence[Witness]) -> tuple[Witness, ...]:
    """Witnesses with their strengths: the most telling of a family counts in full, every further one at half.

    Of several cavities of one plug the most telling speaks of the suspects without a place. Which of a family is most telling
    does not depend on the order of the answers.
    """
    ordered = sorted(((_ranked(space, w), w) for w in witnesses), key=lambda found: found[0].order)
    halved: list[tuple[_Rank, Witness]] = []
    for _, group in itertools.groupby(ordered, key=lambda found: found[0].family):
        first, *others = group
        halved += [first, *((r, w._replace(strength=w.strength * SECOND_LOOK)) for r, w in others)]
    telling: dict[tuple[str, str | None], str | None] = {}  # of each family at a plug, the place that tells most
    for r, w in sorted(halved, key=lambda found: -found[0].spread):
        telling.setdefault(r.plug, w.place)
    return tuple(w._replace(further=True) if telling[r.plug] != w.place else w for r, w in halved)


def _ranked(space: Space, w: Witness) -> _Rank:
    known: dict[Witness, _Rank] = space.memo.setdefault("ranks of witnesses", {})
    if w not in known:
        own = None if space.asks(w.check) else space.knowledge.checks[w.check].family
        said, family = likelihood(space, w), own or w.check
        spread = float(math.log(said.max() / said.min()))
        order = (family, w.place or "", -spread, w.check, w.result, w.where or "", w.side or "")
        known[w] = _Rank(order, (family, w.place), (family, plug_of(space.machine, w.place)), spread)
    return known[w]


def likelihood(space: Space, w: Witness) -> Floats:
    """P(what was said | suspect), (suspects,)."""
    if space.asks(w.check):
        return space.told(w.check, w.given)
    said: Floats = table_of(space, w)[said_in(space.knowledge.checks[w.check], w)]
    place = by_spot(space, w)
    return said if place is None else said * place


def by_spot(space: Space, w: Witness) -> Floats | None:
    """What the place and the side of an answer say of each suspect; None where neither was told."""
    return located(space, space.knowledge.checks[w.check], w.result, w.showing, w.where, w.side)


def part_of(space: Space, w: Witness, which: Sequence[int]) -> Floats | float:
    """The same for some of the suspects; one where neither was told."""
    place = by_spot(space, w)
    return 1.0 if place is None else place[which]


def table_of(space: Space, w: Witness) -> Floats:
    """P(result | suspect) of the check as it was done, (results, suspects)."""
    return space.table(w.check, w.place, w.showing, further=w.further)


def said_in(check: Check, w: Witness) -> int:
    """The row of a check's table that an answer stands in."""
    return [r.id for r in check.results].index(w.result)
