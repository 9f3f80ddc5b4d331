"""What the shop's knowledge may not do to the shipped: take away a caution, a safety rule, or what either follows from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from advisor.errors import Problem
from advisor.library.entries import Raw
from advisor.library.reader import Path_

FLAGS = ("steers", "pressure", "turns", "under", "loads", "cuts", "second_person")  # what is dangerous about a step
RETIRABLE = ("checks", "causes", "tools", "rules", "pairs-not-separated")
NO = tuple[str, str]  # what, and what to do instead

# Entries that only the program's own knowledge changes.
_FIXED: dict[str, NO] = {
    "safety": ("a safety rule is not changed by the shop", "leave it, and write one more rule of your own"),
    "cautions": ("a caution is not changed by the shop", "leave it, and write one more caution of your own"),
}
# Fields by which safety rules and moves know an entry.
_KNOWN_BY: dict[str, tuple[str, ...]] = {
    "checks": ("id", "system", "stage", "at", "point"),
    "causes": ("id", "system", "place", "point"),
    "moves": ("id", "from", "sets", "plug", "run", "needs_feature"),
    "variables": ("id", "work", "each", "needs_feature"),
    "rules": ("id", "when"),
}
_OWN = "leave it, and write an entry of your own"


def unchangeable(kind: str) -> NO | None:
    """Why entries of this kind are not extended, if they are not."""
    return _FIXED.get(kind)


def refused(kind: str, at: Path_, a: Any, b: Any) -> NO | None:
    """Why the shop's value `b` may not stand at a path instead of the shipped `a`; None when it may."""
    if not at:
        return None
    name, above = at[-1], at[-2] if len(at) > 1 else None
    if len(at) == 1 and name in _KNOWN_BY.get(kind, ()):
        return f"'{name}' is what the entry is known by, and is not changed", _OWN
    if kind == "variables" and at[0] == "values":
        return _value(at, a, b)
    if name in FLAGS and a is True and b is not True:
        return f"'{name}' says what is dangerous, and is not taken away", "leave the line out"
    if name == "hands" and a not in (None, "none") and b != a:
        return f"'hands: {a}' says what is dangerous, and is not changed", "leave the line out"
    if name == "leaves" or above == "leaves":
        return "'leaves' says how the machine stands, and is not changed", _OWN
    if above in ("needs", "when") and a is not None and not set(_words(b)) <= set(_words(a)):
        return f"'{name}' would allow more than {_said(a)}", "an extension only narrows how the machine must stand"
    if name == "recalibrate" and str(b).strip().lower() == "none":
        return "what must be calibrated afterwards is not taken away", "leave the line out"
    return None


def _value(at: Path_, a: Any, b: Any) -> NO | None:
    """Values of a variable: the shop adds cautions to those there are."""
    if len(at) == 2 and a is None:
        return "a shipped variable gets no further value", "safety rules do not know it: write a variable of your own"
    if len(at) == 3 and at[-1] not in ("id", "cautions"):
        return f"'{at[-1]}' of a value is not changed", "an extension adds cautions to it"
    return None


def _words(value: Any) -> list[str]:
    return [str(v) for v in value] if isinstance(value, list) else [str(value)]


def _said(value: Any) -> str:
    return " or ".join(_words(value))


def _get(data: Any, *path: str) -> Any:
    for name in path:
        data = data.get(name) if isinstance(data, dict) else None
    return data


def _items(data: Any, name: str) -> list[Any]:
    """A field that should be a list; whatever else it is, its type is judged elsewhere."""
    found = _get(data, name)
    return found if isinstance(found, list) else [found] if isinstance(found, str) else []


def _parts(raw: Raw) -> list[Any]:
    """The work of an entry: its first part, then the further ones."""
    work = _get(raw.data, "repair") if raw.kind == "causes" else raw.data
    return [work, *_items(work, "then")]


def cautions(raw: Raw, tools: dict[Any, Raw]) -> set[str]:
    """The cautions that an entry names, and those of its tools."""
    work = _parts(raw)[0]
    named = {str(c) for c in _items(work, "cautions")}
    for tool in map(str, _items(work, "tools")):
        named |= {str(c) for c in _items(tools[tool].data, "cautions")} if tool in tools else set()
    return named


def dangers(raw: Raw) -> set[str]:
    """What an entry says is dangerous about it, in any of its parts."""
    parts = _parts(raw)
    found = {flag for part in parts for flag in FLAGS if _get(part, flag) is True}
    return found | {f"hands: {_get(part, 'hands')}" for part in parts if _get(part, "hands") not in (None, "none")}


def given_up(old: Raw, new: Raw, tools: dict[Any, Raw]) -> str:
    """What a retired entry warns of and the one in its place does not; empty when nothing."""
    lost = sorted(cautions(old, tools) - cautions(new, tools)) + sorted(dangers(old) - dangers(new))
    return ", ".join(lost)


def weakened(shipped: Sequence[Raw], new: Sequence[Raw]) -> Iterator[Problem]:
    """New entries that would bring the machine where shipped moves bring it, and warn of less."""
    moves = [raw for raw in shipped if raw.kind == "moves"]
    variables = {raw.id for raw in shipped if raw.kind == "variables"}
    left = {pair for raw in shipped for pair in _leaves(raw)}
    for raw in new:
        if raw.kind == "moves":
            yield from _move(raw, moves)
        for name, value in _leaves(raw):
            if name in variables and (name, value) not in left:
                what = f"'{raw.id}' leaves {name}: {value}, which no shipped step does"
                yield raw.spot.problem((), what, "how the machine stands is changed by a move")


def _move(raw: Raw, moves: Sequence[Raw]) -> Iterator[Problem]:
    sets = _get(raw.data, "sets")
    for name, value in sets.items() if isinstance(sets, dict) else ():
        alike = [m for m in moves if _get(m.data, "sets", name) == value]
        if not alike:
            continue
        wanted = set.intersection(*(cautions(m, {}) | dangers(m) for m in alike))
        lost = sorted(wanted - cautions(raw, {}) - dangers(raw))
        if lost:
            what = f"'{raw.id}' sets {name}: {value} and does not warn of {', '.join(lost)}"
            yield raw.spot.problem((), what, f"take over what '{alike[0].id}' warns of")


def _leaves(raw: Raw) -> Iterator[tuple[str, str]]:
    for part in _parts(raw) if raw.kind in ("causes", "checks") else ():
        leaves = _get(part, "leaves")
        yield from ((str(k), str(v)) for k, v in leaves.items()) if isinstance(leaves, dict) else ()
