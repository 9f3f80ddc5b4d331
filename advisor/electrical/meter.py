"""What a voltmeter's specification means for a reading and for the difference of two readings. Volts throughout.

A specification `a % of reading + n counts` gives limits; limits without further knowledge are a rectangular
distribution, whose standard uncertainty is the half-width over the root of three, and independent parts add as squares
(JCGM 100, the GUM; NIST TN 1297 sections 4 to 6).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

COVERAGE = 2.0  # expanded uncertainty: about 95 %
# What is coarser is no voltmeter that a circuit can be judged with; common practice, no source.
MOST_PERCENT, MOST_COUNTS, LARGEST_COUNT = 20.0, 200.0, 1.0
_COARSE_STEPS = (1.0, 0.1)
_SPECIFICATION = re.compile(
    r"\s*(?:±|\+/?-)?\s*\(?\s*(?P<percent>\d*[.,]?\d+)\s*%[^+\d]*\+\s*(?P<counts>\d+)\s*[a-z]*\s*\)?\s*"
    r"(?:(?:of|@)\s*(?P<count>\d*[.,]?\d+)\s*(?P<unit>mV|V)?\s*)?"
)


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a value known only to lie within plus or minus a half-width."""
    return half_width / math.sqrt(3)


def combined(*uncertainties: float) -> float:
    """Standard uncertainty of a sum of independent parts."""
    return math.hypot(*uncertainties)


def coarse_step(values: Iterable[float], count: float) -> float:
    """The step that numbers were rounded to when written down, in volts, or 0 when it is not coarser than a count.

    Two readings of a meter that resolves 10 mV end on a full tenth by chance once in a hundred times; a technician who
    writes 10.7 and 10.1 has most likely rounded them.
    """
    numbers = tuple(values)
    for step in _COARSE_STEPS:
        if step > count * 1.5 and all(abs(v / step - round(v / step)) < 1e-6 for v in numbers):
            return step
    return 0.0


@dataclass(frozen=True)
class Meter:
    """A voltmeter on one range. The default is a general-purpose meter on its 20 V range; typical, from memory."""

    percent: float = 0.5  # of reading
    counts: float = 2.0
    count: float = 0.01  # volts: the range's last digit

    def __str__(self) -> str:
        return f"{self.percent:g} % of reading + {self.counts:g} counts of {self.count:g} V"

    def limit(self, reading: float) -> float:
        """Greatest error of one reading, in volts."""
        return self.percent / 100 * abs(reading) + self.counts * self.count

    def standard_uncertainty(self, reading: float) -> float:
        """Standard uncertainty of one reading, in volts."""
        return rectangular(self.limit(reading))

    def rounded(self, reference: float, loaded: float) -> float:
        """The step that two readings were rounded to when written down; 0 when that is no coarser than a count."""
        return coarse_step((reference, loaded), self.count)

    def drop_uncertainty(self, reference: float, loaded: float, step: float | None = None) -> float:
        """Standard uncertainty of reference minus loaded, both read by this meter on this range, in volts.

        The error in per cent is common to both readings, so only that of the difference is left; counts and the
        rounding of written numbers are independent for each. `step` is what the numbers were rounded to when written
        down; without it, it is taken from the numbers.
        """
        step = self.rounded(reference, loaded) if step is None else step
        gain = rectangular(self.percent / 100 * abs(reference - loaded))
        counts = rectangular(self.counts * self.count)
        rounding = rectangular(step / 2)
        return combined(gain, counts, counts, rounding, rounding)


def parse_meter(text: str) -> Meter:
    """A meter from a specification as printed, such as `0.5 % + 2`, `±(0.5% rdg + 2 dgt)` or `0.5%+2@0.001V`.

    The range's last digit follows `@` or `of`, in volts or millivolts; without it, 10 mV. Raises ValueError with a plain
    sentence when the text is none.
    """
    found = _SPECIFICATION.fullmatch(text)
    count = Meter.count if found is None or found["count"] is None else _number(found["count"])
    if found is None or count <= 0:
        raise ValueError(f"'{text[:40]}' is no meter specification; write it as 0.5%+2, with @0.001V for the range's last digit")
    meter = Meter(_number(found["percent"]), float(found["counts"]), count / 1000 if found["unit"] == "mV" else count)
    if meter.percent > MOST_PERCENT or meter.counts > MOST_COUNTS or meter.count > LARGEST_COUNT:
        raise ValueError(
            f"'{text[:40]}' is no voltmeter's specification; "
            f"it has at most {MOST_PERCENT:g} %, {MOST_COUNTS:g} counts and a last digit of {LARGEST_COUNT:g} V"
        )
    return meter


def _number(text: str) -> float:
    return float(text.replace(",", "."))
