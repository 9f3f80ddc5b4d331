"""Resistance of copper wire from its size, length and temperature.

Areas are square millimetres and lengths metres, as in machine files; results are ohms and ohms per metre.

Sources: resistivity and temperature coefficient of annealed copper, NBS Handbook 100 (1966) and IEC 60028; wire gauge
formula, ASTM B258 (recalled from memory, but it gives the published diameters to the last digit); largest resistance of
flexible plain copper conductors, IEC 60228 class 5, as printed by cable makers' tables.
"""

from __future__ import annotations

import math
import re
from itertools import pairwise

COPPER_OHM_MM2_PER_METRE = 1 / 58  # at 20 C, annealed copper of 100 % conductivity
COPPER_PER_KELVIN = 0.00393  # referred to 20 C
REFERENCE_CELSIUS = 20.0

# square millimetres: ohms per kilometre at 20 C, the most that IEC 60228 lets a class 5 plain conductor have
CLASS_5_OHM_PER_KM = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91}

_SIZE = re.compile(
    r"\s*(?:(?:awg\s*#?(?P<before>\d+(?:/0)?))|(?:#?(?P<after>\d+(?:/0)?)\s*(?:awg|ga(?:uge)?))"
    r"|(?:(?P<metric>\d*[.,]?\d+)\s*(?:mm2|mm²|mm\^2|sq\.?\s*mm|qmm)?))\s*",
    re.IGNORECASE,
)


def awg_diameter_mm(gauge: int) -> float:
    """Diameter in millimetres of a solid wire of an American wire gauge; 0000 is -3. Source: ASTM B258."""
    return 0.127 * math.pow(92.0, (36 - gauge) / 39)


def awg_mm2(gauge: int) -> float:
    """Area in square millimetres of a solid wire of an American wire gauge."""
    return math.pi / 4 * awg_diameter_mm(gauge) ** 2


def parse_size(text: str) -> float:
    """Area in square millimetres from `0.75`, `0,75 mm2`, `AWG 18`, `18 AWG` or `2/0 AWG`.

    Raises ValueError with a plain sentence when the text is no wire size.
    """
    found = _SIZE.fullmatch(text)
    if found is None:
        raise ValueError(f"'{text}' is no wire size; write it as 0.75 mm2 or as AWG 18")
    gauge = found["before"] or found["after"]
    if gauge is None:
        area = float(found["metric"].replace(",", "."))
        if not 0 < area <= 120:
            raise ValueError(f"{area:g} mm2 is no size of a harness wire; 0.35 to 6 is usual")
        return area
    number = 1 - int(gauge[:-2]) if gauge.endswith("/0") else int(gauge)
    if not -3 <= number <= 40:
        raise ValueError(f"there is no AWG {gauge}; gauges run from 4/0 to 40")
    return awg_mm2(number)


def temperature_factor(celsius: float) -> float:
    """Resistance at a copper temperature over that at 20 C. Source: NBS Handbook 100."""
    return 1 + COPPER_PER_KELVIN * (celsius - REFERENCE_CELSIUS)


def stranded_factor(mm2: float) -> float:
    """Largest resistance of a flexible conductor over that of its area in solid copper.

    Between the sizes of IEC 60228 it is interpolated over the logarithm of the area, and held outside them. Unnamed
    vehicle cable lies between 1 and this.
    """
    sizes = sorted(CLASS_5_OHM_PER_KM)
    factors = [CLASS_5_OHM_PER_KM[s] / 1000 * s / COPPER_OHM_MM2_PER_METRE for s in sizes]
    if mm2 <= sizes[0]:
        return factors[0]
    for (low, high), (first, second) in zip(pairwise(sizes), pairwise(factors), strict=True):
        if mm2 <= high:
            return first + (second - first) * math.log(mm2 / low) / math.log(high / low)
    return factors[-1]


def ohm_per_metre(mm2: float, celsius: float = REFERENCE_CELSIUS, *, stranded: bool = True) -> float:
    """Ohms per metre of copper wire; cable of unknown make is taken as stranded, at the most class 5 allows."""
    if not mm2 > 0:
        raise ValueError("a wire has an area greater than 0 mm2")
    solid = COPPER_OHM_MM2_PER_METRE / mm2 * temperature_factor(celsius)
    return solid * stranded_factor(mm2) if stranded else solid


def band_ohm_per_metre(mm2: float, celsius: float = REFERENCE_CELSIUS) -> tuple[float, float]:
    """Least and greatest ohms per metre that sound cable of this size can have: solid copper and class 5."""
    return ohm_per_metre(mm2, celsius, stranded=False), ohm_per_metre(mm2, celsius)
