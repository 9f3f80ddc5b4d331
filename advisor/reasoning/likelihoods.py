"""The suspects of a complaint on a layout, and how likely each result of each check is for each of them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from advisor.evidence.rows import OTHERWISE, row, row_names, word_values
from advisor.model.finding import NOT_LISTED, NOT_LISTED_TITLE, Suspect
from advisor.model.knowledge import Cause, Check, Knowledge
from advisor.model.machine import Machine

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def rows(check: Check, used: dict[str, float]) -> Floats:
    """P(result | cause) for the causes of `row_names`, shape (causes, results)."""
    import numpy as np

    return np.array([row(check, cause, used) for cause in row_names(check)])


def places(cause: Cause, machine: Machine) -> tuple[str | None, ...]:
    """The layout's places at which a cause can sit; (None,) when it has none."""
    if cause.place == "none":
        return (None,)
    found = [e.name for e in machine.elements.values() if e.kind == cause.place and (cause.point is None or e.point == cause.point)]
    return tuple(found) or (None,)


def check_places(check: Check, machine: Machine) -> tuple[str | None, ...]:
    """The places of the layout at which a check can be done; (None,) for a check done once or whose place the layout lacks."""
    if check.at is None or check.at == "section":
        return (None,)
    if check.at == "point":
        reached = {e.point for e in machine.elements.values() if e.point is not None}
        return tuple(p for p in machine.points if p in reached and check.point in (None, p)) or (None,)
    return tuple(e.name for e in machine.elements.values() if e.kind == check.at) or (None,)


def place_for(check: Check, machine: Machine, place: str | None) -> str | None:
    """Where a check is done that concerns a place of the layout: there, or at the point which that terminal belongs to."""
    if place is None or check.at is None or check.at == "section":
        return None
    return (machine.elements[place].point if place in machine.elements else place) if check.at == "point" else place


def beside(machine: Machine, point: str) -> frozenset[str]:
    """The terminals of a point, and the wires that end in one of them."""
    found = {e.name for e in machine.elements.values() if e.point == point}
    for path in machine.circuits.values():
        for one, other in itertools.pairwise(path):
            for wire, end in ((one, other), (other, one)):
                if wire.kind == "wire" and end.point == point:
                    found.add(wire.name)
    return frozenset(found)


@dataclass
class Space:
    """The suspects of one complaint on one layout, and what every check says of them.

    Arrays have one entry a suspect; the last suspect is "something not on this list".
    """

    knowledge: Knowledge
    machine: Machine
    suspects: tuple[Suspect, ...]
    prior: Floats
    _tables: dict[tuple[str, str | None], Floats] = field(default_factory=dict)
    _rows: dict[str, Floats] = field(default_factory=dict)

    @property
    def used(self) -> dict[str, float]:
        return word_values(self.knowledge)

    def title(self, suspect: Suspect) -> str:
        if suspect.cause == NOT_LISTED:
            return NOT_LISTED_TITLE
        title = self.knowledge.causes[suspect.cause].title
        return f"{title} ({suspect.place})" if suspect.place else title

    def table(self, check: str, place: str | None) -> Floats:
        """P(result | suspect), shape (results, suspects)."""
        key = (check, place)
        if key not in self._tables:
            entry = self.knowledge.checks[check]
            self._tables[key] = self.told(self.rows(check), self.rows_of(entry, place), self.part_of(entry, place))
        return self._tables[key]

    def told(self, values: Floats, which: NDArray[np.intp], part: Floats) -> Floats:
        """P(result | suspect) from the rows of a check, (results, suspects).

        `which` row speaks of each suspect, for its `part`; `otherwise`, the row of the last suspect, speaks for the rest.
        """
        found: Floats = values[which].T.copy()
        return found if (part == 1).all() else found * part + values[which[-1]][:, None] * (1 - part)

    def rows(self, check: str) -> Floats:
        """`rows` of a check of this knowledge."""
        if check not in self._rows:
            self._rows[check] = rows(self.knowledge.checks[check], self.used)
        return self._rows[check]

    def rows_of(self, check: Check, place: str | None) -> NDArray[np.intp]:
        """For each suspect the row of `rows` that speaks of it: its cause's, or `otherwise` when the check is done elsewhere."""
        import numpy as np

        index = {cause: i for i, cause in enumerate(row_names(check))}
        other = index[OTHERWISE]
        near = self._near(check, place)
        found = [index.get(s.cause, other) if near is None or s.place in near else other for s in self.suspects]
        return np.array(found, dtype=np.intp)

    def part_of(self, check: Check, place: str | None) -> Floats:
        """For each suspect the chance that it sits where the check is done, if it sits at such a place at all.

        One without a place may sit at any of the points: no reaction at one of three plugs says a third of what no reaction
        at all three does.
        """
        import numpy as np

        found = np.ones(len(self.suspects))
        if check.at == "point" and place is not None:
            found[[s.place is None for s in self.suspects]] = 1 / len(check_places(check, self.machine))
        return found

    def _near(self, check: Check, place: str | None) -> frozenset[str | None] | None:
        """The places that a check speaks of when it is done at one; None for every place."""
        if check.at is None or place is None:
            return None
        return frozenset({None}) | (beside(self.machine, place) if check.at == "point" else {place})


def space(knowledge: Knowledge, machine: Machine, complaint: str) -> Space:
    """The suspects of a complaint with their prior shares.

    prior(cause) is how often the cause is met times how likely it is to be reported this way; a cause with several places
    divides its share equally among them. The prior of "something not on this list" is a fixed share.
    """
    import numpy as np

    words = knowledge.words
    suspects: list[Suspect] = []
    weights: list[float] = []
    for cause in knowledge.causes.values():
        word = cause.complaints.get(complaint)
        if word is None:
            continue
        weight = words.frequency[cause.frequency] * words.probability[word].used
        spots = places(cause, machine)
        suspects += [Suspect(cause.id, spot) for spot in spots]
        weights += [weight / len(spots)] * len(spots)
    listed = np.array(weights, dtype=float)
    listed *= (1 - words.unlisted_share) / listed.sum() if len(weights) else 1.0
    prior = np.append(listed, words.unlisted_share if len(weights) else 1.0)
    return Space(knowledge, machine, (*suspects, Suspect(NOT_LISTED)), prior)
