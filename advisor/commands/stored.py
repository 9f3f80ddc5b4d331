"""A stored case with the knowledge as it is now."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from advisor.errors import CaseDamaged, InputError
from advisor.model.case import Opened, fold

if TYPE_CHECKING:
    from advisor.consultation.consultation import Consultation
    from advisor.model.knowledge import Knowledge
    from advisor.store.open_case import StoredCase


def named_now(knowledge: Knowledge, stored: StoredCase) -> StoredCase:
    """A stored case with what stands now for ids that are no longer in the knowledge."""
    return replace(stored, case=knowledge.retired.case(stored.case))


def consultation_of(knowledge: Knowledge, stored: StoredCase) -> Consultation:
    """What reasons about a case. Raises InputError for an event that names what changed knowledge no longer has."""
    from advisor.consultation.again import first_unfit
    from advisor.consultation.consultation import Consultation
    from advisor.consultation.intake_told import machine_of
    from advisor.consultation.this_machine import for_machine

    first = stored.case.events[0]
    assert isinstance(first, Opened)
    unfit = first_unfit(knowledge, stored.case, names_only=True)
    if unfit is not None:
        what = f"case {stored.case_id}, event {unfit[0]}: {unfit[1].what}"
        if stored.knowledge_digest == knowledge.digest:
            raise CaseDamaged(what)
        hint = "Nothing is lost: name the knowledge it was made with, --knowledge, or put the entry back."
        raise InputError(f"{what}; the knowledge has changed since", hint)
    machine = machine_of(fold(stored.case).opened or first)
    return Consultation(for_machine(knowledge, machine), machine)
