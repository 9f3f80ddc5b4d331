"""Machine files and scenario files to models, with every error named by place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from advisor.errors import InputError, Problem, nearest, short
from advisor.library.reader import Document, Path_, read
from advisor.library.validation import Model, build
from advisor.model.machine import Machine
from advisor.model.scenario import Scenario
from advisor.plain import one_line

KINDS = ("terminal", "wire", "splice", "ground")


def built(model: type[Model], file: Path, document: Document, data: Any, problems: list[Problem]) -> Model:
    """The model of a file's data. Raises InputError with every problem in order of place."""
    entry, more = build(model, data, document, ()) if data is not None else (None, [])
    problems = sorted({*problems, *more})
    if problems or entry is None:
        first = problems[0] if problems else None
        what = str(first) if first else f"{file}: is empty"
        hint = "Correct the line named." if len(problems) < 2 else f"Correct it; {len(problems) - 1} more follow."
        raise InputError(what, hint, tuple(problems[1:]))
    return entry


def read_machine(file: Path) -> Machine:
    """A machine file. Raises NotFound or InputError with every problem."""
    document = read(file)
    problems = list(document.problems)
    if isinstance(document.data, dict):
        problems += layout_problems(document)
    return built(Machine, file, document, document.data, problems)


def read_scenario(file: Path) -> Scenario:
    """A scenario file; a machine named by path is read beside it. Raises NotFound or InputError."""
    document = read(file)
    data, problems = with_machine(file, document)
    return built(Scenario, file, document, data, problems)


def with_machine(file: Path, document: Document) -> tuple[Any, list[Problem]]:
    """A file's data with the machine that it names by path read beside it, and the problems so far."""
    data, problems = document.data, list(document.problems)
    if isinstance(data, dict) and isinstance(data.get("machine"), str):
        data = {**data, "machine": read_machine(file.parent / data["machine"])}
    elif isinstance(data, dict) and isinstance(data.get("machine"), dict):
        problems += layout_problems(document, ("machine",))
    return data, problems


def layout_problems(document: Document, at: Path_ = ()) -> list[Problem]:
    """What no single element shows: elements twice or of two kinds, shared ones in another order, points out of reach."""
    machine = document.data
    for step in at:
        machine = machine[step]
    circuits, points, test = machine.get("circuits"), machine.get("points"), machine.get("load_test")
    if not isinstance(circuits, dict) or not isinstance(points, list):
        return []
    paths = {c: path for c, path in circuits.items() if isinstance(path, list)}
    names = {c: [_name(e) for e in path] for c, path in paths.items()}
    base = (*at, "circuits")
    found = []
    for circuit, path in names.items():
        for i, name in enumerate(path):
            if name and name in path[:i]:
                hint = "give each element of a circuit its own name"
                found.append(Problem(document.locate((*base, circuit, i)), f"'{name}' stands twice in {circuit}", hint))
        found += _typed_problems(document, (*base, circuit), "circuit", circuit)
    found += _order_problems(document, base, names)
    found += _identity_problems(document, base, paths)
    reached = {name.split(":")[0] for path in names.values() for name in path if ":" in name}
    for i, point in enumerate(points):
        where = document.locate((*at, "points", i))
        found += _typed_problems(document, (*at, "points", i), "point", point)
        if not isinstance(point, str):
            continue  # the model says so
        if point in points[:i]:
            found.append(Problem(where, f"the point '{point}' stands here a second time", "keep one"))
        elif point not in reached:
            found.append(
                Problem(
                    where,
                    f"no circuit reaches the point '{point}'",
                    nearest(point, reached) or "name a terminal POINT:CAVITY at it",
                )
            )
    limits = test.get("limit_volts") if isinstance(test, dict) else None
    for circuit in limits if isinstance(limits, dict) else ():
        if circuit not in circuits:
            where = document.locate((*at, "load_test", "limit_volts", circuit))
            found.append(Problem(where, f"no circuit '{circuit}'", nearest(circuit, circuits)))
    return found


def _typed_problems(document: Document, at: Path_, kind: str, name: object) -> list[Problem]:
    """A name that cannot be typed as one word could never be measured: the dialogue takes words apart at the spaces."""
    if not isinstance(name, str) or (name.isprintable() and not any(c.isspace() or c == "=" for c in name)):
        return []
    better = "-".join(one_line(name).replace("=", " ").split())
    return [Problem(document.locate(at), f"the {kind} '{short(name)}' cannot be typed as one word", f"write {better}")]


def _identity_problems(document: Document, base: Path_, paths: dict[str, list[Any]]) -> list[Problem]:
    """The same name in two circuits is the same element: it cannot be of two kinds, sizes or lengths."""
    first: dict[str, tuple[str, dict[str, Any]]] = {}
    found = []
    for circuit, path in paths.items():
        for i, element in enumerate(path):
            name = _name(element)
            if not name:
                continue
            home, before = first.setdefault(name, (circuit, element))
            differs = [k for k in element if k in before and element[k] != before[k]]
            kinds = [next((k for k in KINDS if e.get(k) is not None), "") for e in (before, element)]
            if home != circuit and (differs or kinds[0] != kinds[1]):
                what = f"'{name}' is not the same here as in {home}"
                found.append(
                    Problem(document.locate((*base, circuit, i)), what, "the same name is the same element: use another name")
                )
    return found


def _order_problems(document: Document, base: Path_, names: dict[str, list[str]]) -> list[Problem]:
    found = []
    circuits = list(names)
    for i, first in enumerate(circuits):
        for second in circuits[i + 1 :]:
            shared = set(names[first]) & set(names[second]) - {""}
            here = [n for n in names[first] if n in shared]
            there = [n for n in names[second] if n in shared]
            if here != there and len(set(here)) == len(here) and len(set(there)) == len(there):
                at = names[second].index(next(b for a, b in zip(here, there, strict=True) if a != b))
                what = f"{first} and {second} visit their shared elements in different order"
                found.append(Problem(document.locate((*base, second, at)), what, "write both from the controller to the sensor"))
    return found


def _name(element: object) -> str:
    if not isinstance(element, dict):
        return ""
    return next((str(element[k]) for k in KINDS if element.get(k) is not None), "")
