"""Can every cause be reached under each of its complaints, and is every id used?"""

from __future__ import annotations

from collections.abc import Iterator

from advisor.evidence.separation import Separation
from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Cause, Check, Knowledge, Repair

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
    """Setups and tools that no check or repair asks for are mistakes or leftovers."""
    work: list[Check | Repair] = [*k.checks.values(), *(c.repair for c in k.causes.values())]
    used = {"setup": {s for w in work for s in w.setups}, "tool": {t for w in work for t in w.tools}}
    for kind, entries in (("setup", k.setups), ("tool", k.tools)):
        for name in entries:
            if name not in used[kind]:
                yield Issue("unused-id", f"the {kind} '{name}' is used by no check or repair")


def cautions_nobody_is_shown(k: Knowledge) -> Iterator[Issue]:
    """A caution stands before the steps of a check or repair, or before those of a setup that one needs.

    A rule that shows it in some cases is not enough: the work that is dangerous must show it every time.
    """
    work: list[Check | Repair] = [*k.checks.values(), *(c.repair for c in k.causes.values())]
    shown = {c for w in work for c in w.cautions}
    shown |= {c for w in work for s in w.setups for c in k.setups[s].cautions}
    for name in k.cautions:
        if name not in shown:
            yield Issue("caution-not-shown", f"no check, repair or setup in use shows the caution '{name}'")


LINTS: tuple[Lint, ...] = (causes_no_check_can_raise, complaints_without_causes, unused_ids, cautions_nobody_is_shown)
