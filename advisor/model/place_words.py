"""Places of the harness in the machine's own words, with what the wire there does: 'sensor plug, cavity 5, ground A'."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

from advisor.model.machine import Machine, functions_say

SIDES: Mapping[str, str] = {"left": "Left", "right": "Right", "both": "Left and right"}  # what one-sidedness is answered with

ITSELF = "-itself"  # of an end of the harness: the part and not its plug


def place_says(machine: Machine, place: str) -> str:
    """A point, an element, a circuit or a run between two points in words; what the layout does not know stays as it is."""
    element = machine.elements.get(place)
    if element is not None:
        functions = functions_say(machine.sharers(place))
        if element.point is not None:
            return f"{plug_says(element.point)}, cavity {place.partition(':')[2]}, {functions}"
        return f"wire {place}, {functions}" if element.kind == "wire" else f"{place}, {functions}"
    if place in machine.points:
        return plug_says(place)
    if place in machine.circuits:
        return functions_say((place,))
    if place.endswith(ITSELF):
        return f"the {place.removesuffix(ITSELF)} itself"
    for start, end in runs_between(machine):
        if place == run_id(start, end):
            return f"run from {start} to {end}"
    return place


def plug_says(point: str) -> str:
    """The plug of a point; a point that is called after its plug is named once."""
    return point if point.endswith("plug") else f"{point} plug"


def by_plug(machine: Machine, places: Sequence[str]) -> tuple[str, ...]:
    """Places in the order in which they are met along the harness: plug by plug, each in the order of the layout."""
    points = list(machine.points)

    def plug(place: str) -> int:
        element = machine.elements.get(place)
        point = place if element is None else element.point
        return points.index(point) if point in points else -1

    return tuple(sorted(places, key=plug))


def spot_says(machine: Machine, where: str | None, side: str | None) -> str:
    """Where on the harness and on which side something was, as it follows the words of a result; empty where not said."""
    said = [*([place_says(machine, where)] if where else []), *([SIDES[side].lower()] if side is not None else [])]
    return f" ({', '.join(said)})" if said else ""


def run_id(start: str, end: str) -> str:
    """The id of the run between two neighbouring points."""
    return f"{start}..{end}"


def runs_between(machine: Machine) -> tuple[tuple[str, str], ...]:
    """Every two neighbouring points that a circuit joins, in the order of the layout."""
    found: dict[tuple[str, str], None] = {}
    for circuit in machine.circuits:
        points = machine.circuit_points(circuit)
        for start, end in itertools.pairwise(points):
            if (end, start) not in found:
                found.setdefault((start, end))
    return tuple(found)
