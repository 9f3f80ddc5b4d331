"""The files of one folder to untyped entries, each with its kind and its place; and entries to models."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from advisor.errors import Location, Problem, nearest
from advisor.library.reader import LARGEST_FILE, Document, Path_, read
from advisor.library.validation import build
from advisor.model.experience import Experience
from advisor.model.knowledge import (
    Cause,
    Caution,
    Check,
    Complaint,
    FaultMode,
    Intake,
    Kind,
    NotSeparated,
    SamePhysics,
    Source,
    Term,
    Tool,
)
from advisor.model.phrase import Phrase, WordGroup
from advisor.model.retired import Retired
from advisor.model.rule import Rule, RuleCase
from advisor.model.states import Move, SafetyRule, Variable
from advisor.model.words import Words

# The models of the files at the top of the folder; each holds a list of entries.
LISTS: dict[str, type[BaseModel]] = {
    "sources": Source, "fault-modes": FaultMode, "complaints": Complaint, "intake": Intake, "kinds": Kind, "safety": SafetyRule,
    "cautions": Caution, "tools": Tool, "pairs-not-separated": NotSeparated, "same-physics": SamePhysics,
    "glossary": Term, "phrases": Phrase, "word-groups": WordGroup,
}  # fmt: skip
SINGLE: dict[str, type[BaseModel]] = {"words": Words, "retired": Retired, "experience": Experience}  # files that are one entry
_ID = re.compile(rb"\bid: *([a-z0-9-]+)")
PARTS: dict[str, type[BaseModel]] = {"variables": Variable, "moves": Move}  # of states.yaml


@dataclass
class Spot:
    """Where an entry stands, so that what is wrong with it can be named."""

    document: Document
    prefix: Path_
    broken: set[str] = field(default_factory=set)  # ids of entries with errors of their own: naming one is no second error

    @property
    def place(self) -> Location:
        """Where the entry begins."""
        return self.document.locate(self.prefix)

    def problem(self, path: Path_, what: str, hint: str = "") -> Problem:
        return Problem(self.document.locate((*self.prefix, *path)), what, hint)


@dataclass(frozen=True)
class Raw:
    """One entry as it was read, not typed yet. `wanted` is what the file's place asks of it, by field."""

    kind: str
    model: type[BaseModel]
    data: Any
    spot: Spot
    wanted: Mapping[str, str] = field(default_factory=dict)

    @property
    def key(self) -> str:
        """The field that names an entry of this kind."""
        return "fmi" if self.kind == "fault-modes" else "id"

    @property
    def id(self) -> Any:
        return self.data.get(self.key) if isinstance(self.data, dict) else None


@dataclass
class Loaded:
    """What a load has found so far: entries with their spots, and problems."""

    raw: list[Raw] = field(default_factory=list)
    entries: dict[str, list[tuple[Any, Spot]]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    broken: set[str] = field(default_factory=set)
    whole: bool = True  # every part must be there; False: a layer that says only what differs

    def spot(self, document: Document, prefix: Path_) -> Spot:
        return Spot(document, prefix, self.broken)

    def typed(self) -> None:
        """Types every entry; one that has errors is remembered by its id, so that naming it is no second error."""
        for raw in self.raw:
            entry, problems = build(raw.model, raw.data, raw.spot.document, raw.spot.prefix)
            self.problems += problems
            if entry is not None:
                self.entries.setdefault(raw.kind, []).append((entry, raw.spot))
                self.problems += _misplaced(entry, raw)
            elif isinstance(raw.data, dict):
                self.broken.add(str(raw.data.get("id")))

    def keyed(self, kind: str, key: str = "id") -> dict[Any, Any]:
        """Entries of a kind by id; an id that stands twice is a problem."""
        found: dict[Any, tuple[Any, Spot]] = {}
        for entry, spot in self.entries.get(kind, []):
            name = getattr(entry, key)
            if name in found:
                what = f"'{name}' is already used at {found[name][1].place}"
                self.problems.append(spot.problem((key,), what, "choose another id"))
            else:
                found[name] = (entry, spot)
        return {name: entry for name, (entry, _) in found.items()}


def _misplaced(entry: Any, raw: Raw) -> Iterator[Problem]:
    if isinstance(entry, Check) and entry.counted:
        yield raw.spot.problem(("counted",), "'counted' is not a key here", "numbers counted from cases stand in experience.yaml")
    for key, wanted in raw.wanted.items():
        if getattr(entry, key) != wanted:
            yield raw.spot.problem((key,), f"'{getattr(entry, key)}' does not fit the file's place", f"did you mean '{wanted}'?")


def read_all(folder: Path, files: Iterable[Path], shown: str | None = None, *, whole: bool = True) -> Loaded:
    """Every file of a folder as untyped entries; `shown` is the folder's name in messages."""
    loaded = Loaded(whole=whole)
    for file in files:
        name = file.relative_to(folder).as_posix()
        _read_one(loaded, file, name, f"{shown or folder.name}/{name}")
    return loaded


def _read_one(loaded: Loaded, file: Path, name: str, shown: str) -> None:
    """Reads one file into `loaded` by the kind its place in the folder gives it."""
    document = read(file, shown)
    loaded.problems += document.problems
    if document.data is None:
        loaded.broken |= _ids_in(file)
        return
    parts = name.removesuffix(".yaml").split("/")
    match parts:
        case [kind] if kind in SINGLE:
            loaded.raw.append(Raw(kind, SINGLE[kind], document.data, loaded.spot(document, ())))
        case ["states"]:
            _states(loaded, document)
        case [kind] if kind in LISTS:
            _listed(loaded, kind, LISTS[kind], document)
        case ["causes", system]:
            _listed(loaded, "causes", Cause, document, {"system": system})
        case ["checks", system, stem]:
            wanted = {"system": system, "id": stem}
            loaded.raw.append(Raw("checks", Check, document.data, loaded.spot(document, ()), wanted))
        case ["rules", topic] if topic.endswith(".cases"):
            _listed(loaded, "cases", RuleCase, document)
        case ["rules", _]:
            _listed(loaded, "rules", Rule, document)
        case _:
            known = [
                *(f"{k}.yaml" for k in (*LISTS, *SINGLE)),
                "states.yaml",
                "causes/SYSTEM.yaml",
                "checks/SYSTEM/ID.yaml",
                "rules/TOPIC.yaml",
            ]
            loaded.problems.append(Problem(Location(shown, 1, 1), "this file has no place in the folder", nearest(name, known)))


def _ids_in(file: Path) -> set[str]:
    """The ids that stand in a file which cannot be read as a whole: whoever names one of them is not to blame."""
    try:
        with file.open("rb") as source:
            return {name.decode() for name in _ID.findall(source.read(LARGEST_FILE))}
    except OSError:
        return set()


def _listed(loaded: Loaded, kind: str, model: type[BaseModel], document: Document, wanted: Mapping[str, str] | None = None) -> None:
    if not isinstance(document.data, list):
        loaded.problems.append(Problem(Location(document.path, 1, 1), "a list of entries is wanted here", "start each with '- '"))
        return
    for i, item in enumerate(document.data):
        loaded.raw.append(Raw(kind, model, item, loaded.spot(document, (i,)), wanted or {}))


def _states(loaded: Loaded, document: Document) -> None:
    """The variables of the machine, and the moves between their values."""
    parts = set(document.data) if isinstance(document.data, dict) else set()
    if not parts or not parts <= set(PARTS) or (loaded.whole and parts != set(PARTS)):
        loaded.problems.append(Problem(Location(document.path, 1, 1), "'variables' and 'moves' are wanted here", "write both"))
        return
    for kind, items in document.data.items():
        for i, item in enumerate(items if isinstance(items, list) else []):
            loaded.raw.append(Raw(kind, PARTS[kind], item, loaded.spot(document, (kind, i))))
