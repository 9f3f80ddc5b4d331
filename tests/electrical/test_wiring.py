"""Which part of the sensor's wiring an element lies in."""

from __future__ import annotations

import pytest
from builders import MACHINE, small_machine

from advisor.electrical.wiring import wiring_parts
from advisor.model.machine import Machine


@pytest.mark.parametrize(
    ("element", "parts"),
    [
        ("splice-7", {"supply", "shared"}),
        ("supply-a-lower", {"supply", "track-a", "one-track"}),
        ("sensor:4", {"supply", "track-b", "one-track"}),
        ("bulkhead:5", {"signal", "track-a", "one-track"}),
        ("ground-a-upper", {"ground", "track-a", "one-track"}),
    ],
)
def test_an_element_belongs_to_its_function_and_to_the_tracks_it_serves(element: str, parts: set[str]) -> None:
    """What runs in the circuits of one track serves that track, and what both run through is shared."""
    assert wiring_parts(small_machine())[element] == parts


def test_one_track_has_nothing_to_share() -> None:
    """On a sensor with one track an element has its function and no track."""
    one = {**MACHINE, "sensor": {**MACHINE["sensor"], "tracks": 1}}
    assert wiring_parts(Machine.model_validate(one))["splice-7"] == {"supply"}


def test_a_circuit_without_a_track_in_its_name_serves_both() -> None:
    """One ground wire beside two signal wires is the ground of both tracks."""
    circuits = dict(MACHINE["circuits"])
    circuits["ground"] = circuits.pop("ground-a")
    assert wiring_parts(Machine.model_validate({**MACHINE, "circuits": circuits}))["ground-a-upper"] == {"ground", "shared"}


def test_the_wires_of_a_bus_are_no_part_of_it() -> None:
    """A break in a bus pair neither lifts nor lowers an output."""
    circuits = {"bus-high": MACHINE["circuits"]["signal-a"]}
    assert set(wiring_parts(Machine.model_validate({**MACHINE, "circuits": circuits})).values()) == {frozenset()}
