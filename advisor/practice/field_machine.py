"""A machine described by a field case: what each check, load test and question to the operator shows on it.

The hidden fault is read here, where the machine answers, and nowhere else: what advises sees answers only.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from advisor.consultation.answers import asks_side, asks_where, normal_result
from advisor.electrical.drop import Load
from advisor.evidence.rows import row_for
from advisor.model.case import Answered, Reading, Side
from advisor.model.field_case import FieldCase
from advisor.model.knowledge import Check, Knowledge
from advisor.model.machine import Machine
from advisor.reasoning.readings import sound_of

if TYPE_CHECKING:
    import numpy as np

ONCE = ("look", "dismantle")  # stages whose results are drawn once a machine and place
SCATTER = 0.1  # of a sound run's drop, from reading to reading; a judgement, no source
UNKNOWN_SOUND_OHMS = 0.05  # of a run whose wires have no size in the layout; a judgement, no source


@dataclass
class FieldMachine:
    """Answers drawn from what a field case says, by a generator seeded with its title and a seed."""

    case: FieldCase
    knowledge: Knowledge
    layout: Machine
    menu: frozenset[str] | None
    seed: int = 0
    _mended: list[tuple[str, str | None]] = field(default_factory=list)  # repairs in vain: what they put right is right now
    _drawn: dict[tuple[str, str | None], str] = field(default_factory=dict)
    _shown: Mapping[tuple[str, str | None], dict[str, float]] = field(init=False)
    _rng: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        import numpy as np

        digest = hashlib.sha256(f"{self.case.title}\n{self.seed}".encode()).digest()
        self._rng = np.random.default_rng(int.from_bytes(digest[:8], "big"))
        self._shown = self.case.shown

    def told(self, question: str) -> tuple[str, ...]:
        """What the operator answers; nothing where that is not known."""
        given = self.case.facts.get(question, ())
        return tuple(str(g) for g in (given if isinstance(given, list | tuple) else [given]))

    def can(self, check: str) -> bool:
        """Whether a check can be done on this machine: one that its author did not know counts as one that cannot."""
        known = self.menu is None or check in self.menu or any(name == check for name, _ in self._shown)
        return known and check not in self.case.cannot

    def mend(self, cause: str, place: str | None) -> None:
        """A repair in vain: its part is sound now, and the fault is still there."""
        self._mended.append((cause, place))

    def result(self, check: Check, place: str | None) -> str:
        """What a check shows at a place; its normal result where nothing is said of it, or where its defect was mended."""
        found = self._found(check, place)
        proofs = {c: self.knowledge.causes[c].proof.get(check.id) for c in {self.case.fault.cause, *(c for c, _ in self._mended)}}
        mended = any(proofs[c] == found and at in (None, place) for c, at in self._mended)
        return normal_result(check) if mended and proofs[self.case.fault.cause] != found else found

    def shows(self, check: Check, place: str | None) -> Answered:
        """What a check shows at a place, with where and on which side."""
        result = self.result(check, place)
        where, side = self.spot(check, result)
        return Answered(check=check.id, result=result, place=place, where=where, side=side)

    def spot(self, check: Check, result: str) -> tuple[str | None, Side | None]:
        """Where on the harness somebody would say that it is, and on which side; None for what cannot be said.

        A check that the fault can bring shows it at the fault's own place; where something else would have shown, the case
        names the place.
        """
        from advisor.evidence.spots import spot_of

        fault = self.case.fault
        where: str | None = None
        if asks_where(check, result) and check.where is not None:
            cause = self.knowledge.causes[fault.cause]
            brings = row_for(check, cause) in (cause.id, cause.kind)
            where = self.case.where.get(check.id, spot_of(self.layout, check.where, fault.place, cause.system) if brings else None)
        return where, self.case.side.get(check.id) if asks_side(check, result) else None

    def _found(self, check: Check, place: str | None) -> str:
        chances = self._shown.get((check.id, place)) or self._shown.get((check.id, None))
        if chances is None:
            return normal_result(check)
        if check.stage not in ONCE:
            return self._draw(chances)
        key = (check.id, place if (check.id, place) in self._shown else None)
        if key not in self._drawn:
            self._drawn[key] = self._draw(chances)
        return self._drawn[key]

    def _draw(self, chances: Mapping[str, float]) -> str:
        names = list(chances)
        weights = list(chances.values())
        return names[int(self._rng.choice(len(names), p=[w / sum(weights) for w in weights]))]

    def load_test(self, circuit: str, start: str, end: str, *, sound: bool = False) -> Reading:
        """Reference and loaded volts of one run: its drop with some scatter, and the ohms that its joints add if not `sound`."""
        section = self.layout.section(circuit, start, end)
        assert section is not None, "a load test is of a run of the layout"
        test = self.layout.load_test
        load = Load(test.load_ohms, test.load_amps)
        reference = round(self.layout.nominal_volts * float(self._rng.uniform(0.99, 1.04)), 2)
        usual = sound_of(self.layout, section, None)
        ohms = (UNKNOWN_SOUND_OHMS if usual is None else usual[1]) * float(1 + SCATTER * self._rng.standard_normal())
        for element, extra in self.case.ohms.items():
            looks_good = self._rng.random() < self.case.good_when_tested
            mended = sound or any(at == element for _, at in self._mended)
            if element in section.elements and not looks_good and not mended:
                ohms += extra
        loaded = round(reference - load.drop(reference, ohms), 2)
        values = {"circuit": section.circuit, "from": section.start, "to": section.end}
        return Reading.model_validate({**values, "reference": reference, "loaded": loaded})

    def cures(self, cause: str, place: str | None) -> bool:
        """Whether a repair is the right one. At terminals any terminal of the same plug is the right place."""
        fault = self.case.fault
        named = [(fault.cause, fault.place)]
        for other in fault.also:
            name, at, where = other.partition("@")
            named.append((name, where if at else None))
        return any(cause == name and self._same_place(place, where) for name, where in named)

    def _same_place(self, place: str | None, where: str | None) -> bool:
        if where is None or place == where:
            return True
        one, other = (self.layout.elements.get(p or "") for p in (place, where))
        return one is not None and other is not None and one.point is not None and one.point == other.point
