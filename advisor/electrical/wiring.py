"""Which part of the sensor's wiring an element lies in: what the circuit is for, and which of two tracks it serves.

A fed sensor with a ground and a signal wire a track behaves by where it is broken. Without its ground the output rises to the
supply, without its supply it falls; a lost signal wire leaves the input to its own pull resistor. What one track alone runs
through cannot move the other, and what both share moves both.
"""

from __future__ import annotations

from advisor.electrical.sensor import function_of
from advisor.model.machine import Machine
from advisor.model.wiring import WiringPart

_MARKS = {"a": 0, "1": 0, "main": 0, "b": 1, "2": 1, "half": 1, "check": 1}  # the last word of a circuit's name
_BUS = {"bus", "can", "data"}


def wiring_parts(machine: Machine) -> dict[str, frozenset[WiringPart]]:
    """For each element of a layout the parts it belongs to; none for the wires of a bus, where these physics do not hold."""
    found: dict[str, set[WiringPart]] = {name: set() for name in machine.elements}
    tracks: dict[str, set[int]] = {name: set() for name in machine.elements}
    for circuit, path in machine.circuits.items():
        words = circuit.lower().replace("_", "-").split("-")
        if _BUS.intersection(words):
            continue
        served = _MARKS.get(words[-1]) if machine.sensor.tracks == 2 else None
        if served is None and machine.sensor.tracks == 2 and function_of(circuit) == "signal":
            served = 0  # the plain one of two
        for element in path:
            found[element.name].add(function_of(circuit))
            tracks[element.name] |= {0, 1} if served is None else {served}
    if machine.sensor.tracks == 2:
        for name, served_by in tracks.items():
            if len(served_by) == 2:
                found[name].add("shared")
            elif served_by:
                found[name].add("track-a" if 0 in served_by else "track-b")
                found[name].add("one-track")
    return {name: frozenset(own) for name, own in found.items()}
