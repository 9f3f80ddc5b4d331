"""Proof that no step is ever presented in a state that a safety rule forbids, by exploring every state that can be reached.

For every kind of layout all stands are found that moves, and what checks and repairs leave, can bring about, in whatever
order and with whatever interruption. In each of them every move that can be made, and every part of a check or repair whose
needs hold, is held to every rule. A part is only ever presented in a stand that holds its needs, so this covers every step.
Then every check and repair must have a stand in which it can be done, and from every stand there must be a way back to work.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from advisor.consultation.ground import errand_of
from advisor.consultation.safety import watched, where_of
from advisor.model.knowledge import Check, Knowledge, Part, Work
from advisor.model.machine import Machine, Section, generic_machine
from advisor.model.stage import ASK
from advisor.model.states import Move, Where
from advisor.reasoning.standing import Errand, Frame, Stand, Wanted, forbidden, frame

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Codes = NDArray[np.int64]
    Stands = NDArray[np.uint8]

STEERINGS = ("hinge", "front-wheels", "hinge-and-wheels", "tracks-or-skid")
RELIEFS = ("by-release", "by-wheel")
PEOPLE = (1, 2)


@dataclass(frozen=True)
class Layout:
    """One kind of machine: what steers it, how pressure is let down, whether the harness has a plug between, how many people."""

    steering: str
    relief: str
    between: bool
    people: int

    def __str__(self) -> str:
        plug = "with" if self.between else "without"
        who = "one person" if self.people == 1 else "two people"
        return f"{self.steering}, pressure let down {self.relief}, {plug} a plug between, {who}"

    @cached_property
    def machine(self) -> Machine:
        """The generic layout, with or without its plug between the ends."""
        whole = generic_machine()
        if self.between:
            return whole
        circuits = {c: tuple(e for e in path if e.point != whole.points[1]) for c, path in whole.circuits.items()}
        return whole.model_copy(update={"points": (whole.points[0], whole.points[-1]), "circuits": circuits})


LAYOUTS = tuple(Layout(s, r, b, p) for s in STEERINGS for r in RELIEFS for b in (True, False) for p in PEOPLE)


@dataclass(frozen=True)
class Violation:
    """A step that a rule forbids, and the shortest story that leads to it."""

    layout: str
    rule: str
    step: str
    story: tuple[str, ...]

    def __str__(self) -> str:
        told = ", ".join(self.story) or "as at work"
        return f"safety: '{self.step}' breaks '{self.rule}' ({self.layout}) after: {told}"


@dataclass(frozen=True)
class Proof:
    """What was tried, and what was found."""

    layouts: int
    states: int
    steps: int
    violations: tuple[Violation, ...]
    unreachable: tuple[str, ...]  # checks and repairs that no way reaches on any layout, or stands with no way back


@dataclass(frozen=True)
class Doing:
    """Something that is done in a state: a move, or a part of a check or repair."""

    name: str
    danger: Part | Move
    wanted: Wanted
    where: Where | None  # which plug
    point: str | None
    move: Move | None = None


def prove(knowledge: Knowledge, layouts: Sequence[Layout] = LAYOUTS) -> Proof:
    """Explores every layout."""
    states = steps = 0
    violations: list[Violation] = []
    reached: set[str] = set()
    stuck: list[str] = []
    for layout in layouts:
        found = _Explored(knowledge, layout)
        violations += found.violations()
        states += len(found.stands)
        steps += found.tried
        reached |= found.reached
        if found.stuck:
            stuck.append(f"no way back to work: {found.stuck} states ({layout})")
    names = {c.id for c in knowledge.checks.values() if c.stage != ASK} | {f"repair {c}" for c in knowledge.causes}
    lost = [f"'{name}' needs a state that no way reaches on any layout" for name in sorted(names - reached)]
    return Proof(len(layouts), states, steps, tuple(violations), (*lost, *stuck))


class _Explored:
    """One layout with every stand that can be reached on it."""

    def __init__(self, knowledge: Knowledge, layout: Layout) -> None:
        import numpy as np

        self.knowledge, self.layout, self.machine = knowledge, layout, layout.machine
        told = {"steering": (layout.steering,), "relief": (layout.relief,)}
        missing = frozenset({"second-person"}) if layout.people == 1 else frozenset()
        self.ground: Frame = frame(knowledge.variables.values(), knowledge.moves.values(), self.machine, told, missing)
        sizes = [len(v) for v in self.ground.values]
        self.factors: Codes = np.concatenate([[1], np.cumprod(np.array(sizes, dtype=np.int64))[:-1]]).astype(np.int64)
        self.doings = tuple(self._doings())
        self.leaving = tuple(dict.fromkeys((w, leaves) for _, errand in self._errands() for w, leaves in errand if leaves))
        self.stands = self._reach()
        self._facts: dict[tuple[int, int], NDArray[np.bool_]] = {}
        self.tried = 0
        self.reached: set[str] = set()

    # ---- what can be done

    def _works(self) -> Iterator[tuple[str, Work, str | None, Section | None]]:
        """Every check and repair at every kind of place where it can be done."""
        sections = list(self.machine.sections())
        for check in self.knowledge.checks.values():
            if check.stage != ASK:
                for place, section in self._places(check, sections):
                    yield check.id, check, place, section
        for cause in self.knowledge.causes.values():
            for place in self.machine.points if cause.place == "terminal" else (None,):
                yield f"repair {cause.id}", cause.repair, place, None

    def _places(self, check: Check, sections: Sequence[Section]) -> list[tuple[str | None, Section | None]]:
        if check.at == "section":
            return [(None, s) for s in sections]
        if check.at in ("terminal", "point"):
            return [(p, None) for p in self.machine.points if check.point in (None, p)]
        return [(None, None)]

    def _errands(self) -> Iterator[tuple[str, Errand]]:
        for name, work, place, section in self._works():
            yield name, errand_of(self.ground, self.machine, work, place, section)

    def _doings(self) -> Iterator[Doing]:
        for d in self.ground.moves:
            yield Doing(d.move.id, d.move, d.before, where_of(self.machine.points, d.point, d.move), d.point, d.move)
        for name, work, place, section in self._works():
            errand = errand_of(self.ground, self.machine, work, place, section)
            for part, (wanted, _) in zip(work.sequence, errand, strict=True):
                yield Doing(name, part, wanted, where_of(self.machine.points, place, part), place)

    # ---- exploring

    def _hold(self, stands: Stands, wanted: Wanted) -> NDArray[np.bool_]:
        import numpy as np

        found = np.ones(len(stands), dtype=bool)
        for v, bits in wanted:
            allowed = np.array([bits >> x & 1 for x in range(len(self.ground.values[v]))], dtype=bool)
            found &= allowed[stands[:, v]]
        return found

    def _held(self, wanted: Wanted) -> NDArray[np.bool_]:
        """The same for all stands that were reached; each condition is looked at once."""
        import numpy as np

        found = np.ones(len(self.stands), dtype=bool)
        for fact in wanted:
            if fact not in self._facts:
                self._facts[fact] = self._hold(self.stands, (fact,))
            found &= self._facts[fact]
        return found

    def _reach(self) -> Stands:
        """Every stand that moves and what steps leave can bring about from work."""
        import numpy as np

        seen = np.zeros(int(self.factors[-1]) * len(self.ground.values[-1]), dtype=bool)
        edge: Stands = np.array([self.ground.work], dtype=np.uint8)
        seen[edge.astype(np.int64) @ self.factors] = True
        kept = [edge]
        changes = [*((d.before, d.sets) for d in self.ground.moves), *self.leaving]
        while len(edge):
            new = []
            for wanted, sets in changes:
                after = edge[self._hold(edge, wanted)].copy()
                for v, value in sets:
                    after[:, v] = value
                codes, first = np.unique(after.astype(np.int64) @ self.factors, return_index=True)
                fresh = ~seen[codes]
                seen[codes[fresh]] = True
                new.append(after[first[fresh]])
            edge = np.concatenate(new)
            kept.append(edge)
        return np.concatenate(kept)

    @cached_property
    def stuck(self) -> int:
        """How many stands have no way back to work: none of the moves that can be made there leads on to it."""
        import numpy as np

        codes = self.stands.astype(np.int64) @ self.factors
        order = np.argsort(codes)
        ranked = codes[order]
        ways = []
        for d in self.ground.moves:
            here = np.flatnonzero(self._held(d.before))
            after = codes[here]
            for v, value in d.sets:
                after = after + (value - self.stands[here, v].astype(np.int64)) * self.factors[v]
            ways.append((here, order[np.searchsorted(ranked, after)]))
        back = self._held(self.ground.back)
        count = -1
        while count < (count := int(back.sum())):
            for here, there in ways:
                back[here[back[there]]] = True
        return len(back) - count

    # ---- holding it to the rules

    def violations(self) -> Iterator[Violation]:
        """Every rule that something breaks, once for each step, with the shortest story."""
        import numpy as np

        rules = self.knowledge.safety.values()
        for doing in self.doings:
            ready = self._held(doing.wanted)
            count = int(ready.sum())
            self.tried += count
            if not count:
                continue
            self.reached.add(doing.name)
            for rule in rules:
                if rule.doing is None or not watched(rule, doing.danger, doing.where, doing.move):
                    continue
                for wanted in forbidden(self.ground, rule, doing.point):
                    bad = np.flatnonzero(ready & self._held(wanted))
                    if len(bad):
                        yield self._told(rule.id, doing.name, self.stands[bad[0]])
        for rule in rules:
            for wanted in forbidden(self.ground, rule) if rule.doing is None else ():
                bad = np.flatnonzero(self._held(wanted))
                if len(bad):
                    yield self._told(rule.id, "how the machine stands", self.stands[bad[0]])

    def _told(self, rule: str, step: str, stand: Stands) -> Violation:
        """A violation with the moves that lead to it; stands are in the order of how far they are from work."""
        end: Stand = tuple(int(x) for x in stand)
        way = self.ground.way(self.ground.work, tuple((v, 1 << x) for v, x in enumerate(end)))
        story = [d.move.title + (f" ({d.point})" if d.point else "") for d in way.moves] if way is not None else []
        return Violation(str(self.layout), rule, step, tuple(story) or tuple(f"{n}: {v}" for n, v in self.ground.told(end).items()))
