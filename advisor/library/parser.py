"""A knowledge folder to `Knowledge`: every file read, every entry typed, all errors of the load shown together."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from advisor.errors import KnowledgeError, Location, NotFound, Problem, nearest
from advisor.library import references
from advisor.library.reader import Document, Path_, read
from advisor.library.validation import build
from advisor.model.knowledge import Cause, Caution, Check, Complaint, FaultMode, Intake, Kind, Knowledge, NotSeparated, Source, Tool
from advisor.model.retired import Retired
from advisor.model.rule import Rule, RuleCase
from advisor.model.states import Move, SafetyRule, Variable
from advisor.model.words import Words

# The models of the files at the top of the folder; each holds a list of entries.
LISTS: dict[str, type[BaseModel]] = {
    "sources": Source, "fault-modes": FaultMode, "complaints": Complaint, "intake": Intake, "kinds": Kind, "safety": SafetyRule,
    "cautions": Caution, "tools": Tool, "pairs-not-separated": NotSeparated,
}  # fmt: skip


@dataclass
class Spot:
    """Where an entry stands, so that what is wrong with it can be named."""

    document: Document
    prefix: Path_
    broken: set[str] = field(default_factory=set)  # ids of entries with errors of their own: naming one is no second error

    def problem(self, path: Path_, what: str, hint: str = "") -> Problem:
        return Problem(self.document.locate((*self.prefix, *path)), what, hint)


@dataclass
class Loaded:
    """What a load has found so far: entries with their spots, and problems."""

    entries: dict[str, list[tuple[Any, Spot]]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    broken: set[str] = field(default_factory=set)

    def add(self, kind: str, model: type[BaseModel], data: Any, spot: Spot) -> None:
        """Types one entry; one that has errors is remembered by its id, so that naming it is no second error."""
        entry, problems = build(model, data, spot.document, spot.prefix)
        self.problems += problems
        if entry is not None:
            self.entries.setdefault(kind, []).append((entry, spot))
        elif isinstance(data, dict):
            self.broken.add(str(data.get("id")))

    def keyed(self, kind: str, key: str = "id") -> dict[Any, Any]:
        """Entries of a kind by id; an id that stands twice is a problem."""
        found: dict[Any, tuple[Any, Spot]] = {}
        for entry, spot in self.entries.get(kind, []):
            name = getattr(entry, key)
            if name in found:
                first = found[name][1].document.locate(found[name][1].prefix)
                self.problems.append(spot.problem((key,), f"'{name}' is already used at {first}", "choose another id"))
            else:
                found[name] = (entry, spot)
        return {name: entry for name, (entry, _) in found.items()}


def knowledge_files(folder: Path) -> list[Path]:
    """Every knowledge file of a folder, in order of its name. Raises NotFound when there is none."""
    if not folder.is_dir():
        raise NotFound(f"{folder}: no such knowledge folder", "Name the folder that holds words.yaml with --knowledge.")
    files = sorted(p for p in folder.rglob("*.yaml") if not any(part.startswith(".") for part in p.relative_to(folder).parts))
    if not files:
        raise NotFound(f"{folder}: holds no knowledge files", "Name the folder that holds words.yaml with --knowledge.")
    return files


def digest_of(folder: Path, files: list[Path]) -> str:
    """SHA-256 over names and contents, the same on every computer."""
    whole = hashlib.sha256()
    for file in files:
        content = file.read_bytes().replace(b"\r\n", b"\n")
        whole.update(f"{file.relative_to(folder).as_posix()}\n{len(content)}\n".encode())
        whole.update(content)
    return whole.hexdigest()


def _listed(loaded: Loaded, kind: str, model: type[BaseModel], document: Document) -> None:
    if not isinstance(document.data, list):
        loaded.problems.append(Problem(Location(document.path, 1, 1), "a list of entries is wanted here", "start each with '- '"))
        return
    for i, item in enumerate(document.data):
        loaded.add(kind, model, item, Spot(document, (i,), loaded.broken))


def _read_one(loaded: Loaded, file: Path, name: str, shown: str) -> None:
    """Reads one file into `loaded` by the kind its place in the folder gives it."""
    document = read(file, shown)
    loaded.problems += document.problems
    if document.data is None:
        return
    parts = name.removesuffix(".yaml").split("/")
    match parts:
        case ["words"]:
            loaded.add("words", Words, document.data, Spot(document, (), loaded.broken))
        case ["retired"]:
            loaded.add("retired", Retired, document.data, Spot(document, (), loaded.broken))
        case ["states"]:
            _states(loaded, document)
        case [kind] if kind in LISTS:
            _listed(loaded, kind, LISTS[kind], document)
        case ["causes", system]:
            _listed(loaded, "causes", Cause, document)
            loaded.problems += _misplaced(loaded, "causes", document, "system", system)
        case ["checks", system, stem]:
            loaded.add("checks", Check, document.data, Spot(document, (), loaded.broken))
            loaded.problems += _misplaced(loaded, "checks", document, "system", system)
            loaded.problems += _misplaced(loaded, "checks", document, "id", stem)
        case ["rules", topic] if topic.endswith(".cases"):
            _listed(loaded, "cases", RuleCase, document)
        case ["rules", _]:
            _listed(loaded, "rules", Rule, document)
        case _:
            known = [
                *(f"{k}.yaml" for k in LISTS),
                "words.yaml",
                "states.yaml",
                "retired.yaml",
                "causes/SYSTEM.yaml",
                "checks/SYSTEM/ID.yaml",
                "rules/TOPIC.yaml",
            ]
            loaded.problems.append(Problem(Location(shown, 1, 1), "this file has no place in the folder", nearest(name, known)))


def _states(loaded: Loaded, document: Document) -> None:
    """The variables of the machine, and the moves between their values."""
    parts: dict[str, type[BaseModel]] = {"variables": Variable, "moves": Move}
    if not isinstance(document.data, dict) or set(document.data) != set(parts):
        loaded.problems.append(Problem(Location(document.path, 1, 1), "'variables' and 'moves' are wanted here", "write both"))
        return
    for kind, model in parts.items():
        items = document.data[kind]
        for i, item in enumerate(items if isinstance(items, list) else []):
            loaded.add(kind, model, item, Spot(document, (kind, i), loaded.broken))


def _misplaced(loaded: Loaded, kind: str, document: Document, key: str, wanted: str) -> Iterator[Problem]:
    for entry, spot in loaded.entries.get(kind, []):
        if spot.document is document and getattr(entry, key) != wanted:
            yield spot.problem((key,), f"'{getattr(entry, key)}' does not fit the file's place", f"did you mean '{wanted}'?")


def load(folder: Path) -> Knowledge:
    """The knowledge of a folder. Raises KnowledgeError with every problem of every file, in order of place."""
    files = knowledge_files(folder)
    try:
        digest = digest_of(folder, files)
    except OSError as error:
        raise KnowledgeError(f"{error.filename}: cannot be read ({error.strerror})", "Check the permissions.") from None
    loaded = _read_all(folder, files)
    words = loaded.entries.get("words")
    if not words and not any("words.yaml" in p.location.path for p in loaded.problems):
        loaded.problems.append(Problem(Location(f"{folder.name}/words.yaml"), "is missing", "every folder needs it"))
    knowledge = _assembled(loaded, digest) if words else None
    if knowledge is not None:
        loaded.problems += references.check(knowledge, loaded.entries)
    if loaded.problems or knowledge is None:
        problems = tuple(sorted(set(loaded.problems)))
        count = len(problems)
        raise KnowledgeError(f"{folder}: {count} error{'s' if count != 1 else ''} in the knowledge", problems=problems)
    return knowledge


def _read_all(folder: Path, files: Iterable[Path]) -> Loaded:
    loaded = Loaded()
    for file in files:
        name = file.relative_to(folder).as_posix()
        _read_one(loaded, file, name, f"{folder.name}/{name}")
    return loaded


def places(folder: Path) -> dict[tuple[str, str], Location]:
    """Where each entry of a folder begins, by its kind and id, e.g. ("checks", "load-test")."""
    found = {}
    for kind, entries in _read_all(folder, knowledge_files(folder)).entries.items():
        for entry, spot in entries:
            if hasattr(entry, "id"):
                found[kind, str(entry.id)] = spot.document.locate(spot.prefix)
    return found


def _assembled(loaded: Loaded, digest: str) -> Knowledge:
    """The whole from what could be read. Made without validation: each part has been validated already."""
    return Knowledge.model_construct(
        words=loaded.entries["words"][0][0],
        sources=loaded.keyed("sources"),
        fault_modes=loaded.keyed("fault-modes", "fmi"),
        complaints=loaded.keyed("complaints"),
        intake=loaded.keyed("intake"),
        kinds=loaded.keyed("kinds"),
        variables=loaded.keyed("variables"),
        moves=loaded.keyed("moves"),
        safety=loaded.keyed("safety"),
        cautions=loaded.keyed("cautions"),
        tools=loaded.keyed("tools"),
        causes=loaded.keyed("causes"),
        checks=loaded.keyed("checks"),
        rules=loaded.keyed("rules"),
        rule_cases=tuple(entry for entry, _ in loaded.entries.get("cases", [])),
        pairs_not_separated=loaded.keyed("pairs-not-separated"),
        retired=next((entry for entry, _ in loaded.entries.get("retired", [])), Retired()),
        digest=digest,
    )
