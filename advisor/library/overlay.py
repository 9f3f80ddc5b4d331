"""One entry of the shop laid over the shipped one: what differs is changed, what is a list is added to, nothing is taken away."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from advisor.errors import Location, Problem, nearest
from advisor.library.entries import Raw, Spot
from advisor.library.reader import Document, Path_
from advisor.library.refusals import refused

NEEDS = ("needs", "when")  # the values of a variable there are narrowed and never added to
WHOLE = ("covers", "lasts", "codes")  # lists that are one statement: the shop's stands in their place
PLACES = ("first", "after", "last")  # where steps are added


@dataclass(frozen=True)
class Overlaid(Document):
    """An entry made of two files, with the place of every value in the file it comes from."""

    origins: dict[Path_, Location] = field(default_factory=dict)

    def locate(self, path: Path_) -> Location:
        for length in range(len(path), -1, -1):
            found = self.origins.get(path[:length])
            if found is not None:
                return found
        return Location(self.path, 1, 1)


@dataclass
class _Merge:
    """The merging of one entry. Paths are those of the merged entry, of the shipped one and of the shop's."""

    kind: str
    under: Spot
    over: Spot
    origins: dict[Path_, Location] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def copy(self, value: Any, spot: Spot, at: Path_, path: Path_) -> Any:
        """A value of one layer as it is, with its places."""
        self.origins[at] = spot.document.locate((*spot.prefix, *path))
        if isinstance(value, dict):
            return {k: self.copy(v, spot, (*at, k), (*path, k)) for k, v in value.items()}
        if isinstance(value, list):
            return [self.copy(v, spot, (*at, i), (*path, i)) for i, v in enumerate(value)]
        return value

    def value(self, a: Any, b: Any, at: Path_, pa: Path_, pb: Path_) -> Any:
        """The shop's value `b` over the shipped `a`."""
        no = refused(self.kind, at, a, b)
        if no is not None:
            self.problems.append(self.over.problem(pb, *no))
            return self.copy(a, self.under, at, pa)
        if b is None or b in ([], {}):
            what = f"nothing stands at '{pb[-1]}'" if pb else "nothing stands here"
            self.problems.append(self.over.problem(pb, what, "the shop takes nothing away: leave the key out, or add to it"))
            return self.copy(a, self.under, at, pa)
        self.origins[at] = self.over.document.locate((*self.over.prefix, *pb))
        if isinstance(a, dict) and isinstance(b, dict) and not (len(at) > 1 and at[-2] == "evidence"):
            return self.mapping(a, b, at, pa, pb)
        narrowed = len(at) > 1 and at[-2] in NEEDS
        if isinstance(a, list) and not narrowed and at[-1] not in WHOLE:
            if at[-1] == "steps" and isinstance(b, dict):
                return self.steps(a, b, at, pa, pb)
            return self.listed(a, b, at, pa, pb)
        return self.copy(b, self.over, at, pb)

    def mapping(self, a: dict[str, Any], b: dict[str, Any], at: Path_, pa: Path_, pb: Path_) -> dict[str, Any]:
        merged: dict[str, Any] = {}
        for key in (*a, *(k for k in b if k not in a)):
            here, under, over = (*at, key), (*pa, key), (*pb, key)
            if key not in b:
                merged[key] = self.copy(a[key], self.under, here, under)
            elif key in a:
                merged[key] = self.value(a[key], b[key], here, under, over)
            else:
                no = refused(self.kind, here, None, b[key])
                if no is not None:
                    self.problems.append(self.over.problem(over, *no))
                else:
                    merged[key] = self.copy(b[key], self.over, here, over)
        return merged

    def listed(self, a: list[Any], b: Any, at: Path_, pa: Path_, pb: Path_) -> list[Any]:
        """The shipped list with what the shop adds behind it; an item of a known id is changed in its place."""
        merged = [self.copy(item, self.under, (*at, i), (*pa, i)) for i, item in enumerate(a)]
        ids = {item["id"]: i for i, item in enumerate(a) if isinstance(item, dict) and "id" in item}
        alone = not isinstance(b, list)
        for j, item in enumerate([b] if alone else b):
            path = pb if alone else (*pb, j)
            known = ids.get(item.get("id")) if isinstance(item, dict) else None
            if known is not None:
                merged[known] = self.value(a[known], item, (*at, known), (*pa, known), path)
            elif item in a:
                self.problems.append(
                    self.over.problem(path, f"'{item}' stands here already", "an extension names only what it adds")
                )
            else:
                no = refused(self.kind, (*at, len(merged)), None, item)
                if no is not None:
                    self.problems.append(self.over.problem(path, *no))
                merged.append(self.copy(item, self.over, (*at, len(merged)), path))
        return merged

    def steps(self, a: list[Any], b: dict[str, Any], at: Path_, pa: Path_, pb: Path_) -> list[Any]:
        """Steps put before, among and after the shipped ones, which all stay."""
        after = b.get("after", {})
        for key in b:
            if key not in PLACES:
                self.problems.append(self.over.problem((*pb, key), f"'{key}' is no place for a step", nearest(key, PLACES)))
        for step in after if isinstance(after, dict) else ():
            if step not in a:
                what = "no shipped step has just these words"
                self.problems.append(self.over.problem((*pb, "after", step), what, nearest(step, map(str, a))))
        rows: list[tuple[Any, Spot, Path_]] = [*self._added(b, ("first",), pb)]
        for i, step in enumerate(a):
            rows.append((step, self.under, (*pa, i)))
            if isinstance(after, dict) and step in after:
                rows += self._added(b, ("after", step), pb)
        rows += self._added(b, ("last",), pb)
        return [self.copy(value, spot, (*at, i), path) for i, (value, spot, path) in enumerate(rows)]

    def _added(self, b: dict[str, Any], key: Path_, pb: Path_) -> list[tuple[Any, Spot, Path_]]:
        items: Any = b
        for name in key:
            items = items.get(name, [])
        if isinstance(items, list):
            return [(item, self.over, (*pb, *key, j)) for j, item in enumerate(items)]
        return [(items, self.over, (*pb, *key))]


def overlay(under: Raw, over: Raw, *, named: str | None) -> tuple[Raw, list[Problem]]:
    """The shipped entry with the shop's over it, and what the shop may not do. `named` is the key that names the shipped one."""
    merge = _Merge(under.kind, under.spot, over.spot)
    differs = {k: v for k, v in over.data.items() if k != named}
    data = merge.mapping(under.data, differs, (), (), ())
    merge.origins[()] = over.spot.place
    document = Overlaid(over.spot.document.path, data, {}, origins=merge.origins)
    return Raw(under.kind, under.model, data, Spot(document, (), under.spot.broken), under.wanted), merge.problems
