"""Text from outside made harmless for a terminal: nothing in it moves the cursor, changes colours or turns lines round."""

from __future__ import annotations

import re
from collections.abc import Iterable
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


def with_comma(text: str, kept: Iterable[str] = ()) -> str:
    """A text with its numbers written with a decimal comma. What stands in quotes, or in `kept`, was typed and stays.

    A number of more points (a version), of a path, of a name such as `controller:1.5`, and of a published section is none.
    """
    if "." not in text:
        return text
    typed = [re.escape(words) for words in sorted(set(kept), key=len, reverse=True) if _NUMBER.search(words)]
    pattern = "|".join((*typed, _QUOTED, _NUMBER.pattern))
    return re.sub(pattern, lambda found: f"{found['whole']},{found['rest']}" if found["whole"] else found[0], text)


_QUOTED: Final = r"(?<!\w)'[^'\n]*'(?!\w)|\"[^\"\n]*\""
# At most four digits follow the point: paragraphs of law have more.
_NUMBER: Final = re.compile(
    r"(?<![\w.:/\\@~])(?<![A-Za-z]-)(?<!AC )(?<!CFR )(?<!section )(?P<whole>\d+)\.(?P<rest>\d{1,4})(?![\d(/\\]|\.\w|-\d+[A-Z])"
)


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
