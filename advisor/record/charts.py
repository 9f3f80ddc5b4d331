"""Geometry of the record's two pictures, in the units of the drawing; the templates only write it out.

Lines differ by dash pattern, marker and a label at their end, never by colour alone; the same numbers stand in a table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from advisor.model.finding import NOT_LISTED
from advisor.model.machine import Machine
from advisor.record.material import Material, per_cent
from advisor.record.measured import ReadingRow

LINES = 5
DASHES = ("", "7 3", "2 3", "10 3 2 3", "1 4")
INKS = ("#1d3557", "#7a3b00", "#2f5d2f", "#5b2a6e", "#444444")
WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 720.0, 250.0, 44.0, 280.0, 14.0, 30.0
LABEL_GAP = 15.0
LABEL_LENGTH = 41  # characters, the share among them, that fit beside the drawing in a wide typeface


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
        share, end = per_cent(shares[-1]), (xs[-1], ys[-1])
        label = f"{_short(title, LABEL_LENGTH - 1 - len(share))} {share}"
        lines.append(MoveLine(title, label, DASHES[k], INKS[k], points, end, ys[-1], shares))
    every = max(1, len(numbers) // 12)
    ticks = tuple((x, n) for i, (x, n) in enumerate(zip(xs, numbers, strict=True)) if i % every == 0)
    levels = tuple((_y(v / 100), v) for v in (0, 25, 50, 75, 100))
    return Moves(WIDTH, HEIGHT, LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM, spread(lines), ticks, levels, tuple(numbers))


def _y(share: float) -> float:
    return TOP + (HEIGHT - TOP - BOTTOM) * (1 - min(1.0, share))


def _shown(m: Material, histories: Sequence[dict[str, float]]) -> list[str]:
    """The causes with the greatest share at any step; the leader of the end always among them, and first."""
    most = {c: max(h.get(c, 0.0) for h in histories) for c in histories[-1] if c != NOT_LISTED}
    last = histories[-1]
    order = sorted(most, key=lambda c: (-last[c], -most[c], c))[:2] + sorted(most, key=lambda c: (-most[c], c))
    return list(dict.fromkeys(order))[:LINES]


def spread(lines: Sequence[MoveLine]) -> tuple[MoveLine, ...]:
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
    """An element on a circuit's line. `label` is its name, shortened where the room is narrow."""

    x: float
    kind: str
    name: str
    label: str
    shared: bool
    repaired: bool


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
    """The circuits that were read and those that share something with them, one under the other."""

    width: float
    height: float
    rows: tuple[CircuitRow, ...]
    shared: tuple[tuple[str, str], ...]  # an element that several circuits run through, and these circuits


LINE_LEFT, LINE_RIGHT, FIRST_ROW, ROW, BRACKET = 118.0, 690.0, 30.0, 62.0, 25.0
BEYOND = 62.0  # between elements outside the first and the last point
LETTER = 5.6  # width of a letter of a label, about


def harness_path(machine: Machine, readings: Sequence[ReadingRow], repaired: frozenset[str]) -> HarnessPath:
    """The circuits that were read and those that share elements with them, with every reading in force under its run."""
    counted = [r for r in readings if not r.replaced]
    read = {r.circuit for r in counted}
    circuits = [c for c, path in machine.circuits.items() if any(set(machine.sharers(e.name)) & read for e in path)]
    room = _room(machine, circuits)
    rows, y = [], FIRST_ROW
    for circuit in circuits:
        xs = _positions(machine, circuit, room)
        brackets = _brackets(machine, circuit, xs, y, [r for r in counted if r.circuit == circuit])
        rows.append(CircuitRow(circuit, y, min(xs.values()), max(xs.values()), _marks(machine, circuit, xs, repaired), brackets))
        y += ROW + BRACKET * len(brackets)
    drawn = dict.fromkeys(e.name for c in circuits for e in machine.circuits[c])
    shared = tuple((n, ", ".join(machine.sharers(n))) for n in drawn if len(machine.sharers(n)) > 1)
    return HarnessPath(WIDTH, y - 20, tuple(rows), shared)


def _anchors(machine: Machine, circuit: str) -> dict[int, int]:
    """For the first element at each point of a circuit: which of the machine's points it is; none if the order differs."""
    found: dict[int, int] = {}
    for i, element in enumerate(machine.circuits[circuit]):
        if element.point in machine.points and (at := machine.points.index(element.point)) not in found.values():
            found[i] = at
    order = list(found.values())
    return found if order == sorted(order) else {}


def _room(machine: Machine, circuits: Sequence[str]) -> tuple[float, float]:
    """Where the first and the last point stand, so that what lies beyond them on any circuit still fits."""
    before = after = 0
    for circuit in circuits:
        at = list(_anchors(machine, circuit))
        if at:
            before, after = max(before, at[0]), max(after, len(machine.circuits[circuit]) - 1 - at[-1])
    return LINE_LEFT + BEYOND * min(before, 3), LINE_RIGHT - BEYOND * min(after, 3)


def _positions(machine: Machine, circuit: str, room: tuple[float, float]) -> dict[str, float]:
    """Where each element stands: the points one under the other over all circuits, the rest evenly between them."""
    path, (first, last) = machine.circuits[circuit], room
    fixed = {i: first + (last - first) * at / (len(machine.points) - 1) for i, at in _anchors(machine, circuit).items()}
    fixed.setdefault(0, LINE_LEFT)
    fixed.setdefault(len(path) - 1, LINE_RIGHT)
    known = sorted(fixed)
    found = {}
    for i, element in enumerate(path):
        low = max(k for k in known if k <= i)
        high = min(k for k in known if k >= i)
        share = 0.0 if high == low else (i - low) / (high - low)
        found[element.name] = fixed[low] + (fixed[high] - fixed[low]) * share
    return found


def _marks(machine: Machine, circuit: str, xs: dict[str, float], repaired: frozenset[str]) -> tuple[Mark, ...]:
    found = []
    for element in machine.circuits[circuit]:
        wire = element.kind == "wire"
        # Wires are labelled under the line and the rest above it: only labels of the same side get in each other's way.
        others = [xs[e.name] for e in machine.circuits[circuit] if e is not element and (e.kind == "wire") == wire]
        gap = min((abs(x - xs[element.name]) for x in others), default=LINE_RIGHT - LINE_LEFT)
        label = _short(element.name, int(gap / LETTER) - 1)
        shared = len(machine.sharers(element.name)) > 1
        found.append(Mark(xs[element.name], element.kind, element.name, label, shared, element.name in repaired))
    return tuple(found)


def _short(text: str, most: int) -> str:
    """A text of no more characters than there is room for."""
    if len(text) <= most:
        return text
    return text[: most - 2].rstrip() + ".." if most > 3 else text[: max(most, 0)]


def _brackets(
    machine: Machine, circuit: str, xs: dict[str, float], y: float, readings: Sequence[ReadingRow]
) -> tuple[Bracket, ...]:
    found: list[Bracket] = []
    for r in readings:
        section = machine.section(circuit, r.start, r.end)
        assert section is not None, "a reading that was judged has its run"
        inside = [xs[name] for name in section.elements]
        when = "after the repair, " if r.retest else ""
        text = f"{when}step {r.number}: {r.drop_volts:.2f} V of {r.limit_volts:.2f} V, {r.verdict_words}"
        found.append(Bracket(min(inside), max(inside), y + 32 + BRACKET * len(found), text, r.verdict == "over"))
    return tuple(found)
