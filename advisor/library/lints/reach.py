"""Can every cause be reached under each of its complaints, and is every id used?"""

from __future__ import annotations

from collections.abc import Iterator

from advisor.evidence.separation import Separation
from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Cause, Knowledge, Work
from advisor.model.states import PLUG

FEWEST = 2  # causes of a complaint: with one there is nothing to find out


def shown_by_load(k: Knowledge, cause: Cause) -> bool:
    """Whether a load test shows the cause; its evidence is computed from the readings, not read from a table."""
    return cause.adds_resistance and any(c.at == "section" for c in k.checks.values())


def causes_no_check_can_raise(k: Knowledge) -> Iterator[Issue]:
    """Under each of its complaints some result must double a cause's odds against the complaint's other causes."""
    separation = Separation(k)
    for complaint in k.complaints:
        for cause, raised_by in separation.raising(complaint).items():
            if not raised_by and not shown_by_load(k, k.causes[cause]):
                yield Issue("unreachable-cause", f"under '{complaint}' no check can raise '{cause}'")


def complaints_without_causes(k: Knowledge) -> Iterator[Issue]:
    for complaint in k.complaints:
        count = sum(complaint in c.complaints for c in k.causes.values())
        if count < FEWEST:
            yield Issue("thin-complaint", f"'{complaint}' has {count} cause{'s' if count != 1 else ''}")


def unused_ids(k: Knowledge) -> Iterator[Issue]:
    """Tools that no check, repair or move asks for, and states of the machine that none of them names, are leftovers."""
    work: list[Work] = [*k.checks.values(), *(c.repair for c in k.causes.values())]
    tools = {t for w in work for t in w.needed()} | {t for m in k.moves.values() for t in m.tools}
    for name in k.tools:
        if name not in tools:
            yield Issue("unused-id", f"the tool '{name}' is used by no check, repair or move")
    named = {v for w in work for part in w.sequence for v in (*part.needs, *part.leaves)}
    named |= {v for m in k.moves.values() for v in (*m.from_, *m.when, *m.sets)}
    for name in k.variables:
        if name != PLUG and name not in named:
            yield Issue("unused-id", f"the variable '{name}' is used by no check, repair or move")


def cautions_nobody_is_shown(k: Knowledge) -> Iterator[Issue]:
    """A caution stands before a check, a repair or a move; or it follows from a state, a tool or a safety rule.

    A rule of the trade that shows it in some cases is not enough: the work that is dangerous must show it every time.
    """
    work: list[Work] = [*k.checks.values(), *(c.repair for c in k.causes.values())]
    shown = {c for w in work for c in w.cautions} | {c for m in k.moves.values() for c in m.cautions}
    shown |= {c for v in k.variables.values() for value in v.values for c in value.cautions}
    shown |= {c for t in k.tools.values() for c in t.cautions} | {r.caution for r in k.safety.values() if r.caution}
    for name in k.cautions:
        if name not in shown:
            yield Issue("caution-not-shown", f"no check, repair, move, state, tool or safety rule shows the caution '{name}'")


def holds_that_never_end(k: Knowledge) -> Iterator[Issue]:
    """A hold that waits for one result of a check must end by a repair, or by another check, when the result is another."""
    for rule in k.rules.values():
        if not any(a.hold is not None and a.hold.until is not None for a in rule.then):
            continue
        waits = [p.negated for p in rule.when if p.negated is not None]
        if not waits:
            yield Issue("endless-hold", f"the hold of '{rule.id}' waits for nothing that can be done")
        elif all(w.answer is not None and w.is_ is not None for w in waits):
            names = ", ".join(f"{w.answer} = {'/'.join(map(str, w.is_ or ()))}" for w in waits)
            yield Issue("endless-hold", f"the hold of '{rule.id}' ends only by {names}, and that may never come")


LINTS: tuple[Lint, ...] = (
    causes_no_check_can_raise, complaints_without_causes, unused_ids, cautions_nobody_is_shown, holds_that_never_end,
)  # fmt: skip
