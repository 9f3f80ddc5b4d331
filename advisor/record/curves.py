"""Geometry of a trial's two pictures: minutes by policy, and how often what was said was true. Drawing units as in charts.

Lines differ by dash pattern and by a label at their end, never by colour alone; the same numbers stand in a table.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from advisor.record.charts import (
    BOTTOM,
    DASHES,
    HEIGHT,
    INKS,
    LEFT,
    LEGEND_ROW,
    RIGHT,
    TOP,
    WIDTH,
    MoveLine,
    line_through,
    spread,
)

PATTERNS = (*DASHES, "5 5")  # one a policy
COLOURS = (*INKS, "#7d1128")
LAST = 96  # per cent of the machines at which the curves end: the few longest searches would leave no room for the rest
LEVELS = (15, 30, 60, 120, 240, 480, 960, 1920, 3840)  # minutes, on a scale of equal ratios


@dataclass(frozen=True)
class Curves:
    """Lines with their labels, and the marks along both axes: (place, words)."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    lines: tuple[MoveLine, ...]
    across: tuple[tuple[float, str], ...]
    up: tuple[tuple[float, str], ...]
    points: tuple[tuple[float, float, str], ...] = ()  # marked: place and words


def _frame(
    lines: tuple[MoveLine, ...], across: tuple[tuple[float, str], ...], up: tuple[tuple[float, str], ...],
    points: tuple[tuple[float, float, str], ...] = (),
) -> Curves:  # fmt: skip
    return Curves(WIDTH, HEIGHT + LEGEND_ROW * len(lines), LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM, lines, across, up, points)


def _x(part: float) -> float:
    return LEFT + (WIDTH - LEFT - RIGHT) * part


def _y(part: float) -> float:
    return TOP + (HEIGHT - TOP - BOTTOM) * (1 - min(1.0, max(0.0, part)))


def minutes(report: Mapping[str, Any]) -> Curves:
    """For each policy: within how many minutes so many per cent of the machines were found and repaired."""
    curves = {n: [(q, v) for q, v in p["minutes_quantiles"] if 0 < q <= LAST] for n, p in report["policies"].items()}
    values = [v for curve in curves.values() for _, v in curve]
    least, most = max(1.0, min(values)), max(2.0, *values)

    def height(value: float) -> float:
        return _y(math.log(max(value, 1.0) / least) / math.log(most / least)) if most > least else _y(1.0)

    lines = []
    for k, (name, curve) in enumerate(curves.items()):
        places = [(_x(q / 100), height(v)) for q, v in curve]
        label = f"{name}, mean {report['policies'][name]['mean_minutes']:.0f} min"
        lines.append(line_through(name, label, k, places, tuple(v for _, v in curve), PATTERNS, COLOURS))
    across = tuple((_x(q / 100), f"{q}%") for q in (0, 25, 50, 75, 100))
    up = tuple((height(v), f"{v}") for v in LEVELS if least <= v <= most)
    return _frame(spread(lines), across, up)


def reliability(report: Mapping[str, Any]) -> Curves:
    """How often the leading cause was the hidden one, by the share it had; the diagonal is what was said."""
    rows = report["policies"][report["against"]["policy"]]["reliability"]
    places = [(_x(r["said"]), _y(r["true"])) for r in rows]

    lines = [
        line_through("as it was", "as it was", 0, places),
        line_through("as said", "as said", 1, [(_x(0), _y(0)), (_x(1), _y(1))]),
    ]
    marks = tuple((x, y, f"{r['cases']} cases") for (x, y), r in zip(places, rows, strict=True))
    tenths = (0, 0.25, 0.5, 0.75, 1)
    return _frame(spread(lines), tuple((_x(v), f"{v:.0%}") for v in tenths), tuple((_y(v), f"{v:.0%}") for v in tenths), marks)
