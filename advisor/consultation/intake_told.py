"""What a machine and an opening say of each other: the layout of a case, and the intake that a machine file answers.

Small, for the first questions are asked before the rest of the reasoning is loaded.
"""

from __future__ import annotations

from typing import Any

from advisor.errors import InputError, nearest
from advisor.model.case import Opened
from advisor.model.knowledge import Knowledge
from advisor.model.machine import GENERIC_LAYOUTS, Machine, generic_machine


def machine_says(knowledge: Knowledge, machine: Machine | None) -> dict[str, tuple[str, ...]]:
    """The intake questions that the machine file answers, each with its answer: nobody is asked these."""
    found: dict[str, tuple[str, ...]] = {}
    for entry in knowledge.intake.values():
        value = getattr(machine, entry.machine, None) if machine is not None and entry.machine is not None else None
        if value in [r.id for r in entry.results]:
            found[entry.id] = (str(value),)
    return found


def intake_answers(knowledge: Knowledge, question: str, given: Any) -> tuple[str, ...]:
    """Answers to one intake question, checked against the knowledge."""
    entry = knowledge.intake.get(question)
    if entry is None:
        raise InputError(f"no intake question '{question}'", hint(question, [*knowledge.intake, "occurrences", "hours"]))
    known = [r.id for r in entry.results]
    for value in given:
        if str(value) not in known:
            raise InputError(f"'{value}' is no answer to {question}", hint(str(value), known))
    return tuple(str(v) for v in given)


def hint(word: str, known: Any) -> str:
    """What may have been meant, as a sentence."""
    found = nearest(word, known)
    return found[:1].upper() + found[1:]


def machine_of(opened: Opened) -> Machine:
    """The machine that a case was opened on."""
    return laid_out(opened.layout) if opened.machine is None else Machine.model_validate(opened.machine)


def laid_out(layout: str | None) -> Machine:
    """One of the generic layouts, the first without a name. Raises InputError for a name that is none."""
    if layout is None:
        return generic_machine()
    if layout not in GENERIC_LAYOUTS:
        raise InputError(f"no generic layout '{layout}'", hint(layout, GENERIC_LAYOUTS))
    return generic_machine(layout)
