"""A finished page with the numbers that a person reads written with a decimal comma."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from advisor.plain import with_comma

if TYPE_CHECKING:
    from advisor.model.case import Case

# What no reader sees as text: styles, and everything inside of tags; a drawing's coordinates are there.
_UNREAD: Final = re.compile(r"(<style.*?</style>|<[^>]*>)", re.DOTALL)
_SPOKEN: Final = re.compile(r'(?<= aria-label=")[^"]*(?=")')
_ENTITIES: Final = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&#34;", "'": "&#39;"})


def page_with_comma(page: str, typed: Iterable[str] = ()) -> str:
    """An HTML page; what was `typed` by people stays as it was typed."""
    kept = [words.translate(_ENTITIES) for words in typed]
    parts = _UNREAD.split(page)
    for i, part in enumerate(parts):
        parts[i] = _SPOKEN.sub(lambda found: with_comma(found[0], kept), part) if i % 2 else with_comma(part, kept)
    return "".join(parts)


def typed_words(*cases: Case, details: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """What people typed into cases and into a record's head, as texts that hold a point."""
    held = [*(text for case in cases for event in case.events for text in _texts(event.model_dump())), *(details or {}).values()]
    return tuple(dict.fromkeys(text for text in held if "." in text))


def _texts(value: Any) -> Sequence[str]:
    if isinstance(value, str):
        return (value,)
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list | tuple) else ()
    return [text for each in inner for text in _texts(each)]
