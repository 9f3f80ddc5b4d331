"""Markdown that reads well as plain text: lines of 80 columns, tables with their cells under each other."""

from __future__ import annotations

import re
import textwrap
import unicodedata

COLUMNS = 80
_LEAD = re.compile(r"^(\s*)((?:[-*] (?:\[[ x]\] )?|\d+[.)] |> )?)")
_TOGETHER = "\N{NO-BREAK SPACE}\x00"  # marks a space at which a line must not end
# A word that would begin a list or underline a heading if it came to stand first on a line.
_MARK = re.compile(r" (?=(?:[-+*=]+|\d+[.)])(?: |$)|[-+=]{2,})")
_ENDS_BLANK = re.compile(r"[\t\n\v\f\r]| $")  # what wrapping takes from a line that is short enough
_CELLS = re.compile(r"(?<!\\)\|")


def paged(text: str) -> str:
    """The same Markdown with long lines wrapped and table cells padded. What it means does not change."""
    found: list[str] = []
    table: list[str] = []
    for line in text.split("\n"):
        if line.startswith("|"):
            table.append(line)
            continue
        found += _padded(table)
        table = []
        found += [line] if line.startswith("#") else _wrapped(line)
    return "\n".join([*found, *_padded(table)])


def _wrapped(line: str) -> list[str]:
    lead = _LEAD.match(line)
    assert lead is not None
    first, body = lead.group(0), line[lead.end() :]
    if not body:
        return [line]
    quote = first.strip() == ">"
    rest = first if quote else " " * (len(lead.group(1)) + (2 if lead.group(2) else 0))
    held = _MARK.sub(_TOGETHER, body)
    if len(first) + len(held) <= COLUMNS and not _ENDS_BLANK.search(line):
        return [line]
    lines = textwrap.wrap(
        held, COLUMNS, initial_indent=first, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False
    )
    return [x.replace(_TOGETHER, " ") for x in lines]


def _padded(table: list[str]) -> list[str]:
    """The rows of a table with every column as wide as its widest cell; a table that is too wide for that stays as it is."""
    rows = [[c.strip() for c in _CELLS.split(line)[1:-1]] for line in table]
    if not rows or len({len(r) for r in rows}) != 1:
        return table
    rule = rows[1] if len(rows) > 1 else [""]
    widths = [max(3, *(_width(r[i]) for n, r in enumerate(rows) if n != 1)) for i in range(len(rows[0]))]
    if sum(widths) + 3 * len(widths) + 1 > COLUMNS:
        return table
    found = []
    for n, row in enumerate(rows):
        cells = []
        for cell, width, align in zip(row, widths, rule, strict=True):
            right = align.endswith(":")
            if n == 1:
                cells.append("-" * (width - 1) + ":" if right else "-" * width)
            else:
                room = " " * (width - _width(cell))
                cells.append(room + cell if right else cell + room)
        found.append(f"| {' | '.join(cells)} |")
    return found


def _width(text: str) -> int:
    return sum(2 if unicodedata.east_asian_width(c) in "WF" else 0 if unicodedata.combining(c) else 1 for c in text)
