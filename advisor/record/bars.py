"""Geometry of the record's third picture: the minutes each step took, as bars that differ by pattern and carry their number."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.record.minutes import Kind, Minutes, StepMinutes

WIDTH, LEFT, RIGHT, TOP, ROW, BAR = 720.0, 330.0, 660.0, 8.0, 17.0, 11.0
MOST = 36  # bars that fit on a printed page
LABEL_LENGTH = 52
GAP = 6.0  # between the lines of a pattern
LEAST = 0.5  # minutes below which a step gets no bar


@dataclass(frozen=True)
class Bar:
    """One step's minutes."""

    label: str
    kind: Kind
    y: float
    width: float
    hatch: str  # path data of the pattern's lines; empty for a filled bar
    number: str  # at the bar's end


@dataclass(frozen=True)
class Bars:
    """Minutes by step, in the order of the steps."""

    width: float
    height: float
    left: float
    bar: float
    rows: tuple[Bar, ...]
    left_out: int  # short steps that found no room


def bars(minutes: Minutes) -> Bars | None:
    """The picture, or None when no step took any time. Where the room is short, the longest steps are shown."""
    taken = [s for s in minutes.steps if s.minutes >= LEAST]
    if not taken:
        return None
    longest = set(sorted(range(len(taken)), key=lambda i: (-taken[i].minutes, i))[:MOST])
    shown = [s for i, s in enumerate(taken) if i in longest]
    scale = (RIGHT - LEFT) / max(s.minutes for s in shown)
    rows = tuple(_bar(s, TOP + ROW * i, s.minutes * scale) for i, s in enumerate(shown))
    return Bars(WIDTH, TOP + ROW * len(rows) + 4, LEFT, BAR, rows, len(taken) - len(shown))


def _bar(s: StepMinutes, y: float, width: float) -> Bar:
    lines = [] if s.kind == "check" else _hatch(y, width, rising=True)
    lines += _hatch(y, width, rising=False) if s.kind == "repair" else []
    return Bar(_label(s), s.kind, y, width, "".join(lines), f"{s.minutes:g} min")


def _hatch(y: float, width: float, *, rising: bool) -> list[str]:
    """Slanting lines within a bar, as path data. Lines of its own, for a pattern fill makes a print many times as large."""
    found, start = [], GAP - BAR
    while start < width:
        x1, x2 = max(start, 0.0), min(start + BAR, width)
        low, high = (x1 - start, x2 - start) if not rising else (BAR - (x1 - start), BAR - (x2 - start))
        found.append(f"M{LEFT + x1:.1f} {y + low:.1f}L{LEFT + x2:.1f} {y + high:.1f}")
        start += GAP
    return found


def _label(s: StepMinutes) -> str:
    text = f"{s.step}. {s.title}"
    return text if len(text) <= LABEL_LENGTH else text[: LABEL_LENGTH - 2].rstrip() + ".."
