"""Geometry of the record's two pictures, in the units of the drawing; the templates only write it out.

Lines differ by dash pattern, marker and a label at their end, never by colour alone; the same numbers stand in a table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from advisor.model.finding import NOT_LISTED
from advisor.model.machine import Machine
from advisor.record.material import Material
from advisor.record.measured import ReadingRow

LINES = 5
DASHES = ("", "7 3", "2 3", "10 3 2 3", "1 4")
INKS = ("#1d3557", "#7a3b00", "#2f5d2f", "#5b2a6e", "#444444")
WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 720.0, 250.0, 44.0, 236.0, 14.0, 30.0
LABEL_GAP = 15.0
LABEL_LENGTH = 34  # characters that fit beside the drawing


@dataclass(frozen=True)
class MoveLine:
    """One cause's share over the steps."""

    title: str
    label: str
    dash: str
    ink: str
    points: str
    end: tuple[float, float]
    label_y: float
    shares: tuple[float, ...]


@dataclass(frozen=True)
class Moves:
    """How the ranking moved. `numbers` are the step numbers along the bottom."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    lines: tuple[MoveLine, ...]
    ticks: tuple[tuple[float, int], ...]
    levels: tuple[tuple[float, int], ...]
    numbers: tuple[int, ...]


def moves(m: Material) -> Moves:
    """The shares of the causes that led or lead, after the opening and after each step that moved them."""
    histories = [{s.cause: s.share for s in a.ranking} for a in m.assessments]
    numbers = [0]
    for i in range(1, len(histories)):
        if any(abs(histories[i][c] - histories[numbers[-1]].get(c, 0.0)) >= 0.005 for c in histories[i]):
            numbers.append(i)
    causes = _shown(m, [histories[n] for n in numbers])
    span = WIDTH - LEFT - RIGHT
    xs = [LEFT + span * i / max(1, len(numbers) - 1) for i in range(len(numbers))]
    lines = []
    for k, cause in enumerate(causes):
        shares = tuple(histories[n].get(cause, 0.0) for n in numbers)
        ys = [_y(s) for s in shares]
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(xs, ys, strict=True))
        title = m.cause_title(cause)
        short = title if len(title) <= LABEL_LENGTH else title[: LABEL_LENGTH - 3].rstrip() + "..."
        lines.append(MoveLine(title, f"{short} {shares[-1]:.0%}", DASHES[k], INKS[k], points, (xs[-1], ys[-1]), ys[-1], shares))
    every = max(1, len(numbers) // 12)
    ticks = tuple((x, n) for i, (x, n) in enumerate(zip(xs, numbers, strict=True)) if i % every == 0)
    levels = tuple((_y(v / 100), v) for v in (0, 25, 50, 75, 100))
    return Moves(WIDTH, HEIGHT, LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM, _spread(lines), ticks, levels, tuple(numbers))


def _y(share: float) -> float:
    return TOP + (HEIGHT - TOP - BOTTOM) * (1 - min(1.0, share))


def _shown(m: Material, histories: Sequence[dict[str, float]]) -> list[str]:
    """The causes with the greatest share at any step; the leader of the end always among them, and first."""
    most = {c: max(h.get(c, 0.0) for h in histories) for c in histories[-1] if c != NOT_LISTED}
    last = histories[-1]
    order = sorted(most, key=lambda c: (-last[c], -most[c], c))[:2] + sorted(most, key=lambda c: (-most[c], c))
    return list(dict.fromkeys(order))[:LINES]


def _spread(lines: Sequence[MoveLine]) -> tuple[MoveLine, ...]:
    """Labels moved apart so that none covers another, and kept inside the drawing."""
    order = sorted(range(len(lines)), key=lambda i: lines[i].end[1])
    placed: dict[int, float] = {}
    lowest = TOP + 4
    for i in order:  # downwards from the top
        placed[i] = max(lines[i].end[1], lowest)
        lowest = placed[i] + LABEL_GAP
    highest = HEIGHT - BOTTOM
    for i in reversed(order):  # and back up from the bottom, where that pushed too far
        placed[i] = min(placed[i], highest)
        highest = placed[i] - LABEL_GAP
    return tuple(replace(line, label_y=placed[i]) for i, line in enumerate(lines))


@dataclass(frozen=True)
class Mark:
    """An element on a circuit's line: what it is, where, and whether other circuits run through it as well."""

    x: float
    kind: str
    name: str
    label: str
    shared: bool


@dataclass(frozen=True)
class Bracket:
    """A reading's run under a circuit's line."""

    x1: float
    x2: float
    y: float
    text: str
    over: bool


@dataclass(frozen=True)
class CircuitRow:
    """One circuit as a line with its elements and readings."""

    name: str
    y: float
    x1: float
    x2: float
    marks: tuple[Mark, ...]
    brackets: tuple[Bracket, ...]


@dataclass(frozen=True)
class HarnessPath:
    """The circuits that were read, one under the other."""

    width: float
    height: float
    rows: tuple[CircuitRow, ...]
    shared: tuple[str, ...]  # elements that more than one circuit runs through


LINE_LEFT, LINE_RIGHT, ROW, BRACKET = 96.0, 700.0, 46.0, 18.0


def harness_path(machine: Machine, readings: Sequence[ReadingRow]) -> HarnessPath:
    """The circuits that were read and those that share elements with them, with every reading in force under its run."""
    counted = [r for r in readings if not r.replaced]
    read = {r.circuit for r in counted}
    circuits = [c for c, path in machine.circuits.items() if c in read or any(set(machine.sharers(e.name)) & read for e in path)]
    rows, y = [], 26.0
    for circuit in circuits:
        row = _row(machine, circuit, y, [r for r in counted if r.circuit == circuit])
        rows.append(row)
        y += ROW + BRACKET * len(row.brackets)
    shared = tuple(n for n in machine.elements if len(machine.sharers(n)) > 1 and set(machine.sharers(n)) & set(circuits))
    return HarnessPath(720.0, y, tuple(rows), shared)


def _row(machine: Machine, circuit: str, y: float, readings: Sequence[ReadingRow]) -> CircuitRow:
    path = machine.circuits[circuit]
    step = (LINE_RIGHT - LINE_LEFT) / max(1, len(path) - 1)
    xs = {e.name: LINE_LEFT + step * i for i, e in enumerate(path)}
    marks = tuple(
        Mark(xs[e.name], e.kind, e.name, "" if e.kind == "wire" else e.name, len(machine.sharers(e.name)) > 1) for e in path
    )
    brackets = []
    for i, r in enumerate(readings):
        section = machine.section(circuit, r.start, r.end)
        if section is None:
            continue
        inside = [xs[name] for name in section.elements]
        when = "after the repair: " if r.retest else ""
        text = f"{when}{r.drop_volts:.2f} V of {r.limit_volts:.2f} V, {r.verdict_words}"
        brackets.append(Bracket(min(inside), max(inside), y + 24 + BRACKET * i, text, r.verdict == "over"))
    return CircuitRow(circuit, y, LINE_LEFT, LINE_RIGHT, marks, tuple(brackets))
