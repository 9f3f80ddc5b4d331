"""The shop's knowledge laid over the shipped: new entries, `extends: ID` with what differs, `retire: ID` with the reason."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from advisor.errors import nearest
from advisor.library.entries import SINGLE, Loaded, Raw
from advisor.library.overlay import overlay
from advisor.library.refusals import RETIRABLE, given_up, unchangeable, weakened
from advisor.library.retiring import NOTHING, Retire, old_names, replaced
from advisor.library.validation import build

EXTENDS, RETIRE = "extends", "retire"
Key = tuple[str, Any]


def lay_over(shipped: Loaded, shop: Loaded) -> Loaded:
    """Both layers as one, with every problem of both and of the two together."""
    return _Layers(shipped, shop).whole()


class _Layers:
    """The work of laying one layer over the other."""

    def __init__(self, shipped: Loaded, shop: Loaded) -> None:
        self.shop = shop
        self.shipped: dict[Key, Raw] = {(raw.kind, _hashable(raw.id)): raw for raw in shipped.raw if raw.kind not in SINGLE}
        self.rest = [raw for raw in shipped.raw if raw.id is None]  # rule cases, and what has no id by mistake
        self.merged = Loaded(broken=shipped.broken, problems=[*shipped.problems, *shop.problems])
        self.out: dict[Key, Raw] = dict(self.shipped)
        self.doubled = [r for r in shipped.raw if r.id is not None and self.shipped.get((r.kind, _hashable(r.id))) is not r]
        self.changed: dict[Key, Raw] = {}
        self.new: list[Raw] = []
        self.retire: list[tuple[Raw, Retire]] = []

    def whole(self) -> Loaded:
        for raw in self.shop.raw:
            raw.spot.broken = self.merged.broken
            data = raw.data if isinstance(raw.data, dict) else {}
            if raw.kind in SINGLE:
                self._single(raw)
            elif RETIRE in data:
                self._retired(raw)
            elif EXTENDS in data:
                self._extended(raw)
            else:
                self._new(raw)
        self.merged.problems += weakened(list(self.shipped.values()), self.new)
        entries = [*self.out.values(), *self.doubled, *self.rest, *self.new]
        entries, problems = replaced(entries, [(raw, entry, self._successor(raw, entry)) for raw, entry in self.retire])
        self.merged.problems += problems
        self.merged.raw = entries
        return self.merged

    def _problem(self, raw: Raw, path: Sequence[str | int], what: str, hint: str) -> None:
        self.merged.problems.append(raw.spot.problem(tuple(path), what, hint))

    def _single(self, raw: Raw) -> None:
        """words.yaml and retired.yaml: one entry each, of which the shop says what differs."""
        under = next((r for r in self.rest if r.kind == raw.kind), None)
        if under is None or not isinstance(under.data, dict) or not isinstance(raw.data, dict):
            self.rest.append(raw)
            return
        if raw.kind == "retired":
            for kind, names in raw.data.items():
                before = under.data.get(kind)
                known = before if isinstance(before, dict) else {}
                for name in names if isinstance(names, dict) else ():
                    if name in known:
                        self._problem(raw, (kind, name), f"'{name}' is retired already", "leave the line out")
        entry, problems = overlay(under, raw, named=None)
        self.rest[self.rest.index(under)] = entry
        self.merged.problems += problems

    def _new(self, raw: Raw) -> None:
        key = (raw.kind, _hashable(raw.id))
        if raw.id is not None and key in self.shipped:
            what = f"'{raw.id}' is already used at {self.shipped[key].spot.place}"
            self._problem(raw, (raw.key,), what, f"choose another id, or write '{EXTENDS}: {raw.id}' to change that one")
            return
        old = next((r for r in self.rest if r.kind == "retired"), None)
        names = old.data.get(raw.kind) if old is not None and isinstance(old.data, dict) else None
        if isinstance(names, dict) and raw.id in names:
            self._problem(raw, (raw.key,), f"'{raw.id}' is an old name of '{names[raw.id]}'", "choose another id")
        self.new.append(raw)

    def _target(self, raw: Raw, word: str) -> Key | None:
        """The shipped entry that an entry speaks of; None, and a problem, when there is none or it is spoken of twice."""
        name = raw.data[word]
        key = (raw.kind, _hashable(name))
        if key not in self.shipped:
            self._missing(raw, word, name)
            return None
        if key in self.changed:
            what = f"'{name}' is changed at {self.changed[key].spot.place} already"
            self._problem(raw, (word,), what, "write what differs in one place")
            return None
        self.changed[key] = raw
        for field, wanted in raw.wanted.items():
            have = self.shipped[key].data.get(field)
            if have != wanted:
                what = f"'{name}' has {field} '{have}', and the file's place says '{wanted}'"
                self._problem(raw, (word,), what, "put the file where the shipped one stands")
        return key

    def _missing(self, raw: Raw, word: str, name: Any) -> None:
        own = next((r for r in self.shop.raw if r.kind == raw.kind and r.id is not None and r.id == name), None)
        if own is not None:
            self._problem(raw, (word,), f"'{name}' is the shop's own, at {own.spot.place}", "change it there")
            return
        for r in self.rest:
            names = r.data.get(raw.kind) if r.kind == "retired" and isinstance(r.data, dict) else None
            if isinstance(names, dict) and name in names:
                self._problem(raw, (word,), f"'{name}' is called '{names[name]}' now", f"write '{word}: {names[name]}'")
                return
        known = [str(i) for kind, i in self.shipped if kind == raw.kind]
        self._problem(raw, (word,), f"the shipped knowledge has no '{name}' among its {raw.kind}", nearest(name, known))

    def _extended(self, raw: Raw) -> None:
        no = unchangeable(raw.kind)
        if no is not None:
            self._problem(raw, (EXTENDS,), *no)
            return
        key = self._target(raw, EXTENDS)
        if key is None:
            return
        self.out[key], problems = overlay(self.shipped[key], raw, named=EXTENDS)
        self.merged.problems += problems

    def _retired(self, raw: Raw) -> None:
        if raw.kind not in RETIRABLE:
            no = unchangeable(raw.kind)
            what = no[0].replace("changed", "taken away") if no else f"entries of {raw.kind} are not retired by the shop"
            self._problem(raw, (RETIRE,), what, f"only {', '.join(RETIRABLE)} are")
            return
        entry, problems = build(Retire, raw.data, raw.spot.document, raw.spot.prefix)
        self.merged.problems += problems
        key = self._target(raw, RETIRE)
        if entry is not None and key is not None and not self._warns(raw, self.shipped[key]):
            del self.out[key]
            self.retire.append((raw, entry))

    def _warns(self, raw: Raw, old: Raw) -> bool:
        """Whether a rule gives a caution, so that it stays; says so."""
        then = old.data.get("then") if raw.kind == "rules" else None
        if isinstance(then, list) and any(isinstance(a, dict) and "caution" in a for a in then):
            self._problem(raw, (RETIRE,), f"the rule '{old.id}' gives a caution, and is not taken away", "leave it")
            return True
        return False

    def _successor(self, raw: Raw, entry: Retire) -> Raw | None:
        """What stands for a retired entry, with every warning that the old one gave."""
        if entry.stands == NOTHING:
            return None
        fits = [r for r in (*self.out.values(), *self.new) if r.kind == raw.kind and r.id == entry.stands]
        if not fits:
            known = [str(r.id) for r in (*self.out.values(), *self.new) if r.kind == raw.kind]
            self._problem(raw, ("stands",), f"'{entry.stands}' is not among the {raw.kind}", nearest(entry.stands, known))
            return None
        old = self.shipped[raw.kind, entry.retire]
        tools = {r.id: r for r in (*self.shipped.values(), *self.new) if r.kind == "tools"}
        lost = given_up(old, fits[0], tools)
        if lost:
            what = f"'{entry.stands}' does not warn as '{entry.retire}' does: {lost}"
            self._problem(raw, ("stands",), what, f"take that over into '{entry.stands}'")
        for result in old_names(old, fits[0], entry):
            what = f"no result of '{entry.stands}' stands for '{result}'"
            self._problem(raw, ("stands",), what, f"write 'results: {{{result}: ...}}'")
        return fits[0]


def _hashable(value: Any) -> Any:
    return value if isinstance(value, str | int | float | None) else str(value)
