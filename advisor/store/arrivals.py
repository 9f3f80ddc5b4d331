"""What cases that arrive at a database add to it: their rows, worked out before one is inserted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain, count
from typing import Any

from advisor.errors import AdvisorError, CaseDamaged, CaseNewer, InputError
from advisor.store.heads import heads
from advisor.store.lines import own_id, scan
from advisor.store.transfer import Did, Taken

Shas = dict[str, list[str]]  # of every continuation of a case, header first, by the name it is kept as


@dataclass
class Arrivals:
    """Rows to be inserted. `here` are the cases that are there, by the id that each was given; `arrived` goes into each row."""

    here: Mapping[str, Shas]
    arrived: int
    cases: list[dict[str, Any]] = field(default_factory=list)
    events: list[dict[str, Any]] = field(default_factory=list)

    def take(self, case_id: str, data: bytes) -> Taken:
        """Takes in one case, whose lines are good."""
        own, shas = own_id(case_id), heads(data)
        here = self.here[own]
        alike = {name: _alike(here[name], shas) for name in sorted(here, key=_place)}
        for name, same in alike.items():
            if same == len(shas):
                return Taken(case_id, name, "same" if len(here[name]) == len(shas) else "longer-here", len(shas) - 1)
            if same == len(here[name]):
                self._add(name, data, shas, same)
                here[name] = shas
                return Taken(case_id, name, "extended", len(shas) - 1, same - 1)
        did: Did = "beside" if here else "added"
        name = next(n for n in chain([own], (f"{own}.{i}" for i in count(2))) if n not in here)
        self.cases.append({"kept_as": name, "own_id": own, "header": data.split(b"\n", 1)[0]})
        self._add(name, data, shas, 1)
        here[name] = shas
        return Taken(case_id, name, did, len(shas) - 1, max(0, max(alike.values(), default=0) - 1))

    def _add(self, name: str, data: bytes, shas: Sequence[str], first: int) -> None:
        """The lines from `first` on; the header is line 0."""
        lines = data.split(b"\n")
        self.events += (
            {"kept_as": name, "number": n - 1, "line": lines[n], "sha": shas[n], "arrived": self.arrived}
            for n in range(first, len(shas))
        )


def refused(case_id: str, data: bytes) -> AdvisorError | None:
    """Why lines that arrive are no case that can be taken in, if they are none."""
    try:
        found = scan(case_id, case_id, data)
    except CaseNewer as error:
        return error
    if found.problem is not None or found.tail:
        return InputError(str(found.problem or f"{case_id}: the last line is not complete"), "Nothing of it was taken in.")
    return None


def damage(where: str, case_id: str, data: bytes) -> AdvisorError | None:
    """What is wrong with lines that are stored, if anything is."""
    try:
        problem = scan(f"{where}: {case_id}", case_id, data).problem
    except CaseNewer as error:
        return error
    return CaseDamaged(str(problem)) if problem is not None else None


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    """Lines at the beginning that are the same in both, the header with them."""
    same = 0
    for a, b in zip(one, other, strict=False):
        if a != b:
            break
        same += 1
    return same


def _place(name: str) -> int:
    return int(name.partition(".")[2] or 1)
