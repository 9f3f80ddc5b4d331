"""Text from outside made harmless for a terminal: nothing in it moves the cursor, changes colours or turns lines round."""

from __future__ import annotations

from typing import Final

# C0 and C1 controls; marks, embeddings, overrides and isolates of the bidirectional algorithm (Unicode Standard Annex 9);
# separators of lines and paragraphs; characters that take no room at all; halves of characters.
_KEPT: Final = "\n\t"
_GONE: Final = {
    **dict.fromkeys((*range(32), *range(127, 160), 0x061C, 0x200B, 0x200E, 0x200F, 0x2028, 0x2029)),
    **dict.fromkeys((*range(0x202A, 0x202F), *range(0x2060, 0x2070), 0xFEFF, *range(0xFFF9, 0xFFFC), *range(0xE0000, 0xE0080))),
    **dict.fromkeys(range(0xD800, 0xE000), "\N{REPLACEMENT CHARACTER}"),
}
_LINES_KEPT: Final = {code: what for code, what in _GONE.items() if chr(code) not in _KEPT}


def plain(text: str) -> str:
    """A text of several lines without what is no text; ends of lines and tabs stay."""
    return text.translate(_LINES_KEPT)


def one_line(text: str) -> str:
    """The same in one line."""
    if text.isascii() and text.isprintable():  # most texts are, and a long list has many
        return text
    return text.replace("\t", " ").replace("\r\n", " ").replace("\n", " ").replace("\u2028", " ").translate(_GONE)


def fitting(text: str, encoding: str | None) -> str:
    """A text that a console or file of this encoding can show: what it lacks stands as its nearest plain character."""
    if text.isascii():
        return text
    try:
        text.encode(encoding or "ascii")
    except UnicodeEncodeError:
        return text.translate(_NEAREST)
    except LookupError:
        return text.translate(_NEAREST).encode("ascii", "replace").decode()
    return text


_NEAREST: Final = str.maketrans(
    {
        "\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{EM DASH}": "-", "\N{MULTIPLICATION SIGN}": "x", "\N{BULLET}": "*",
        "\N{FULL BLOCK}": "#", "\N{MIDDLE DOT}": ".", "\N{BOX DRAWINGS LIGHT HORIZONTAL}": "-", "\N{PLUS-MINUS SIGN}": "+-",
        "\N{LEFT SINGLE QUOTATION MARK}": "'", "\N{RIGHT SINGLE QUOTATION MARK}": "'", "\N{DEGREE SIGN}": " deg ",
        "\N{LEFT DOUBLE QUOTATION MARK}": '"', "\N{RIGHT DOUBLE QUOTATION MARK}": '"', "\N{RIGHTWARDS ARROW}": "->",
        "\N{HORIZONTAL ELLIPSIS}": "...", "\N{NO-BREAK SPACE}": " ", "\N{GREEK CAPITAL LETTER OMEGA}": "ohm", "\N{OHM SIGN}": "ohm",
    }
)  # fmt: skip
