"""Proof that no step is ever presented in a state that a safety rule forbids, by exploring every state that can be reached.

For every kind of layout all stands are found that moves, and what checks and repairs leave, can bring about, in whatever
order and with whatever interruption. In each of them every move that can be made, and every part of a check or repair whose
needs hold, is held to every rule. A part is only ever presented in a stand that holds its needs, so this covers every step.
Every check and repair must have a stand on every layout in which it can be done, every move one from which it starts, every
rule something that could break it. From every stand there must be a way back to work.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate
from typing import TYPE_CHECKING

from advisor.consultation.ground import errand_of
from advisor.consultation.safety import watched, where_of
from advisor.model.knowledge import Check, Knowledge, Part, Work
from advisor.model.machine import Machine, Section, generic_machine
from advisor.model.stage import ASK
from advisor.model.states import Move, SafetyRule, Where
from advisor.reasoning.framing import frame
from advisor.reasoning.prohibited import forbidden
from advisor.reasoning.standing import Frame
from advisor.reasoning.ways import Stand, Wanted

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Codes = NDArray[np.uint64]
    Held = NDArray[np.bool_]

STEERINGS = ("hinge", "front-wheels", "hinge-and-wheels", "tracks-or-skid")
RELIEFS = ("by-release", "by-wheel")
PEOPLE = (1, 2)
BITS = 64  # of the number that is a stand
ALL = (1 << BITS) - 1


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


@dataclass(frozen=True, order=True)
class Named:
    """An entry of the knowledge: its kind as the folder calls it (`checks`, `causes`, `moves`, `safety`), and its id."""

    kind: str
    id: str

    def __str__(self) -> str:
        return f"repair {self.id}" if self.kind == "causes" else self.id


STANDING = Named("safety", "how the machine stands")  # what breaks a rule about the state alone


@dataclass(frozen=True)
class Violation:
    """A step that a rule forbids, and the shortest story that leads to it."""

    layout: str
    rule: str
    step: Named
    story: tuple[str, ...]

    def __str__(self) -> str:
        told = ", ".join(self.story) or "as at work"
        return f"safety: '{self.step}' breaks '{self.rule}' ({self.layout}) after: {told}"


@dataclass(frozen=True)
class Dead:
    """An entry that can do nothing: a step that nothing leads to, a move that starts nowhere, a rule that nothing can break."""

    entry: Named
    what: str

    def __str__(self) -> str:
        return f"safety: '{self.entry}' {self.what}"


@dataclass(frozen=True)
class Proof:
    """What was tried, and what was found."""

    layouts: int
    states: int
    steps: int
    violations: tuple[Violation, ...]
    dead: tuple[Dead, ...]
    stuck: tuple[str, ...]  # layouts with stands that have no way back to work

    @property
    def holds(self) -> bool:
        """Whether nothing is wrong."""
        return not (self.violations or self.dead or self.stuck)


@dataclass(frozen=True)
class Doing:
    """Something that is done in a state: a move, or a part of a check or repair."""

    entry: Named
    danger: Part | Move
    wanted: Wanted
    where: Where | None  # which plug
    point: str | None
    move: Move | None = None


def prove(knowledge: Knowledge, layouts: Sequence[Layout] = LAYOUTS) -> Proof:
    """Explores every layout."""
    states = steps = 0
    violations: list[Violation] = []
    reached: dict[Named, set[str]] = {}
    live: set[str] = set()
    stuck: list[str] = []
    for layout in layouts:
        found = _Explored(knowledge, layout)
        violations += found.violations()
        states += len(found.stands)
        steps += found.tried
        live |= found.live
        for name in found.reached:
            reached.setdefault(name, set()).add(str(layout))
        if found.stuck:
            stuck.append(f"safety: no way back to work from {found.stuck} states ({layout})")
    return Proof(len(layouts), states, steps, tuple(violations), tuple(_dead(knowledge, layouts, reached, live)), tuple(stuck))


def _dead(knowledge: Knowledge, layouts: Sequence[Layout], reached: Mapping[Named, set[str]], live: set[str]) -> Iterator[Dead]:
    """Steps that some layout cannot reach, moves that none can begin, and rules that nothing can break."""
    steps = [Named("checks", c.id) for c in knowledge.checks.values() if c.stage != ASK]
    for step in sorted([*steps, *(Named("causes", c) for c in knowledge.causes)]):
        lost = [str(a) for a in layouts if str(a) not in reached.get(step, ())]
        if lost:
            more = f" and {len(lost) - 1} more" if len(lost) > 1 else ""
            yield Dead(step, f"needs a state that nothing leads to ({lost[0]}{more})")
    for move in knowledge.moves:
        if Named("moves", move) not in reached:
            yield Dead(Named("moves", move), f"starts from a state that nothing leads to (all {len(layouts)} layouts)")
    for rule in knowledge.safety:
        if rule not in live:
            yield Dead(Named("safety", rule), f"forbids what nothing does and no state shows (all {len(layouts)} layouts)")


class _Explored:
    """One layout with every stand that can be reached on it.

    A stand is one number here, with one bit for each value of each variable. What must hold is then a mask of the bits that
    must not be there, and one comparison of whole arrays asks it of every stand.
    """

    def __init__(self, knowledge: Knowledge, layout: Layout) -> None:
        self.knowledge, self.layout, self.machine = knowledge, layout, layout.machine
        told = {"steering": (layout.steering,), "relief": (layout.relief,)}
        missing = frozenset({"second-person"}) if layout.people == 1 else frozenset()
        self.ground: Frame = frame(knowledge.variables.values(), knowledge.moves.values(), self.machine, told, missing)
        self.offsets = tuple(accumulate((len(v) for v in self.ground.values), initial=0))
        if self.offsets[-1] > BITS:
            raise ValueError(f"{self.offsets[-1]} values of all variables do not fit into {BITS} bits")
        self.errands = [(*work, errand_of(self.ground, self.machine, *work[1:])) for work in self._works()]
        self.stands = self._reach()
        self.tried = 0
        self.reached: set[Named] = set()
        self.live: set[str] = set()  # rules that something could break: it is done, and what is forbidden can be

    # ---- what can be done

    def _works(self) -> Iterator[tuple[Named, Work, str | None, Section | None]]:
        """Every check and repair at every kind of place where it can be done."""
        sections = list(self.machine.sections())
        for check in self.knowledge.checks.values():
            if check.stage != ASK:
                for place, section in self._places(check, sections):
                    yield Named("checks", check.id), check, place, section
        for cause in self.knowledge.causes.values():
            for place in self.machine.points if cause.place == "terminal" else (None,):
                yield Named("causes", cause.id), cause.repair, place, None

    def _places(self, check: Check, sections: Sequence[Section]) -> list[tuple[str | None, Section | None]]:
        if check.at == "section":
            return [(None, s) for s in sections]
        if check.at in ("terminal", "point"):
            return [(p, None) for p in self.machine.points if check.point in (None, p)]
        return [(None, None)]

    def _doings(self) -> Iterator[Doing]:
        for d in self.ground.moves:
            yield Doing(
                Named("moves", d.move.id), d.move, d.before, where_of(self.machine.points, d.point, d.move), d.point, d.move
            )
        for entry, work, place, _, errand in self.errands:
            for part, (wanted, _) in zip(work.sequence, errand, strict=True):
                yield Doing(entry, part, wanted, where_of(self.machine.points, place, part), place)

    # ---- exploring

    def _code(self, values: Iterable[tuple[int, int]]) -> int:
        """The bits of some values."""
        return sum(1 << self.offsets[v] + value for v, value in values)

    def _all(self, v: int) -> int:
        """The bits of every value of a variable."""
        return (1 << self.offsets[v + 1]) - (1 << self.offsets[v])

    def _barred(self, wanted: Wanted) -> int:
        """The bits that a stand must not have where all that is wanted holds."""
        return sum(self._all(v) & ~(bits << self.offsets[v]) for v, bits in wanted)

    def _after(self, stands: Codes, sets: Sequence[tuple[int, int]]) -> Codes:
        """The stands after some values are changed."""
        import numpy as np

        dropped = sum(self._all(v) for v, _ in sets)
        kept: Codes = (stands & np.uint64(~dropped & ALL)) | np.uint64(self._code(sets))
        return kept

    def _hold(self, stands: Codes, wanted: Wanted) -> Held:
        import numpy as np

        found: Held = (stands & np.uint64(self._barred(wanted))) == 0
        return found

    def _reach(self) -> Codes:
        """Every stand that moves and what steps leave can bring about from work, the nearest first."""
        import numpy as np

        leaving = [(wanted, leaves) for *_, errand in self.errands for wanted, leaves in errand if leaves]
        changes = tuple(dict.fromkeys([*((d.before, d.sets) for d in self.ground.moves), *leaving]))
        edge: Codes = np.array([self._code(enumerate(self.ground.work))], dtype=np.uint64)
        seen, kept = edge, [edge]
        while len(edge):
            after = np.unique(np.concatenate([self._after(edge[self._hold(edge, w)], sets) for w, sets in changes]))
            edge = np.setdiff1d(after, seen, assume_unique=True)
            seen = np.union1d(seen, edge)
            kept.append(edge)
        return np.concatenate(kept)

    @cached_property
    def stuck(self) -> int:
        """How many stands have no way back to work: none of the moves that can be made there leads on to it."""
        import numpy as np

        order = np.argsort(self.stands)
        ranked = self.stands[order]
        here = [np.flatnonzero(self._hold(self.stands, d.before)) for d in self.ground.moves]
        after = [self._after(self.stands[h], d.sets) for h, d in zip(here, self.ground.moves, strict=True)]
        start = np.concatenate(here)
        end = order[np.searchsorted(ranked, np.concatenate(after))]
        back = self._hold(self.stands, self.ground.back)
        count = -1
        while count < (count := int(back.sum())):
            back[start[back[end]]] = True
        return len(back) - count

    # ---- holding it to the rules

    def violations(self) -> Iterator[Violation]:
        """Every rule that something breaks, once for each step, with the shortest story. Alike steps are tried together."""
        alike: dict[tuple[Wanted, str | None, frozenset[str]], list[Named]] = {}
        rules = [r for r in self.knowledge.safety.values() if r.doing is not None]
        for doing in self._doings():
            against = frozenset(r.id for r in rules if watched(r, doing.danger, doing.where, doing.move))
            alike.setdefault((doing.wanted, doing.point, against), []).append(doing.entry)
        for (wanted, point, against), entries in alike.items():
            ready = self.stands[self._hold(self.stands, wanted)]
            self.tried += len(ready) * len(entries)
            if len(ready):
                self.reached |= set(entries)
                for rule in (r for r in rules if r.id in against):
                    yield from self._broken(rule, ready, point, dict.fromkeys(entries))
        for rule in self.knowledge.safety.values():
            if rule.doing is None:
                yield from self._broken(rule, self.stands, None, (STANDING,))

    def _broken(self, rule: SafetyRule, stands: Codes, point: str | None, entries: Iterable[Named]) -> Iterator[Violation]:
        """What breaks a rule in one of some stands; a rule is live where each thing that it forbids can be by itself."""
        for barred in forbidden(self.ground, rule, point):
            held = [self._hold(self.stands, (fact,)).any() for fact in barred] if rule.id not in self.live else []
            if held and all(held):
                self.live.add(rule.id)
            bad = stands[self._hold(stands, barred)]
            if len(bad):
                yield from (self._told(rule.id, entry, bad[0]) for entry in entries)

    def _told(self, rule: str, step: Named, code: np.uint64) -> Violation:
        """A violation with the moves that lead to it; stands are in the order of how far they are from work."""
        end = self._stand(int(code))
        way = self.ground.way(self.ground.work, tuple((v, 1 << x) for v, x in enumerate(end)))
        story = [d.move.title + (f" ({d.point})" if d.point else "") for d in way.moves] if way is not None else []
        return Violation(str(self.layout), rule, step, tuple(story) or tuple(f"{n}: {v}" for n, v in self.ground.told(end).items()))

    def _stand(self, code: int) -> Stand:
        """The value of each variable in a code."""
        own = zip(self.offsets, self.ground.values, strict=False)
        return tuple(next(x for x in range(len(values)) if code >> offset + x & 1) for offset, values in own)
