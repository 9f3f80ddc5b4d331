"""The machine's layout: circuits as paths through harness elements, and what its sensor does with a supply.

A machine file (format 1) is read into `Machine`. Areas are square millimetres, lengths metres, angles degrees.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

Steering = Literal["hinge", "front-wheels", "rear-wheels", "all-wheels", "hinge-and-wheels", "tracks-or-skid"]
ElementKind = Literal["terminal", "wire", "splice", "ground-point"]
GenericLayout = Literal["two-tracks-shared-supply", "two-tracks-shared-ground", "one-track", "bus-sensor"]
GENERIC_LAYOUTS: dict[GenericLayout, str] = {
    "two-tracks-shared-supply": "two tracks, one shared supply",
    "two-tracks-shared-ground": "two tracks, one shared ground",
    "one-track": "one track",
    "bus-sensor": "sensor on the bus",
}
FEET_TO_METRES = 0.3048  # exact, international foot
LARGEST_LOAD_AMPS = 40.0  # above this a test lead or a fuse burns before anything is learnt; common practice

LARGEST_LOAD_OHMS = 10_000  # above this next to no current flows and nothing is tested; common practice


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, allow_inf_nan=False, defer_build=True)


Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=60)]


class Sensor(_Entry):
    """The position sensor."""

    title: str = "Position sensor"
    supply_volts: float = Field(default=5.0, gt=0, le=60)
    band_volts: tuple[float, float] = (0.5, 4.5)
    span_degrees: float = Field(default=80, gt=0, le=3600)
    ends_volts: tuple[float, float] | None = Field(
        default=None, description="The maker's output at both ends of travel, at supply_volts; without it only the band is judged."
    )
    tracks: Literal[1, 2] = 2
    supply_milliamps: float = Field(default=12, gt=0, le=5000)
    plausibility_degrees: float = Field(default=1.5, gt=0)
    second_track: Literal["sum", "half"] = "sum"
    input_reference: Literal["ratiometric", "fixed"] = "ratiometric"
    sends: Literal["volts", "bus"] = Field(default="volts", description="How it gives its value: by a voltage, or over the bus.")

    @model_validator(mode="after")
    def _band_inside_supply(self) -> Sensor:
        low, high = self.band_volts
        if not 0 <= low < high <= self.supply_volts:
            raise ValueError("band_volts must rise and lie between 0 and supply_volts")
        if self.ends_volts is not None and not all(low <= v <= high for v in self.ends_volts):
            raise ValueError("ends_volts must lie inside band_volts")
        return self


class LoadTest(_Entry):
    """How this machine's circuits are loaded and judged."""

    load_ohms: float | None = Field(default=None, gt=0, le=LARGEST_LOAD_OHMS)
    load_amps: float | None = Field(default=None, gt=0, le=LARGEST_LOAD_AMPS)
    limit_volts_per_section: float = Field(default=0.2, gt=0, le=5)
    limit_volts: dict[str, Annotated[float, Field(gt=0, le=10)]] = Field(
        default={}, description="A circuit's own figure from end to end."
    )

    @model_validator(mode="after")
    def _one_load(self) -> LoadTest:
        if (self.load_ohms is None) == (self.load_amps is None):
            raise ValueError("give either load_ohms or load_amps")
        return self


class Element(_Entry):
    """One step of a circuit's path. Exactly one of terminal, wire, splice and ground is named."""

    terminal: Name | None = None
    wire: Name | None = None
    splice: Name | None = None
    ground: Name | None = None
    mm2: Annotated[float, Field(gt=0, le=120)] | None = None
    awg: Annotated[int, Field(ge=0, le=40)] | None = None
    metres: Annotated[float, Field(gt=0, le=200)] | None = None
    feet: Annotated[float, Field(gt=0, le=650)] | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Element:
        names = [n for n in (self.terminal, self.wire, self.splice, self.ground) if n is not None]
        if len(names) != 1:
            raise ValueError("name exactly one of terminal, wire, splice and ground")
        sized = [v for v in (self.mm2, self.awg, self.metres, self.feet) if v is not None]
        if sized and self.wire is None:
            raise ValueError("only a wire has a size and a length")
        if self.mm2 is not None and self.awg is not None:
            raise ValueError("give either mm2 or awg")
        if self.metres is not None and self.feet is not None:
            raise ValueError("give either metres or feet")
        if self.terminal is not None and ":" not in self.terminal:
            raise ValueError("a terminal is named POINT:CAVITY")
        return self

    @property
    def kind(self) -> ElementKind:
        if self.terminal is not None:
            return "terminal"
        if self.wire is not None:
            return "wire"
        return "splice" if self.splice is not None else "ground-point"

    @property
    def name(self) -> str:
        return self.terminal or self.wire or self.splice or self.ground or ""

    @property
    def point(self) -> str | None:
        """The point a terminal belongs to; None for anything else."""
        return self.terminal.split(":")[0] if self.terminal else None

    @property
    def length(self) -> float | None:
        """Metres of wire, or None when the file gives none."""
        if self.metres is not None:
            return self.metres
        return None if self.feet is None else self.feet * FEET_TO_METRES


@dataclass(frozen=True)
class Section:
    """The part of one circuit between two points, ends included."""

    circuit: str
    start: str
    end: str
    elements: tuple[str, ...]
    joints: int  # connection sections that the trade allows a drop for


class Machine(_Entry):
    """A machine file, format 1."""

    format: Literal[1] = 1
    title: str = "Machine without a file (generic layout)"
    nominal_volts: Literal[12, 24, 48] = 12
    sensor: Sensor = Sensor.model_construct()
    load_test: LoadTest = LoadTest.model_construct(load_ohms=5.0)
    steering: Steering | None = Field(default=None, description="What steers it; without it the technician is asked.")
    control: Literal["wheel", "lever", "by-wire"] | None = Field(default=None, description="With what it is steered.")
    guidance_fitted: Literal["yes", "no"] | None = Field(default=None, description="Whether automatic guidance is fitted.")
    sensor_drive: Literal["stem", "link", "magnet", "in-cylinder"] | None = Field(
        default=None, description="How the sensor is driven."
    )
    cylinders: Literal["one-single-rod", "pair", "double-rod"] | None = Field(default=None, description="Its steering cylinders.")
    relief: Literal["by-wheel", "by-release"] = Field(
        default="by-release",
        description="How steering pressure is let down: by turning the wheel with the engine off, or by the maker's release.",
    )
    points: tuple[str, ...] = Field(min_length=2)
    circuits: dict[str, Annotated[tuple[Element, ...], Field(min_length=1)]] = Field(min_length=1)
    generic: bool = Field(default=False, description="True for the layout that stands in when no file is given.")

    @cached_property
    def elements(self) -> dict[str, Element]:
        """Every element once, by name, in order of first appearance."""
        found: dict[str, Element] = {}
        for path in self.circuits.values():
            for element in path:
                found.setdefault(element.name, element)
        return found

    def sharers(self, name: str) -> tuple[str, ...]:
        """The circuits that run through an element."""
        return tuple(c for c, path in self.circuits.items() if any(e.name == name for e in path))

    def circuit_points(self, circuit: str) -> tuple[str, ...]:
        """The points at which a circuit can be reached, in order along its path."""
        seen: dict[str, None] = {}
        for element in self.circuits[circuit]:
            if element.point is not None and element.point in self.points:
                seen.setdefault(element.point)
        return tuple(seen)

    def section(self, circuit: str, start: str, end: str) -> Section | None:
        """The elements between two points of a circuit, in path order; None when the circuit has no such run.

        The run includes the terminals at both of its ends. A point in the middle of the machine splits a circuit between
        its terminals: the run up to it and the run from it both include that point's terminal.
        """
        path = self.circuits.get(circuit)
        points = self.circuit_points(circuit) if path else ()
        if path is None or start not in points or end not in points or start == end:
            return None
        if points.index(start) > points.index(end):
            start, end = end, start
        first = next(i for i, e in enumerate(path) if e.point == start)
        last = max(i for i, e in enumerate(path) if e.point == end)
        joints = points.index(end) - points.index(start)
        return Section(circuit, start, end, tuple(e.name for e in path[first : last + 1]), joints)

    def sections(self) -> Iterator[Section]:
        """Every run that can be measured, whole circuits first."""
        for circuit in self.circuits:
            points = self.circuit_points(circuit)
            for span in range(len(points) - 1, 0, -1):
                for i in range(len(points) - span):
                    found = self.section(circuit, points[i], points[i + span])
                    if found is not None:
                        yield found

    def facts(self) -> tuple[str, ...]:
        """What rules may ask of a layout."""
        shared = [n for n in self.elements if len(self.sharers(n)) > 1]
        kinds = {e.kind for e in self.elements.values()}
        answers = {
            "shared-supply": any(not all(map(_returns, self.sharers(n))) for n in shared),
            "shared-splice": any(self.elements[n].kind == "splice" for n in shared),
            "two-tracks": self.sensor.tracks == 2,
            "makers-ends": self.sensor.ends_volts is not None,
            "bulkhead": len(self.points) > 2,
            "ground-point": "ground-point" in kinds,
            "bus-sensor": self.sensor.sends == "bus",
        }
        return tuple(name for name, true in answers.items() if true)

    def told(self, place: str) -> str:
        """A place with what it carries: 'sensor:5, ground A'. Only a terminal's name leaves that open."""
        element = self.elements.get(place)
        carries = () if element is None or element.kind != "terminal" else self.sharers(place)
        return f"{place}, {functions_say(carries)}" if carries else place


def _returns(circuit: str) -> bool:
    """Whether a circuit brings current back: two that share a ground share no supply by it."""
    return circuit.startswith(("ground", "return"))


def functions_say(circuits: Sequence[str]) -> str:
    """What circuits carry, in words: supply-a and supply-b are 'supply A and B'."""
    tracks: dict[str, list[str]] = {}
    for circuit in circuits:
        function, _, track = circuit.rpartition("-")
        lettered = bool(function) and len(track) == 1
        tracks.setdefault((function if lettered else circuit).replace("-", " "), []).extend([track.upper()] if lettered else [])
    return " and ".join(f"{function} {' and '.join(letters)}".strip() for function, letters in tracks.items())


def _generic_circuit(function: str, cavity: int, track: str, *, shared: int | None = None) -> tuple[Element, ...]:
    """One wire from controller over the bulkhead to the sensor. `shared`: the controller's cavity that feeds two by a splice."""
    head: tuple[Element, ...]
    if shared is None:
        head = (Element(terminal=f"controller:{cavity}"), Element(wire=f"{function}-{track}-upper", mm2=0.75, metres=3.0))
    else:
        head = (
            Element(terminal=f"controller:{shared}"),
            Element(wire=f"{function}-feed", mm2=0.75, metres=2.0),
            Element(splice="splice-1"),
            Element(wire=f"{function}-{track}-upper", mm2=0.75, metres=1.0),
        )
    return (
        *head,
        Element(terminal=f"bulkhead:{cavity}"),
        Element(wire=f"{function}-{track}-lower", mm2=0.75, metres=3.0),
        Element(terminal=f"sensor:{cavity}"),
    )


# Function, cavity, track, and the controller's cavity where two circuits share one wire from there.
_GENERIC: dict[GenericLayout, tuple[tuple[str, int, str, int | None], ...]] = {
    "two-tracks-shared-supply": (
        ("supply", 1, "a", 1), ("supply", 2, "b", 1), ("signal", 3, "a", None), ("signal", 4, "b", None),
        ("ground", 5, "a", None), ("ground", 6, "b", None),
    ),
    "two-tracks-shared-ground": (
        ("supply", 1, "a", None), ("supply", 2, "b", None), ("signal", 3, "a", None), ("signal", 4, "b", None),
        ("ground", 5, "a", 5), ("ground", 6, "b", 5),
    ),
    "one-track": (("supply", 1, "a", None), ("signal", 2, "a", None), ("ground", 3, "a", None)),
    "bus-sensor": (("supply", 1, "a", None), ("ground", 2, "a", None), ("bus", 3, "high", None), ("bus", 4, "low", None)),
}  # fmt: skip


@cache
def generic_machine(layout: str = "two-tracks-shared-supply") -> Machine:
    """A layout that stands in without a machine file: a sensor, one bulkhead connector, and one splice where wires are shared.

    Raises KeyError for a name that is not in GENERIC_LAYOUTS.
    """
    name = _named(layout)
    circuits = {f"{f}-{track}": _generic_circuit(f, cavity, track, shared=shared) for f, cavity, track, shared in _GENERIC[name]}
    sensor = Sensor(tracks=2 if name.startswith("two") else 1, sends="bus" if name == "bus-sensor" else "volts")
    return Machine(
        title=f"Machine without a file (generic layout: {GENERIC_LAYOUTS[name]})", sensor=sensor,
        points=("controller", "bulkhead", "sensor"), circuits=circuits, generic=True,
    )  # fmt: skip


def _named(layout: str) -> GenericLayout:
    return next(name for name in GENERIC_LAYOUTS if name == layout)


def layout_of(machine: Machine) -> str:
    """The generic layout of a machine in words; empty for a machine with a file of its own."""
    return next((w for w in GENERIC_LAYOUTS.values() if machine.generic and machine.title.endswith(f": {w})")), "")
