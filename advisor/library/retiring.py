"""Entries that the shop retires: what stands for them takes their place wherever the shipped knowledge names them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic import Field

from advisor.errors import Problem
from advisor.library.entries import Raw
from advisor.library.validation import build
from advisor.model.entry import Entry, Id, Text
from advisor.model.retired import Retired

NOTHING = "nothing"
# What the fields of entries name: by field, the kind of thing; its keys or items are ids of that kind.
_FIELDS = {
    "evidence": "causes", "prior": "causes", "suggests": "causes", "lasts": "causes", "causes": "causes", "repaired": "causes",
    "cause": "causes", "proof": "checks", "retest": "checks", "disturbs": "checks", "check": "checks", "answer": "checks",
    "discount": "checks", "told": "checks", "needs_feature": "checks", "tools": "tools", "rule": "rules",
}  # fmt: skip
_DROPPED = ("evidence", "lasts", "disturbs", "suggests", "told")  # fields that mean the same without the one that went
_RESULT = ("is", "result")  # beside a named check, its results


class Retire(Entry):
    """A shipped entry that the shop does without."""

    retire: Id
    because: Text
    stands: Id = Field(description="What stands for it, or 'nothing'.")
    results: dict[Id, Id] = Field(default={}, description="Of a check: a result, and which one of the new check stands for it.")


@dataclass
class _Names:
    """Old ids of one kind with what stands for them; None: nothing."""

    new: dict[str, str | None] = field(default_factory=dict)
    results: dict[str, dict[str, str]] = field(default_factory=dict)  # by the old check


def old_names(old: Raw, new: Raw, entry: Retire) -> Iterator[str]:
    """Results of a retired check for which none of the new one stands."""
    if old.kind == "checks":
        have = set(_ids(new))
        yield from (r for r in _ids(old) if entry.results.get(r, r) not in have)


def _ids(raw: Raw) -> Iterator[str]:
    results = raw.data.get("results") if isinstance(raw.data, dict) else None
    for result in results if isinstance(results, list) else ():
        if isinstance(result, dict) and "id" in result:
            yield str(result["id"])


def replaced(entries: list[Raw], retired: Iterable[tuple[Raw, Retire, Raw | None]]) -> tuple[list[Raw], list[Problem]]:
    """Every entry with what stands now for retired ones, and those that cannot do without."""
    names: dict[str, _Names] = {}
    spots: dict[tuple[str, str], Raw] = {}
    for raw, entry, successor in retired:
        known = names.setdefault(raw.kind, _Names())
        known.new[entry.retire] = None if successor is None else entry.stands
        known.results[entry.retire] = entry.results
        spots[raw.kind, entry.retire] = raw
    if not names:
        return entries, []
    out, problems = [], []
    for raw in entries:
        if raw.kind == "retired":
            out.append(_listed(raw, names))
        elif not _gone(raw, names):
            rename = _Rename(names)
            out.append(replace(raw, data=rename.data(raw.data)))
            for kind, name in rename.left:
                what = f"'{name}' is retired, and {raw.kind} '{raw.id}' at {raw.spot.place} needs it"
                problems.append(spots[kind, name].spot.problem(("stands",), what, f"name what stands for it, or extend '{raw.id}'"))
                raw.spot.broken.add(name)
    if not any(raw.kind == "retired" for raw in out):
        first = next(iter(spots.values()))
        out.append(_listed(Raw("retired", Retired, {}, first.spot), names))
    return out, problems


def _gone(raw: Raw, names: Mapping[str, _Names]) -> bool:
    """Whether an entry has no meaning without what was retired: a case without its rule, a pair without a cause."""
    if not isinstance(raw.data, dict):
        return False
    rules, causes = names.get("rules", _Names()).new, names.get("causes", _Names()).new
    pair = raw.data.get("causes") if raw.kind == "pairs-not-separated" else None
    without = isinstance(pair, list) and any(isinstance(c, str) and c in causes and causes[c] is None for c in pair)
    return without or (raw.kind == "cases" and str(raw.data.get("rule")) in rules)


def _listed(raw: Raw, names: Mapping[str, _Names]) -> Raw:
    """retired.yaml with the shop's retirements, so that old cases are read with what stands now."""
    entry, _ = build(Retired, raw.data, raw.spot.document, raw.spot.prefix)
    if entry is None:
        return raw  # its errors are told when it is typed
    data: dict[str, Any] = {}
    for kind in ("checks", "causes", "tools"):
        own = {old: new for old, new in names.get(kind, _Names()).new.items() if new is not None}
        data[kind] = {**{old: own.get(now, now) for old, now in getattr(entry, kind).items()}, **own}
    results = {check: dict(row) for check, row in entry.results.items()}
    checks = names.get("checks", _Names())
    for old, new in checks.new.items():
        row = checks.results[old]
        before = {was: row.get(now, now) for was, now in results.pop(old, {}).items()}
        if new is not None:
            results[new] = {**results.get(new, {}), **before, **row}
    return replace(raw, data={**raw.data, **{k: v for k, v in data.items() if v}, **({"results": results} if results else {})})


@dataclass
class _Rename:
    """One entry's data with what stands for retired ids; `left` are those it names and for which nothing stands."""

    names: Mapping[str, _Names]
    left: list[tuple[str, str]] = field(default_factory=list)

    def data(self, value: Any) -> Any:
        if isinstance(value, list):
            return [self.data(item) for item in value]
        if not isinstance(value, dict):
            return value
        out = {}
        for key, item in value.items():
            kind = _FIELDS.get(key)
            out[key] = self.data(item) if kind not in self.names else self.named(str(kind), key, item)
        check = next((value[k] for k in ("check", "answer") if isinstance(value.get(k), str)), None)
        row = self.names["checks"].results.get(check, {}) if check is not None and "checks" in self.names else {}
        for key in _RESULT if row else ():
            if key in out:
                out[key] = (
                    [row.get(str(r), r) for r in out[key]] if isinstance(out[key], list) else row.get(str(out[key]), out[key])
                )
        return out

    def named(self, kind: str, key: str, item: Any) -> Any:
        """A field that names things of a kind: one, a list of them, or a mapping by them."""
        if isinstance(item, str):
            return self.one(kind, key, item)
        if isinstance(item, list):
            found = [self.one(kind, key, i) if isinstance(i, str) else self.data(i) for i in item]
            return [x for n, x in enumerate(found) if x is not None and x not in found[:n]]
        if isinstance(item, dict):
            out: dict[str, Any] = {}
            for name, inner in item.items():
                now = self.one(kind, key, name)
                if now is not None and (now == name or now not in item):
                    out[now] = self.results(name, inner) if kind == "checks" else self.data(inner)
            return out
        return item

    def one(self, kind: str, key: str, name: str) -> str | None:
        """What stands for a name; None when it goes without a trace."""
        new = self.names[kind].new
        if name not in new:
            return name
        if new[name] is not None:
            return new[name]
        if key in _DROPPED:
            return None
        self.left.append((kind, name))
        return name

    def results(self, check: str, inner: Any) -> Any:
        """What stands at a check in a mapping: its result (proof), answers (needs_feature), or answers with words (told)."""
        row = self.names["checks"].results.get(check, {}) if "checks" in self.names else {}
        if isinstance(inner, dict):
            return {row.get(k, k): v for k, v in inner.items()}
        if isinstance(inner, list):
            return [row.get(str(r), r) for r in inner]
        return row.get(inner, inner) if isinstance(inner, str) else inner
