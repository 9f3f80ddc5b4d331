"""The places on a harness that somebody can name when a check reacts: plugs, wires, runs, splices, ground points, both ends."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from advisor.model.knowledge import Spread
from advisor.model.machine import Machine
from advisor.model.place_words import ITSELF, place_says, run_id, runs_between


def beside(machine: Machine, point: str) -> frozenset[str]:
    """The terminals of a point, and the wires that end in one of them."""
    found = {e.name for e in machine.elements.values() if e.point == point}
    for path in machine.circuits.values():
        for one, other in itertools.pairwise(path):
            for wire, end in ((one, other), (other, one)):
                if wire.kind == "wire" and end.point == point:
                    found.add(wire.name)
    return frozenset(found)


@dataclass(frozen=True)
class Spot:
    """A place that can be named: its id, its words, the elements of the layout it holds, and what sits there of no place."""

    id: str
    says: str
    elements: frozenset[str]
    systems: frozenset[str] = frozenset()  # causes of these systems without a place on the harness

    def holds(self, place: str | None, system: str) -> bool:
        """Whether a suspect sits here: by its place on the harness, else by its system."""
        return system in self.systems if place is None else place in self.elements


ENDS = (
    Spot(f"sensor{ITSELF}", "the sensor itself", frozenset(), frozenset({"sensor", "sensor-drive"})),
    Spot(f"controller{ITSELF}", "the controller itself", frozenset(), frozenset({"controller"})),
)


def spots(machine: Machine, spread: Spread) -> tuple[Spot, ...]:
    """The spots that a check offers: plugs, circuits, or plugs, runs, splices and ground points."""
    if spread == "wire":
        held = {c: frozenset(e.name for e in path) for c, path in machine.circuits.items()}
        return tuple(Spot(c, place_says(machine, c), elements) for c, elements in held.items())
    reached = {e.point for e in machine.elements.values() if e.point is not None}
    found = {p: beside(machine, p) for p in machine.points if p in reached}
    if spread == "anywhere":
        found |= {run_id(start, end): _between(machine, start, end) for start, end in runs_between(machine)}
        found |= {e.name: frozenset({e.name}) for e in machine.elements.values() if e.kind in ("splice", "ground-point")}
    named = tuple(Spot(name, place_says(machine, name), elements) for name, elements in found.items())
    return (*named, *ENDS) if spread == "anywhere" else named


def _between(machine: Machine, start: str, end: str) -> frozenset[str]:
    """Wires, splices and ground points between two points, whichever circuit."""
    found: set[str] = set()
    for path in machine.circuits.values():
        names = [e.point for e in path]
        if start in names and end in names:
            first, last = sorted((names.index(start), names.index(end)))
            found |= {e.name for e in path[first : last + 1] if e.point is None}
    return frozenset(found)


def spot_named(machine: Machine, spread: Spread, name: str) -> Spot | None:
    """One of the spots, or a single element of the layout; None for what the layout does not have."""
    for spot in spots(machine, spread):
        if spot.id == name:
            return spot
    return Spot(name, place_says(machine, name), frozenset({name})) if name in machine.elements else None


def spot_of(machine: Machine, spread: Spread, place: str | None, system: str) -> str | None:
    """The spot that a technician would name for a cause at a place: the plug of a terminal, a splice itself, the run of a wire."""
    holding = [s for s in spots(machine, spread) if s.holds(place, system)]
    element = machine.elements.get(place or "")
    if element is not None and element.point is None:  # a wire that ends in a plug lies in its run
        holding = [s for s in holding if s.id not in machine.points] or holding
    return min(holding, key=lambda s: len(s.elements)).id if holding else None
