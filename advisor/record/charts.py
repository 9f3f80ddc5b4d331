"""Geometry of the record's pictures, in the units of the drawing; the templates only write it out.

A drawing is as wide as a telephone's window, so that its letters stay readable there; print enlarges it. Lines differ by
dash pattern, mark and number, never by colour alone; the same numbers stand in a table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from advisor.model.finding import NOT_LISTED
from advisor.model.machine import Machine
from advisor.record.material import Material, per_cent
from advisor.record.measured import ReadingRow

LINES = 5
DASHES = ("", "9 4", "2 3", "9 3 2 3", "16 4")
INKS = ("#1d3557", "#7a3b00", "#2f5d2f", "#5b2a6e", "#444444")
WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 360.0, 226.0, 42.0, 24.0, 24.0, 46.0  # HEIGHT without the legend
LABEL_GAP = 12.0  # between the numbers at the lines' ends
LEGEND_ROW = 15.0
LABEL_LENGTH = 48  # characters of a legend, the share among them, that fit in a wide typeface
MOST_MARKS = 8  # marks along one line
# A mark around its point, as path data after the point's own place: ring, square, triangle, diamond, cross, upright cross.
MARKS = (
    "m-3 0a3 3 0 1 0 6 0a3 3 0 1 0 -6 0", "m-2.5 -2.5h5v5h-5z", "m-3 2.5h6l-3 -5.5z", "m0 -3.5l3 3.5l-3 3.5l-3 -3.5z",
    "m-3 -3l6 6m0 -6l-6 6", "m-3.5 0h7m-3.5 -3.5v7",
)  # fmt: skip


@dataclass(frozen=True)
class MoveLine:
    """One line of a drawing. `number` stands at its end and before its label in the legend."""

    title: str
    label: str
    dash: str
    ink: str
    points: str
    end: tuple[float, float]
    label_y: float  # of the number at the end
    shares: tuple[float, ...]
    number: int = 1
    marks: str = ""  # path data
    sample: str = ""  # path data of the mark in the legend
    legend_y: float = 0.0


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
    histories = m.shares
    numbers = [0]
    for i in m.turns[1:]:
        if any(abs(share - histories[numbers[-1]].get(c, 0.0)) >= 0.005 for c, share in histories[i].items()):
            numbers.append(i)
    causes = _shown(m, [histories[n] for n in numbers])
    span = WIDTH - LEFT - RIGHT
    xs = [LEFT + span * i / max(1, len(numbers) - 1) for i in range(len(numbers))]
    lines = []
    for k, cause in enumerate(causes):
        shares = tuple(histories[n].get(cause, 0.0) for n in numbers)
        title, share = m.cause_title(cause), per_cent(shares[-1])
        label = f"{_short(title, LABEL_LENGTH - 1 - len(share))} {share}"
        lines.append(line_through(title, label, k, list(zip(xs, map(_y, shares), strict=True)), shares))
    every = max(1, len(numbers) // 10)
    ticks = tuple((x, n) for i, (x, n) in enumerate(zip(xs, numbers, strict=True)) if i % every == 0)
    levels = tuple((_y(v / 100), v) for v in (0, 25, 50, 75, 100))
    height = HEIGHT + LEGEND_ROW * len(lines)
    return Moves(WIDTH, height, LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM, spread(lines), ticks, levels, tuple(numbers))


def line_through(
    title: str, label: str, k: int, places: Sequence[tuple[float, float]], shares: tuple[float, ...] = (),
    dashes: Sequence[str] = DASHES, inks: Sequence[str] = INKS,
) -> MoveLine:  # fmt: skip
    """The line with the number `k` + 1 through these places, with its marks and its row of the legend."""
    every = max(1, len(places) // MOST_MARKS)
    marks = "".join(f"M{x:.1f} {y:.1f}{MARKS[k]}" for i, (x, y) in enumerate(places) if i % every == 0)
    row = HEIGHT + LEGEND_ROW * k
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
    sample = f"M34 {row:.1f}{MARKS[k]}"
    return MoveLine(title, label, dashes[k], inks[k], points, places[-1], places[-1][1], shares, k + 1, marks, sample, row)


def _y(share: float) -> float:
    return TOP + (HEIGHT - TOP - BOTTOM) * (1 - min(1.0, share))


def _shown(m: Material, histories: Sequence[dict[str, float]]) -> list[str]:
    """The causes with the greatest share at any step; the leader of the end always among them, and first."""
    most = {c: max(h.get(c, 0.0) for h in histories) for c in histories[-1] if c != NOT_LISTED}
    last = histories[-1]
    order = sorted(most, key=lambda c: (-last[c], -most[c], c))[:2] + sorted(most, key=lambda c: (-most[c], c))
    return list(dict.fromkeys(order))[:LINES]


def spread(lines: Sequence[MoveLine]) -> tuple[MoveLine, ...]:
    """Numbers at the lines' ends moved apart so that none covers another, and kept inside the drawing."""
    order = sorted(range(len(lines)), key=lambda i: lines[i].end[1])
    placed: dict[int, float] = {}
    lowest = TOP
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
    middle: float  # of the text
    text: str
    over: bool


@dataclass(frozen=True)
class CircuitRow:
    """One circuit as a line with its elements and readings."""

    name: str
    name_x: float
    name_y: float
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
    numbered: bool  # labels are numbers of `key`, for there is no room for names
    rows: tuple[CircuitRow, ...]
    key: tuple[tuple[int, str], ...]
    shared: tuple[tuple[str, str], ...]  # an element that several circuits run through, and these circuits
    whole: bool = True  # or only the circuits with something over its limit or repaired

    @property
    def on_first_page(self) -> bool:
        """Whether the drawing is low enough to stand on the record's first page."""
        return self.height <= FIRST_PAGE


@dataclass(frozen=True)
class Sheet:
    """Where things stand in a drawing of the harness: for a page, or for a telephone's window."""

    width: float
    left: float
    right: float
    first: float  # of the first circuit's line
    row: float
    name: tuple[float, float]  # of a circuit's name, from the left edge and from its line
    beyond: float  # between elements outside the first and the last point
    numbered: bool


PAGE = Sheet(720.0, 118.0, 690.0, 30.0, 46.0, (4.0, 4.0), 62.0, numbered=False)
NARROW = Sheet(360.0, 18.0, 342.0, 44.0, 66.0, (4.0, -26.0), 30.0, numbered=True)
LINE_RIGHT = PAGE.right
FIRST_BRACKET, BRACKET = 30.0, 18.0  # under a circuit's line
FIRST_PAGE = 200.0  # height up to which a drawing finds room beside all that a first page holds
LETTER = 5.6  # width of a letter of a label, about
BRACKET_LETTER = 6.6  # and of a bracket's text in bold
VERDICT = {"over": "over", "within": "within", "unsure": "too close"}


def harness_path(machine: Machine, readings: Sequence[ReadingRow], repaired: frozenset[str], sheet: Sheet = PAGE) -> HarnessPath:
    """The circuits that were read and those that share elements with them, with every reading in force under its run.

    Where all of them are too high for the first page, those with nothing over its limit and nothing repaired are left out.
    """
    whole = _path(machine, readings, repaired, sheet, frozenset(machine.circuits))
    if whole.on_first_page:
        return whole
    told = {r.circuit for r in readings if not r.replaced and r.verdict == "over"}
    kept = frozenset(c for c, path in machine.circuits.items() if c in told or any(e.name in repaired for e in path))
    return replace(_path(machine, readings, repaired, sheet, kept), whole=False) if told else whole


def _path(
    machine: Machine, readings: Sequence[ReadingRow], repaired: frozenset[str], sheet: Sheet, kept: frozenset[str]
) -> HarnessPath:
    counted = [r for r in readings if not r.replaced]
    read = {r.circuit for r in counted}
    circuits = [c for c, path in machine.circuits.items() if c in kept and any(set(machine.sharers(e.name)) & read for e in path)]
    room = _room(machine, circuits, sheet)
    drawn = dict.fromkeys(e.name for c in circuits for e in machine.circuits[c])
    numbers = {name: n for n, name in enumerate(drawn, 1)}
    rows, y = [], sheet.first
    for circuit in circuits:
        xs = _positions(machine, circuit, room, sheet)
        brackets = _brackets(machine, circuit, xs, y, [r for r in counted if r.circuit == circuit], sheet)
        marks = _marks(machine, circuit, xs, repaired, numbers if sheet.numbered else {})
        at = (sheet.name[0], y + sheet.name[1])
        rows.append(CircuitRow(circuit, *at, y, min(xs.values()), max(xs.values()), marks, brackets))
        y += sheet.row + BRACKET * len(brackets)
    shared = tuple((n, ", ".join(machine.sharers(n))) for n in drawn if len(machine.sharers(n)) > 1)
    height = y - sheet.row + FIRST_BRACKET
    key = tuple((n, name) for name, n in numbers.items()) if sheet.numbered else ()
    return HarnessPath(sheet.width, height, sheet.numbered, tuple(rows), key, shared)


def _anchors(machine: Machine, circuit: str) -> dict[int, int]:
    """For the first element at each point of a circuit: which of the machine's points it is; none if the order differs."""
    found: dict[int, int] = {}
    for i, element in enumerate(machine.circuits[circuit]):
        if element.point in machine.points and (at := machine.points.index(element.point)) not in found.values():
            found[i] = at
    order = list(found.values())
    return found if order == sorted(order) else {}


def _room(machine: Machine, circuits: Sequence[str], sheet: Sheet = PAGE) -> tuple[float, float]:
    """Where the first and the last point stand, so that what lies beyond them on any circuit still fits."""
    before = after = 0
    for circuit in circuits:
        at = list(_anchors(machine, circuit))
        if at:
            before, after = max(before, at[0]), max(after, len(machine.circuits[circuit]) - 1 - at[-1])
    return sheet.left + sheet.beyond * min(before, 3), sheet.right - sheet.beyond * min(after, 3)


def _positions(machine: Machine, circuit: str, room: tuple[float, float], sheet: Sheet = PAGE) -> dict[str, float]:
    """Where each element stands: the points one under the other over all circuits, the rest evenly between them."""
    path, (first, last) = machine.circuits[circuit], room
    fixed = {i: first + (last - first) * at / (len(machine.points) - 1) for i, at in _anchors(machine, circuit).items()}
    fixed.setdefault(0, sheet.left)
    fixed.setdefault(len(path) - 1, sheet.right)
    known = sorted(fixed)
    found = {}
    for i, element in enumerate(path):
        low = max(k for k in known if k <= i)
        high = min(k for k in known if k >= i)
        share = 0.0 if high == low else (i - low) / (high - low)
        found[element.name] = fixed[low] + (fixed[high] - fixed[low]) * share
    return found


def _marks(
    machine: Machine, circuit: str, xs: dict[str, float], repaired: frozenset[str], numbers: dict[str, int]
) -> tuple[Mark, ...]:
    found = []
    for element in machine.circuits[circuit]:
        wire = element.kind == "wire"
        # Wires are labelled under the line and the rest above it: only labels of the same side get in each other's way.
        others = [xs[e.name] for e in machine.circuits[circuit] if e is not element and (e.kind == "wire") == wire]
        gap = min((abs(x - xs[element.name]) for x in others), default=PAGE.right - PAGE.left)
        room = int(gap / LETTER) - 1
        number = str(numbers[element.name]) if numbers else ""
        label = _short(element.name, room) if not numbers else number if len(number) <= room else ""
        shared = len(machine.sharers(element.name)) > 1
        found.append(Mark(xs[element.name], element.kind, element.name, label, shared, element.name in repaired))
    return tuple(found)


def _short(text: str, most: int) -> str:
    """A text of no more characters than there is room for."""
    if len(text) <= most:
        return text
    return text[: most - 2].rstrip() + ".." if most > 3 else text[: max(most, 0)]


def _brackets(
    machine: Machine, circuit: str, xs: dict[str, float], y: float, readings: Sequence[ReadingRow], sheet: Sheet
) -> tuple[Bracket, ...]:
    found: list[Bracket] = []
    for r in readings:
        section = machine.section(circuit, r.start, r.end)
        assert section is not None, "a reading that was judged has its run"
        inside = [xs[name] for name in section.elements]
        drop = f"step {r.number}: {r.drop_volts:.2f} V of {r.limit_volts:.2f} V"
        if sheet.numbered:
            text = f"{'retest ' if r.retest else ''}{drop}, {VERDICT[r.verdict]}"
        else:
            text = f"{'after the repair, ' if r.retest else ''}{drop}, {r.verdict_words}"
        low, high = min(inside), max(inside)
        half = BRACKET_LETTER * len(text) / 2 + 2
        middle = max(half, min((low + high) / 2, sheet.width - half))  # the words stay inside the drawing
        found.append(Bracket(low, high, y + FIRST_BRACKET + BRACKET * len(found), middle, text, r.verdict == "over"))
    return tuple(found)
