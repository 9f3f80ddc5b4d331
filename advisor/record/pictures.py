"""Pictures for people who look rather than read, as SVG inside a page; the one home of matplotlib.

A picture is as wide as a telephone's window, so that its letters stay readable there. Every bar and field has its number,
and bars differ by hatching: colour never says anything alone. The same numbers stand in a table.
"""

from __future__ import annotations

import io
import re
import textwrap
import warnings
from collections.abc import Sequence
from typing import TYPE_CHECKING

from advisor.plain import one_line

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH = 5.0  # inches of 72 units
INK, PAPER, GREY = "#1a1a1a", "#ffffff", "#767676"
FILLS = (("#1d3557", ""), ("#c9b37e", "///"), ("#5b7f5b", "..."))
LETTER_SIZE = 9.5  # units of the drawing; on a telephone as many pixels
LETTERS = 26  # of a line of a label beside a picture


def installed() -> bool:
    """Whether pictures can be drawn: the library comes with `advisor[shop]`."""
    from importlib.util import find_spec

    return find_spec("matplotlib") is not None


def bars(name: str, labels: Sequence[str], rows: Sequence[tuple[str, Sequence[float]]], unit: str) -> str:
    """Bars side by side for each label; `rows` are what they mean and their heights. The number stands on each bar."""
    figure, axes = _begun(2.9)
    wide = 0.8 / len(rows)
    for k, (title, values) in enumerate(rows):
        fill, hatch = FILLS[k]
        at = [i + (k - (len(rows) - 1) / 2) * wide for i in range(len(labels))]
        drawn = axes.bar(at, values, wide * 0.94, label=title, color=fill, hatch=hatch, edgecolor=INK, linewidth=0.6)
        if len(labels) * len(rows) <= 12:
            axes.bar_label(drawn, fmt="%.0f", fontsize=LETTER_SIZE, padding=1)
    axes.set_xticks(range(len(labels)), labels, rotation=50 if len(labels) > 6 else 0, ha="right" if len(labels) > 6 else "center")
    axes.set_ylabel(unit)
    axes.margins(y=0.14)
    axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=len(rows), frameon=False, borderaxespad=0.2)
    return _svg(figure, name)


def grid(name: str, across: Sequence[str], down: Sequence[str], counts: Sequence[Sequence[int]]) -> str:
    """Counts as a field of numbers, darker the more there are."""
    from matplotlib.colors import LinearSegmentedColormap

    figure, axes = _begun(1.0 + 0.32 * len(down))
    shades = LinearSegmentedColormap.from_list("paper to ink", [PAPER, "#c9b37e", FILLS[0][0]])
    most = max((n for row in counts for n in row), default=1) or 1
    axes.pcolormesh(counts, cmap=shades, vmin=0, vmax=most, edgecolors=GREY, linewidth=0.3)  # drawn, not an image of dots
    for y, row in enumerate(counts):
        for x, n in enumerate(row):
            if n:
                axes.text(
                    x + 0.5, y + 0.5, f"{n}", ha="center", va="center", fontsize=LETTER_SIZE, color=PAPER if n > 0.7 * most else INK
                )
    axes.set_xticks([x + 0.5 for x in range(len(across))], across, rotation=50, ha="right", rotation_mode="anchor")
    axes.set_yticks([y + 0.5 for y in range(len(down))], [wrapped(d) for d in down])
    axes.invert_yaxis()
    axes.tick_params(length=0)
    return _svg(figure, name)


def pairs(name: str, labels: Sequence[str], rows: Sequence[tuple[float, float]], first: str, second: str) -> str:
    """Two values for each label on one scale of equal ratios, joined by a line: a ring for the first, a square for the second."""
    figure, axes = _begun(0.9 + 0.32 * len(labels))
    at = list(range(len(labels)))
    axes.hlines(at, [r[0] for r in rows], [r[1] for r in rows], color=GREY, linewidth=1)
    axes.plot([r[0] for r in rows], at, "o", markerfacecolor=PAPER, markeredgecolor=INK, label=first)
    axes.plot([r[1] for r in rows], at, "s", color=FILLS[0][0], label=second)
    axes.set_xscale("log", base=2)
    least, most = min(min(r) for r in rows), max(max(r) for r in rows)
    ticks = [t for t in (1, 2, 4, 8, 15, 30, 60, 120, 240, 480) if 0.7 * least <= t <= 1.4 * most]
    axes.set_xticks(ticks, [f"{t}" for t in ticks])
    axes.minorticks_off()
    axes.set_yticks(at, [wrapped(label) for label in labels])
    axes.invert_yaxis()
    axes.set_xlabel("minutes; each step twice as long")
    axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=2, frameon=False, borderaxespad=0.2)
    return _svg(figure, name)


def wrapped(text: str) -> str:
    """A label on two lines at most."""
    lines = textwrap.wrap(one_line(text), LETTERS)
    return "\n".join([lines[0], shortened(" ".join(lines[1:]))]) if len(lines) > 1 else " ".join(lines)


def shortened(text: str, most: int = LETTERS) -> str:
    """A label cut at a word, where it is too long."""
    text = one_line(text)
    if len(text) <= most:
        return text
    return text[: most - 1].rsplit(" ", 1)[0] + "\N{HORIZONTAL ELLIPSIS}"


def _begun(height: float) -> tuple[Figure, Axes]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def _svg(figure: Figure, name: str) -> str:
    """The drawing as an element of a page: text stays text, ids are its own, and it hides from a screen reader.

    The figure around it has the words, and the table the numbers.
    """
    from matplotlib import rc_context

    drawn = io.StringIO()
    for axes in figure.axes:
        for item in [axes.xaxis.label, axes.yaxis.label, *axes.get_xticklabels(), *axes.get_yticklabels()]:
            item.set_fontsize(LETTER_SIZE)
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": name, "text.parse_math": False}), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of letters that its own fonts lack: the reader's fonts draw them
        figure.savefig(drawn, format="svg", metadata={"Date": None, "Creator": None})
    text = drawn.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r'(url\(#|href="#)', rf"\g<1>{name}-", text)
    return re.sub(
        r'<svg([^>]*?) width="[^"]*"', r'<svg\1 aria-hidden="true"', re.sub(r' height="[\d.]+pt"', "", text, count=1), count=1
    )
