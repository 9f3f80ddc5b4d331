"""YAML text to plain data with the position of every value; the one home of the yaml library.

Only a strict part of YAML is read: YAML 1.2 core scalars, no anchors or aliases (a few hundred bytes of nested aliases
can cost minutes), no tags, no key twice, one document a file.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from advisor.errors import Location, NotFound, Problem

LARGEST_FILE = 1_000_000  # bytes; the longest real file is a fiftieth of this
UNFILLED = "FILL IN"  # how a text of a new file begins that is to be written over
DEEPEST = 30  # levels; the deepest real file has 7

Path_ = tuple[str | int, ...]

_INT = re.compile(r"[-+]?[0-9]{1,18}\Z")  # longer ones become floats: turning thousands of digits into an int raises
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?\Z")
_WORDS: dict[str, Any] = {
    "": None, "~": None, "null": None, "Null": None, "NULL": None,
    "true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False,
}  # fmt: skip


@dataclass(frozen=True)
class Document:
    """One file's data, and where each value stands in it."""

    path: str
    data: Any
    positions: dict[Path_, tuple[int, int]]
    problems: tuple[Problem, ...] = ()

    def locate(self, path: Path_) -> Location:
        """The position of the value at a path, or of the nearest value that encloses it."""
        for length in range(len(path), -1, -1):
            found = self.positions.get(path[:length])
            if found is not None:
                return Location(self.path, *found)
        return Location(self.path, 1, 1)


class _Refused(Exception):
    def __init__(self, mark: Any, what: str, hint: str) -> None:
        super().__init__(what)
        self.mark, self.what, self.hint = mark, what, hint


def scalar(text: str) -> Any:
    """A plain scalar by the YAML 1.2 core schema: null, true and false, whole and decimal numbers; else the text."""
    if text in _WORDS:
        return _WORDS[text]
    if text[0] not in "+-.0123456789":
        return text
    if _INT.match(text):
        return int(text)
    return float(text) if _FLOAT.match(text) else text


def _position(event: Any) -> tuple[int, int]:
    """Line and column of an event, counted from 1."""
    return event.start_mark.line + 1, event.start_mark.column + 1


class _Builder:
    """Builds data and positions from parse events."""

    def __init__(self, events: Iterable[Any]) -> None:
        self.events = iter(events)
        self.positions: dict[Path_, tuple[int, int]] = {}
        self.doubled: list[tuple[int, int, str]] = []
        self.unfilled: list[tuple[int, int, str]] = []

    def document(self) -> Any:
        """The data of the one document; None when there is none."""
        data = None
        documents = 0
        for event in self.events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise _Refused(event.start_mark, "a second document starts here", "keep one document a file")
                data = self.node(next(self.events), ())
        return data

    def node(self, event: Any, path: Path_) -> Any:
        """The value that starts with an event, its position noted under its path."""
        mark = event.start_mark
        if isinstance(event, yaml.AliasEvent) or event.anchor is not None:
            raise _Refused(mark, "anchors (&) and aliases (*) are not read here", "write the value out where it is used")
        if event.tag is not None and event.tag != "!":
            raise _Refused(mark, f"tags such as {event.tag} are not read here", "leave the tag out")
        if len(path) > DEEPEST:
            raise _Refused(mark, f"nested more than {DEEPEST} levels deep", "look for a bracket that is not closed")
        self.positions[path] = (mark.line + 1, mark.column + 1)
        if isinstance(event, yaml.ScalarEvent):
            self.filled(event)
            return scalar(event.value) if event.implicit[0] else event.value
        if isinstance(event, yaml.SequenceStartEvent):
            items: list[Any] = []
            while not isinstance(item := next(self.events), yaml.SequenceEndEvent):
                items.append(self.node(item, (*path, len(items))))
            return items
        return self.mapping(path)

    def filled(self, event: Any) -> None:
        """Notes a text that still stands as it came in a new file."""
        if event.value.startswith(UNFILLED):
            self.unfilled.append((*_position(event), event.value.removeprefix(UNFILLED).strip()))

    def mapping(self, path: Path_) -> dict[str, Any]:
        """A mapping; keys that stand twice are noted, the last one counts."""
        found: dict[str, Any] = {}
        while not isinstance(key := next(self.events), yaml.MappingEndEvent):
            if not isinstance(key, yaml.ScalarEvent):
                raise _Refused(key.start_mark, "a key must be a single word", "quote a text that holds brackets")
            if key.anchor is not None:
                raise _Refused(key.start_mark, "anchors (&) and aliases (*) are not read here", "write it out")
            if key.tag is not None:
                raise _Refused(key.start_mark, f"tags such as {key.tag} are not read here", "leave the tag out")
            self.filled(key)
            name, mark = key.value, _position(key)
            if name in found:
                self.doubled.append((*mark, name))
            found[name] = self.node(next(self.events), (*path, name))
            self.positions[(*path, name)] = mark
        return found


def parse(text: str, path: str) -> Document:
    """Text to data; what cannot be read is in `problems`, and `data` is then None."""
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    builder = _Builder(yaml.parse(text, Loader=loader))
    try:
        data = builder.document()
    except _Refused as refused:
        where = Location(path, refused.mark.line + 1, refused.mark.column + 1)
        return Document(path, None, {}, (Problem(where, refused.what, refused.hint),))
    except yaml.MarkedYAMLError as error:
        return Document(path, None, {}, (_unreadable(error, path),))
    except yaml.YAMLError as error:
        what = f"not readable as YAML ({str(error).splitlines()[0]})"
        return Document(path, None, {}, (Problem(Location(path, 1, 1), what, "save the file as plain UTF-8 text"),))
    doubled = tuple(
        Problem(Location(path, line, column), f"the key '{name}' stands here a second time", "keep one")
        for line, column, name in builder.doubled
    )
    unfilled = tuple(
        Problem(Location(path, line, column), "this is not filled in yet", f"write {what}")
        for line, column, what in builder.unfilled
    )
    if unfilled:
        return Document(path, None, {}, (*doubled, *unfilled))  # what else is wrong is seen when it is filled in
    return Document(path, data, builder.positions, doubled)


def _unreadable(error: yaml.MarkedYAMLError, path: str) -> Problem:
    """A YAML syntax error in words that name both marks where the library knows two."""
    mark = error.problem_mark or error.context_mark
    where = Location(path, mark.line + 1, mark.column + 1) if mark else Location(path, 1, 1)
    what = f"not readable as YAML: {error.problem or error.context}"
    hint = "check quotes, brackets and indentation"
    begun = error.context_mark
    if begun is not None and mark is not None and (begun.line, begun.column) != (mark.line, mark.column):
        hint += f"; what is wrong began at line {begun.line + 1}, column {begun.column + 1}"
    return Problem(where, what, hint)


def read(file: Path, shown: str | None = None) -> Document:
    """A file's document; `shown` is the name used in messages. Raises NotFound when there is no such file."""
    name = shown or str(file)
    try:
        raw = file.read_bytes()
    except (FileNotFoundError, NotADirectoryError, ValueError):  # ValueError: a zero byte in the name
        raise NotFound(f"{name}: no such file", "Check the name and the folder.") from None
    except OSError as error:
        return _not_text(name, f"cannot be read ({error.strerror})", "check the permissions of the file")
    if len(raw) > LARGEST_FILE:
        return _not_text(name, f"is larger than {LARGEST_FILE} bytes", "this is not a file of the advisor")
    if b"\0" in raw:
        return _not_text(name, "is not a text file", "save it as plain UTF-8 text")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        problem = Problem(Location(name, line, 1), "is not UTF-8 text", "save it as plain UTF-8 text")
        return Document(name, None, {}, (problem,))
    document = parse(text, name)
    if document.data is None and not document.problems:
        return _not_text(name, "is empty", "write its entries, or delete the file")
    return document


def _not_text(name: str, what: str, hint: str) -> Document:
    return Document(name, None, {}, (Problem(Location(name, 1, 1), what, hint),))
