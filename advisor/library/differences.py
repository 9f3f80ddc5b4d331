"""What the shop's layer says beside the shipped knowledge, and what an update of the shipped has changed since it was looked at."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from advisor.errors import KnowledgeError, Location
from advisor.library.entries import SINGLE, Raw, read_all
from advisor.library.layers import EXTENDS, RETIRE
from advisor.library.overlay import overlay
from advisor.library.sources import knowledge_files

SEEN = ".seen.json"  # in the shop's folder: the shipped entries as they were when somebody looked at the difference
Flat = dict[str, Any]


@dataclass(frozen=True)
class Change:
    """One field of two; None: it is not there. A list has its changed items only."""

    field: str
    before: Any
    after: Any


@dataclass(frozen=True)
class Difference:
    """One entry of the shop beside the shipped one."""

    kind: str
    id: str
    place: Location
    what: Literal["new", "changed", "retired", "gone"]  # gone: the shipped entry it speaks of is no longer there
    shop: tuple[Change, ...] = ()  # the shipped value before, the shop's after
    because: str = ""  # of a retired entry
    stands: str = ""
    update: tuple[Change, ...] | None = ()  # the shipped value when it was looked at, and now; None: not looked at yet


def differences(folder: Path, shop: Path) -> tuple[Difference, ...]:
    """Every entry of the shop beside the shipped knowledge. Raises KnowledgeError for files that cannot be read."""
    under = {(raw.kind, str(raw.id)): raw for raw in _raws(folder, "--knowledge")}
    seen = _seen(shop)
    return tuple(d for raw in _raws(shop, "--shop") for d in _of(raw, under, seen))


def keep_seen(folder: Path, shop: Path) -> str:
    """The shipped entries that the shop speaks of, as text for the file `SEEN`."""
    under = {(raw.kind, str(raw.id)): raw for raw in _raws(folder, "--knowledge")}
    named = {_target(raw) for raw in _raws(shop, "--shop")}
    entries = {f"{kind}/{name}": raw.data for (kind, name), raw in under.items() if (kind, name) in named}
    return json.dumps({"format": 1, "entries": entries}, indent=1, sort_keys=True) + "\n"


def _raws(folder: Path, option: str) -> list[Raw]:
    files = knowledge_files(folder, option, "the shop's own files" if option == "--shop" else "words.yaml")
    loaded = read_all(folder, files, whole=False)
    if loaded.problems:
        raise KnowledgeError(f"{folder}: cannot be compared", problems=tuple(sorted(set(loaded.problems))))
    return [raw for raw in loaded.raw if isinstance(raw.data, dict)]


def _seen(shop: Path) -> Mapping[str, Any]:
    try:
        read = json.loads((shop / SEEN).read_text(encoding="utf-8"))
        entries = read["entries"]
    except (OSError, ValueError, KeyError, TypeError):
        return {}  # it is a help: without it every entry counts as not looked at
    return entries if isinstance(entries, dict) else {}


def _target(raw: Raw) -> tuple[str, str] | None:
    """The shipped entry that one of the shop speaks of, by kind and id."""
    if raw.kind in SINGLE:
        return raw.kind, "None"
    name = raw.data.get(EXTENDS, raw.data.get(RETIRE))
    return None if name is None else (raw.kind, str(name))


def _of(raw: Raw, under: Mapping[tuple[str, str], Raw], seen: Mapping[str, Any]) -> Iterator[Difference]:
    target = _target(raw)
    if target is None:
        yield Difference(raw.kind, str(raw.id if raw.id is not None else raw.data.get("rule", "")), raw.spot.place, "new")
        return
    kind, name = target
    shipped = under.get(target)
    if shipped is None:
        yield Difference(kind, *((kind, raw.spot.place, "new") if kind in SINGLE else (name, raw.spot.place, "gone")))
        return
    before = seen.get(f"{kind}/{name}")
    update = tuple(changes(before, shipped.data)) if isinstance(before, dict) else None
    shown = kind if kind in SINGLE else name
    if RETIRE in raw.data:
        told = str(raw.data.get("because", "")), str(raw.data.get("stands", ""))
        yield Difference(kind, shown, raw.spot.place, "retired", (), *told, update)
        return
    merged, _ = overlay(shipped, raw, named=EXTENDS if kind not in SINGLE else None)
    yield Difference(kind, shown, raw.spot.place, "changed", tuple(changes(shipped.data, merged.data)), update=update)


def changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[Change]:
    """What differs between two entries, field by field; of lists only the items that came and went."""
    old, new = flat(before), flat(after)
    for field in (*old, *(f for f in new if f not in old)):
        a, b = old.get(field), new.get(field)
        if a == b:
            continue
        if isinstance(a, list) and isinstance(b, list):
            gone, come = [x for x in a if x not in b], [x for x in b if x not in a]
            a, b = gone or None, come or None
            if a is None and b is None:
                a, b = old[field], new[field]  # the same items in another order
        yield Change(field, a, b)


def flat(data: Any, at: str = "") -> Flat:
    """Every value by its dotted field; items of a list that have ids are named by them."""
    found: Flat = {}
    if isinstance(data, list) and data and all(isinstance(i, dict) and "id" in i for i in data):
        data = {str(item["id"]): item for item in data}
    if isinstance(data, dict):
        for key, value in data.items():
            found |= flat(value, f"{at}.{key}" if at else str(key))
        return found
    return {at: data}
