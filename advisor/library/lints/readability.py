"""How hard a text is to read: the Automated Readability Index.

E. A. Senter and R. A. Smith, Automated Readability Index, AMRL-TR-66-220 (US Air Force, 1967), made for technical manuals:
grade = 4.71 * characters per word + 0.5 * words per sentence - 21.43, about the school year that a reader needs.
It wants no dictionary of syllables, so it is the same for everybody who counts.
"""

from __future__ import annotations

import re

_WORD = re.compile(r"[A-Za-z0-9][A-Za-z0-9'.-]*")
_END = re.compile(r"(?<=[.?!;:])\s+")


def words(text: str) -> list[str]:
    """Words and numbers; 0.25 and tie-rod are one each."""
    return _WORD.findall(text)


def sentences(text: str) -> list[str]:
    """The parts between full stops, question marks, semicolons and colons, as far as they hold words."""
    return [s for s in _END.split(text) if words(s)]


def grade(*texts: str) -> float:
    """The index over all texts together; 0 when they hold no word. A short text can come out below 0."""
    parts = [s for text in texts for s in sentences(text)]
    found = [w for s in parts for w in words(s)]
    if not found:
        return 0.0
    characters = sum(c.isalnum() for w in found for c in w)
    return 4.71 * characters / len(found) + 0.5 * len(found) / len(parts) - 21.43
