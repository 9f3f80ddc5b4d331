"""Boxes in columns with arrows between them, without crossings that can be spared; the one home of grandalf.

The order in a column and the places follow Sugiyama, Tagawa & Toda, IEEE Trans. SMC 11(2), 1981.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, GAP, BETWEEN, MARGIN = 236, 84, 14, 8  # pixels: a box, from column to column, from box to box, around all
LINE, PAD = 17, 7  # pixels: a line of text, above and below the text
LETTERS = 33  # of a line in a box


@dataclass(frozen=True)
class Node:
    """A box that is wanted: its column from 0, its text, and what is added in smaller words."""

    key: str
    column: int
    title: str
    small: str = ""


@dataclass(frozen=True)
class Box:
    """A box in its place: pixels of its upper left corner, its size, its lines."""

    node: Node
    x: float
    y: float
    width: float
    height: float
    lines: tuple[tuple[str, bool], ...]  # each with whether it is small


@dataclass(frozen=True)
class Arrow:
    """From the right side of one box to the left side of another, in pixels."""

    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True)
class Picture:
    """Boxes and arrows, with the size of the whole in pixels."""

    width: float
    height: float
    boxes: tuple[Box, ...]
    arrows: tuple[Arrow, ...]


@dataclass(frozen=True)
class Drawn:
    """A picture with its heading, and the same in words."""

    id: str
    title: str
    picture: Picture
    words: tuple[str, ...]


class _View:
    """What the layout needs of a vertex: its size; it writes the middle into `xy`. It lays out downwards, so both are swapped."""

    def __init__(self, height: float) -> None:
        self.w, self.h = height, WIDTH
        self.xy = (0.0, 0.0)


def layered(nodes: Sequence[Node], links: Sequence[tuple[str, str]]) -> Picture:
    """Nodes in their columns; each link leads from one column to the next."""
    from grandalf.graphs import Edge, Graph, Vertex
    from grandalf.layouts import SugiyamaLayout

    lines = {n.key: _lines(n) for n in nodes}
    vertices = {n.key: Vertex(n) for n in nodes}
    for key, vertex in vertices.items():
        vertex.view = _View(len(lines[key]) * LINE + 2 * PAD)
    graph = Graph(list(vertices.values()), [Edge(vertices[a], vertices[b]) for a, b in links])
    boxes: dict[str, Box] = {}
    top = float(MARGIN)
    for part in graph.C:
        layout = SugiyamaLayout(part)
        layout.xspace, layout.yspace = BETWEEN, GAP
        layout.init_all()
        layout.draw()
        own = {v.data.key: v.view for v in part.sV}
        first = min(view.xy[0] - view.w / 2 for view in own.values())
        for key, view in own.items():
            node = vertices[key].data
            x = MARGIN + node.column * (WIDTH + GAP)
            boxes[key] = Box(node, x, top + view.xy[0] - view.w / 2 - first, WIDTH, view.w, lines[key])
        top = max(boxes[k].y + boxes[k].height for k in own) + BETWEEN
    arrows = [Arrow(a.x + WIDTH, a.y + a.height / 2, b.x, b.y + b.height / 2) for a, b in ((boxes[f], boxes[t]) for f, t in links)]
    columns = 1 + max(n.column for n in nodes)
    width = columns * WIDTH + (columns - 1) * GAP + 2 * MARGIN
    return Picture(width, top - BETWEEN + MARGIN, tuple(boxes[n.key] for n in nodes), tuple(arrows))


def _lines(node: Node) -> tuple[tuple[str, bool], ...]:
    """The text of a node cut into lines that fit its box."""
    wide = [(line, False) for line in textwrap.wrap(node.title, LETTERS)]
    return (*wide, *((line, True) for line in textwrap.wrap(node.small, LETTERS + 4)))
