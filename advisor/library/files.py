"""Machine files and scenario files to models, with every error named by place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from advisor.errors import InputError, Problem, nearest
from advisor.library.reader import Document, read
from advisor.library.validation import Model, build
from advisor.model.machine import Machine
from advisor.model.scenario import Scenario


def _built(model: type[Model], file: Path, document: Document, data: Any, problems: list[Problem]) -> Model:
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
    return _built(Machine, file, document, document.data, problems)


def read_scenario(file: Path) -> Scenario:
    """A scenario file; a machine named by path is read beside it. Raises NotFound or InputError."""
    document = read(file)
    data = document.data
    if isinstance(data, dict) and isinstance(data.get("machine"), str):
        data = {**data, "machine": read_machine(file.parent / data["machine"])}
    return _built(Scenario, file, document, data, list(document.problems))


def layout_problems(document: Document) -> list[Problem]:
    """What no single element shows: elements twice in a circuit, shared ones in another order, points out of reach."""
    circuits = document.data.get("circuits")
    points = document.data.get("points")
    if not isinstance(circuits, dict) or not isinstance(points, list):
        return []
    names: dict[str, list[str]] = {c: [_name(e) for e in path] for c, path in circuits.items() if isinstance(path, list)}
    found = []
    for circuit, path in names.items():
        for i, name in enumerate(path):
            if name and name in path[:i]:
                hint = "give each element of a circuit its own name"
                found.append(Problem(document.locate(("circuits", circuit, i)), f"'{name}' stands twice in {circuit}", hint))
    found += _order_problems(document, names)
    reached = {name.split(":")[0] for path in names.values() for name in path if ":" in name}
    for i, point in enumerate(points):
        if point not in reached:
            hint = nearest(point, reached) or "name a terminal POINT:CAVITY at it"
            found.append(Problem(document.locate(("points", i)), f"no circuit reaches the point '{point}'", hint))
    return found


def _order_problems(document: Document, names: dict[str, list[str]]) -> list[Problem]:
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
                found.append(
                    Problem(document.locate(("circuits", second, at)), what, "write both from the controller to the sensor")
                )
    return found


def _name(element: object) -> str:
    if not isinstance(element, dict):
        return ""
    return next((str(element[k]) for k in ("terminal", "wire", "splice", "ground") if element.get(k) is not None), "")
