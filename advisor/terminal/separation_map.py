"""The map of checks and causes in the terminal: a table where there is room, else lines."""

from __future__ import annotations

import io
from collections.abc import Sequence

from advisor.evidence.map import MEANING, Row, Section
from advisor.terminal.environment import Terminal, clean

TABLE_FROM = 70  # columns; a narrower table breaks words


def show_map(terminal: Terminal, sections: Sequence[Section]) -> None:
    """Prints every section of the map."""
    terminal.line(MEANING)
    for section in sections:
        terminal.line()
        count = len(section.rows)
        terminal.rule(f"{section.title}: {count} cause{'s' if count != 1 else ''}")
        if terminal.width >= TABLE_FROM and not terminal.accessible:
            _table(terminal, section.rows)
        else:
            for row in section.rows:
                _lines(terminal, row)


def _lines(terminal: Terminal, row: Row) -> None:
    terminal.line(row.cause, "bold")
    for parting in row.partings:
        terminal.line(f"- {parting.check}: from {parting.told_from}, {parting.decibans:.0f} dB", indent=2, hang=2)
    if row.hardest is not None:
        terminal.line(f"Hardest: {row.hardest.told_from}", indent=2, hang=2)
        terminal.line(f"- {row.hardest.check}: {row.hardest.decibans:.0f} dB", indent=2, hang=2)
    for title in row.together:
        terminal.line(f"NOT told from: {title}", indent=2, hang=2)


def _table(terminal: Terminal, rows: Sequence[Row]) -> None:
    from rich.box import ASCII, SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    box = SIMPLE_HEAD if terminal.blocks else ASCII
    table = Table(box=box, width=terminal.width, pad_edge=False, show_lines=False, safe_box=False)
    for heading in ("Cause", "Check", "tells it from"):
        table.add_column(heading, ratio=1)
    table.add_column("dB", justify="right", no_wrap=True)
    for row in rows:
        cause = clean(row.cause)
        for parting in row.partings:
            table.add_row(cause, clean(parting.check), clean(parting.told_from), f"{parting.decibans:.0f}")
            cause = ""
        if (near := row.hardest) is not None:
            table.add_row(cause, clean(near.check), f"hardest: {clean(near.told_from)}", f"{near.decibans:.0f}")
            cause = ""
        for title in row.together:
            table.add_row(cause, "none", f"NOT from {clean(title)}", "")
            cause = ""
    drawn = io.StringIO()
    console = Console(file=drawn, width=terminal.width, color_system=None, markup=False, emoji=False, highlight=False)
    console.print(table)
    for line in drawn.getvalue().splitlines():
        terminal.raw(line)
