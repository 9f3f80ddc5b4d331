"""Voltage drop of a loaded circuit: what it may be, what it should be, and how many ohms are behind it.

A known load draws current through the circuit. The reference is the voltage over the load straight at the source, the
loaded reading is the voltage over the same load at the far end of the circuit; the drop is their difference.
Volts, ohms, amperes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

from advisor.electrical.meter import COVERAGE, Meter
from advisor.electrical.wire import REFERENCE_CELSIUS, band_ohm_per_metre
from advisor.model.finding import Verdict

CONTACT_OHMS = 0.005  # a sound crimp, splice or mated contact: a few milliohms; common practice, no source
CONTACT_BAND = (0.0, 0.010)  # between perfect and still sound; common practice, no source
SECTION_LIMIT_VOLTS = 0.2  # allowed for each connection section of a run; common practice, no source
SURE = 0.95  # chance that it is over the limit from which a run is called over
_ROUNDING_NOISE = 1e-9


@dataclass(frozen=True)
class Load:
    """A load of known resistance, or one that holds a known current. Exactly one of the two is given."""

    ohms: float | None = None
    amps: float | None = None

    def __post_init__(self) -> None:
        given = [v for v in (self.ohms, self.amps) if v is not None]
        if len(given) != 1 or not given[0] > 0:
            raise ValueError("give either the load's ohms or its amperes, greater than 0")

    def current(self, volts: float) -> float:
        """Amperes through the load with this voltage over it."""
        return volts / self.ohms if self.ohms is not None else float(self.amps or 0)

    def series_ohms(self, reference: float, loaded: float) -> float:
        """Ohms between source and load that explain the two readings; infinite when nothing arrives at a resistor."""
        if self.ohms is None:
            return (reference - loaded) / self.current(loaded)
        return self.ohms * (reference / loaded - 1) if loaded > 0 else math.inf

    def drop(self, reference: float, series_ohms: float) -> float:
        """Volts lost in a series resistance; the excess lowers a resistive load's current."""
        if self.ohms is None:
            return min(self.current(reference) * series_ohms, reference)
        return reference * series_ohms / (self.ohms + series_ohms)


def drop_volts(reference: float, loaded: float) -> float:
    """Reference minus loaded, without the noise of binary fractions, so that 12.4 - 12.0 is not over 0.4."""
    return round(reference - loaded, 9)


def allowed_drop(joints: int, volts_per_section: float = SECTION_LIMIT_VOLTS) -> float:
    """Volts that a run may drop, by the trade's rule of so much for each connection section."""
    return round(joints * volts_per_section, 9)


def sound_ohms(
    wires: Sequence[tuple[float, float]], contacts: int, celsius: float = REFERENCE_CELSIUS
) -> tuple[float, float, float]:
    """Least, usual and greatest ohms of a sound run from its wires (mm2, metres) and its number of contacts.

    The usual figure takes unnamed cable at the class 5 limit, which is on the safe side, and a few milliohms a contact.
    """
    bands = [(band_ohm_per_metre(mm2, celsius), metres) for mm2, metres in wires]
    low = sum(band[0] * metres for band, metres in bands)
    high = sum(band[1] * metres for band, metres in bands)
    return low + contacts * CONTACT_BAND[0], high + contacts * CONTACT_OHMS, high + contacts * CONTACT_BAND[1]


def probability_over(drop: float, limit: float, standard_uncertainty: float) -> float:
    """Chance that the true drop is over the limit, for a normal error of the reading."""
    if standard_uncertainty <= 0:
        return 1.0 if drop > limit else 0.0
    return 0.5 * math.erfc((limit - drop) / (standard_uncertainty * math.sqrt(2)))


def verdict_of(drop: float, limit: float, standard_uncertainty: float) -> Verdict:
    """Over when that is nearly certain, within when the reading does not exceed the limit, unsure between.

    A run is rejected only on evidence, and a reading at the limit is accepted: the limit is what the trade still calls
    sound, not a cliff, and sound runs do read up to it.
    """
    if probability_over(drop, limit, standard_uncertainty) >= SURE:
        return "over"
    return "within" if drop <= limit + _ROUNDING_NOISE else "unsure"


def excess_interval(
    reference: float, loaded: float, load: Load, sound: tuple[float, float, float], standard_uncertainty: float
) -> tuple[float, float, float]:
    """Ohms beyond a sound run: best value, and the low and high end of an interval of about 95 %, none below 0.

    `sound` is the run's least, usual and greatest sound resistance. The meter's uncertainty and the width of the sound
    band both widen the interval; its high end is infinite when nothing arrives at the load.
    """
    margin = COVERAGE * standard_uncertainty
    best = load.series_ohms(reference, loaded) - sound[1]
    low = load.series_ohms(reference, min(loaded + margin, reference)) - sound[2]
    high = load.series_ohms(reference, max(loaded - margin, 0.0)) - sound[0]
    return max(best, 0.0), max(low, 0.0), max(high, 0.0)


@dataclass(frozen=True)
class DropReport:
    """The arithmetic of one load test; `as_json` has the same names."""

    reference: float
    loaded: float
    drop_volts: float
    limit_volts: float
    expected_volts: float | None  # None when size, length or load is not known
    standard_uncertainty: float
    probability_over: float
    verdict: Verdict
    amps: float | None  # through the loaded circuit; None when the load is not known
    excess_ohms: float | None  # beyond a sound run; None when the load is not known
    excess_low: float | None
    excess_high: float | None

    def as_json(self) -> dict[str, float | str | None]:
        """All fields; a resistance without bound is given as null."""
        return {k: None if isinstance(v, float) and math.isinf(v) else v for k, v in asdict(self).items()}


def drop_report(
    reference: float,
    loaded: float,
    *,
    sections: int = 1,
    load: Load | None = None,
    mm2: float | None = None,
    metres: float | None = None,
    celsius: float = REFERENCE_CELSIUS,
    meter: Meter | None = None,
    limit_volts: float | None = None,
) -> DropReport:
    """Judge one drop from the numbers alone.

    The limit is `limit_volts` or so much for each of `sections` connection sections. Ohms need the load; the drop
    expected needs the wire's size and its length as well, with two contacts a section. Without a size the limit stands
    for what a sound run drops. Raises ValueError for a reading below zero or higher than the reference by more than
    the meter explains, for no section, and for a length or an area that is not positive.
    """
    if not (math.isfinite(reference - loaded) and loaded >= 0 and reference > 0):
        raise ValueError("reference and loaded are voltages, not below zero, and the reference is greater than zero")
    uncertainty = (meter or Meter()).drop_uncertainty(reference, loaded)
    drop = drop_volts(reference, loaded)
    if drop < -COVERAGE * uncertainty:
        raise ValueError("the loaded reading is higher than the reference; the two may be swapped")
    if sections < 1 or any(size is not None and not size > 0 for size in (mm2, metres)):
        raise ValueError("a run has at least one section, and its area and length are greater than 0")
    limit = allowed_drop(sections) if limit_volts is None else limit_volts
    expected: float | None = None
    excess: tuple[float, float, float] | tuple[None, None, None] = (None, None, None)
    if load is not None:
        sound = (load.series_ohms(reference, max(reference - limit, 0.0)),) * 3
        if mm2 is not None and metres is not None:
            sound = sound_ohms([(mm2, metres)], 2 * sections, celsius)
            expected = load.drop(reference, sound[1])
        excess = excess_interval(reference, loaded, load, sound, uncertainty)
    return DropReport(
        reference, loaded, drop, limit, expected, uncertainty, probability_over(drop, limit, uncertainty),
        verdict_of(drop, limit, uncertainty), None if load is None else load.current(loaded), *excess,
    )  # fmt: skip


def node_volts(resistors: Sequence[tuple[str, str, float]], sources: Mapping[str, float], ground: str = "0") -> dict[str, float]:
    """Voltages at the nodes of a network of resistors, by nodal analysis.

    `resistors` are (node, node, ohms); `sources` hold nodes at a voltage above `ground`. Every node must be joined to a
    held node or to ground by resistors. Raises ValueError for a resistance that is not positive and for a loose node.
    """
    held = {ground: 0.0, **sources}
    free = list(dict.fromkeys(n for a, b, _ in resistors for n in (a, b) if n not in held))
    row_of = {node: i for i, node in enumerate(free)}
    matrix = [[0.0] * len(free) for _ in free]
    inflow = [0.0] * len(free)
    for first, second, ohms in resistors:
        if not ohms > 0:
            raise ValueError(f"the resistor from {first} to {second} has {ohms} ohm; it must be greater than 0")
        for near, far in ((first, second), (second, first)):
            if near not in row_of:
                continue
            matrix[row_of[near]][row_of[near]] += 1 / ohms
            if far in row_of:
                matrix[row_of[near]][row_of[far]] -= 1 / ohms
            else:
                inflow[row_of[near]] += held[far] / ohms
    solved = _solve(matrix, inflow)
    if solved is None:
        raise ValueError("a node of the network hangs loose")
    return held | dict(zip(free, solved, strict=True))


def _solve(matrix: list[list[float]], right: list[float]) -> list[float] | None:
    """Solution of a linear system by elimination with pivoting; None when it has no single one."""
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    size = len(rows)
    for column in range(size):
        pivot = max(range(column, size), key=lambda r: abs(rows[r][column]))
        if abs(rows[pivot][column]) <= 1e-13 * max(abs(v) for v in matrix[column]):
            return None
        rows[column], rows[pivot] = rows[pivot], rows[column]
        for below in rows[column + 1 :]:
            factor = below[column] / rows[column][column]
            if factor:
                for k in range(column, size + 1):
                    below[k] -= factor * rows[column][k]
    values = [0.0] * size
    for row in reversed(range(size)):
        known = sum(rows[row][k] * values[k] for k in range(row + 1, size))
        values[row] = (rows[row][size] - known) / rows[row][row]
    return values
