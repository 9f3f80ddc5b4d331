"""The index of a folder's closed cases, with names as they are now."""

from __future__ import annotations

from hashlib import sha256
from typing import TYPE_CHECKING

from advisor.commands.stored import named_now
from advisor.model.case import Opened, fold

if TYPE_CHECKING:
    from advisor.model.knowledge import Knowledge
    from advisor.model.machine import Machine
    from advisor.model.summary import Summary
    from advisor.reasoning.likelihoods import Space
    from advisor.store.folder import CaseStore
    from advisor.store.index import ClosedIndex
    from advisor.store.open_case import StoredCase

MOST_KEPT = 64  # machines and complaints whose suspects are kept while cases are read


def closed_index(store: CaseStore, knowledge: Knowledge) -> ClosedIndex:
    """The index of a folder's closed cases."""
    from advisor.consultation.intake_told import machine_of
    from advisor.experience.closed import summary
    from advisor.store.index import ClosedIndex

    kept: dict[tuple[str, str], Space] = {}

    def spaces(k: Knowledge, machine: Machine, complaint: str) -> Space:
        from advisor.reasoning.likelihoods import space

        key = machine.model_dump_json(), complaint
        if key not in kept:
            if len(kept) >= MOST_KEPT:
                kept.clear()
            kept[key] = space(k, machine, complaint)
        return kept[key]

    def summarize(stored: StoredCase) -> Summary | None:
        told = named_now(knowledge, stored)
        first = told.case.events[0]
        assert isinstance(first, Opened)
        try:
            return summary(knowledge, machine_of(fold(told.case).opened or first), told.case_id, told.case, spaces)
        except KeyError:
            return None  # it names what this knowledge does not have

    return ClosedIndex(store, summarize, _names(knowledge))


def _names(knowledge: Knowledge) -> str:
    """A digest of what decides how a case is brought into the index: the names, and which row speaks of which cause."""
    checks = [(c.id, sorted(c.evidence), c.covers, c.lasts, c.at, [r.id for r in c.results]) for c in knowledge.checks.values()]
    causes = [(c.id, c.kind, c.place, sorted(c.proof.items()), c.retest) for c in knowledge.causes.values()]
    return sha256(repr((checks, causes, knowledge.retired)).encode()).hexdigest()
