"""Words looked for in the trade knowledge: titles count more than texts, and a misspelt word finds its neighbour."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from advisor.model.knowledge import Knowledge

KINDS = ("complaints", "causes", "checks", "rules", "moves", "safety", "cautions", "tools")
CLOSE = 0.78  # similarity from which on a word is taken for a misspelt one; found by trial
IN_TITLE, IN_TEXT = 3, 1
_WORD = re.compile(r"[a-z0-9]+")


@dataclass(frozen=True)
class Hit:
    """An entry that holds every word looked for. `line` is its sentence with most of them, where that is not the title."""

    kind: str
    id: str
    title: str
    line: str
    score: int


@dataclass(frozen=True)
class Found:
    """The entries, best first, and the words that were read as others."""

    hits: tuple[Hit, ...]
    read_as: tuple[tuple[str, str], ...]


def search(knowledge: Knowledge, words: str) -> Found:
    """The entries that hold every one of the words, or begin a word with it."""
    entries = [(kind, i, e, tuple(_texts(e))) for kind in KINDS for i, e in getattr(knowledge, kind).items()]
    known = {w for _, i, _, texts in entries for t in (i, *texts) for w in _WORD.findall(t.lower())}
    wanted, read_as = [], []
    for word in dict.fromkeys(_WORD.findall(words.lower())):
        if any(w.startswith(word) for w in known):
            wanted.append(word)
        else:
            near = difflib.get_close_matches(word, known, n=1, cutoff=CLOSE)
            wanted.append(near[0] if near else word)
            read_as += [(word, near[0])] if near else []
    hits = [hit for kind, i, e, texts in entries if wanted and (hit := _hit(kind, i, e, texts, wanted)) is not None]
    return Found(tuple(sorted(hits, key=lambda h: (-h.score, h.kind, h.id))), tuple(read_as))


def title_of(entry: Any) -> str:
    """What names an entry on a line: its title, else what it says or why."""
    return next((t for k in ("title", "says", "because") if (t := getattr(entry, k, ""))), "")


def _hit(kind: str, entry_id: str, entry: Any, texts: tuple[str, ...], wanted: list[str]) -> Hit | None:
    title = title_of(entry)
    head = _WORD.findall(f"{entry_id} {title}".lower())
    score, best, line = 0, 0, ""
    for word in wanted:
        in_head = any(w.startswith(word) for w in head)
        in_text = any(w.startswith(word) for t in texts for w in _WORD.findall(t.lower()))
        if not in_head and not in_text:
            return None
        score += IN_TITLE * in_head + IN_TEXT * in_text
    for text in texts:
        held = sum(any(w.startswith(word) for w in _WORD.findall(text.lower())) for word in wanted)
        if held > best and text != title:
            best, line = held, text
    shown = "" if all(any(w.startswith(word) for w in head) for word in wanted) else line
    return Hit(kind, entry_id, title, shown, score)


def _texts(value: Any) -> Iterator[str]:
    """Every sentence in an entry, however deep."""
    if isinstance(value, str):
        if " " in value:
            yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from _texts(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from _texts(part)
    elif hasattr(value, "model_dump"):
        yield from _texts(value.model_dump())
