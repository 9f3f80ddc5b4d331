"""The trail's branches: each fired rule with its premises and, for an answer, how it moved the suspects."""

from __future__ import annotations

import math
from collections.abc import Container
from dataclasses import replace
from typing import TYPE_CHECKING

from advisor.evidence.rows import OTHERWISE, row_for
from advisor.inference.engine import Fired
from advisor.inference.facts import Fact
from advisor.model.finding import QUIET, Bearing, Because
from advisor.model.knowledge import Knowledge
from advisor.model.stage import ASK
from advisor.reasoning.likelihoods import Space

if TYPE_CHECKING:
    from advisor.reasoning.witnesses import Witness


class Branches:
    """Branches as one knowledge has them. The same firing with the same answer gives one and the same branch."""

    def __init__(self, knowledge: Knowledge) -> None:
        self._knowledge = knowledge

    def of(self, space: Space, f: Fired, w: Witness | None) -> Because:
        """One branch: a fired rule, and the answer that it reads as evidence if it is one."""
        known: dict[object, Because] = space.memo.setdefault("branches", {})
        key = (f.rule.id, f.premises, w)
        if key not in known:
            known[key] = self._branch(space, f, w)
        return known[key]

    def _branch(self, space: Space, f: Fired, w: Witness | None) -> Because:
        from advisor.reasoning.ranking import all_decibans

        present = space.by_cause
        moved: tuple[Bearing, ...] = ()
        if w is not None:
            named: dict[str, list[str]] = space.memo.setdefault("named", {})
            if w.check not in named:
                named[w.check] = self._named(w.check, present)
            moved = tuple(map(Bearing, named[w.check], all_decibans(space, w, named[w.check])))
        factors = [(c.subject, c.word) for c in f.conclusions if c.kind in ("prior", "evidence") and c.subject in present]
        moved += tuple(Bearing(x, _factor_decibans(self._knowledge, word)) for x, word in factors)
        says = "; ".join(dict.fromkeys(c.text for c in f.conclusions if c.text))
        says = says if not f.rule.id.startswith("rule:") else f"{f.rule.because} {says}".strip()
        showing = 1.0 if w is None else self._showed(w)
        found = Because(f.rule.id, tuple(_premise(p) for p in f.premises), says, f.rule.source, moved, showing)
        return replace(found, says=f"{says}. {QUIET}") if found.quiet else found

    def _showed(self, w: Witness) -> float:
        """The chance that the fault showed while a check was done that found nothing; one where that does not matter."""
        check = self._knowledge.checks.get(w.check)
        if check is None or check.stage == ASK or check.lasts is True:
            return 1.0
        return w.showing if any(r.id == w.result and r.normal for r in check.results) else 1.0

    def _named(self, subject: str, present: Container[str]) -> list[str]:
        """The causes among those present of which a check, or what is told, says something."""
        causes = self._knowledge.causes
        if subject in self._knowledge.intake or self._knowledge.checks[subject].stage == ASK:
            return [x for x in causes if x in present and subject in {*causes[x].told, *causes[x].needs_feature}]
        check = self._knowledge.checks[subject]
        return [x for x in causes if x in present and row_for(check, causes[x]) not in (None, OTHERWISE)]


def _factor_decibans(knowledge: Knowledge, word: str) -> float:
    return 10 * math.log10(knowledge.words.factor[word])  # type: ignore[index]


def _premise(f: Fact) -> str:
    """A fact in words for the trail."""
    values = [v for _, v in f.fields if v]
    return f"{f.template} " + " ".join(values)
