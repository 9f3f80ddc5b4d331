"""Can everything be reached and told apart: causes, checks, proofs, ids that nobody uses."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Check, Knowledge, Repair

OTHERWISE = "otherwise"
TELLING = 2.0  # a result that is this much likelier for a cause than otherwise raises it (3 dB)


def values(check: Check, cause: str, used: dict[str, float]) -> dict[str, float]:
    """P(result) for the results that the row names."""
    return {result: used[word] for result, word in check.evidence.get(cause, check.evidence[OTHERWISE]).items()}


def raises(check: Check, cause: str, used: dict[str, float]) -> bool:
    """Whether some result of the check makes the cause clearly likelier."""
    row, otherwise = values(check, cause, used), values(check, OTHERWISE, used)
    return any(row[r] >= TELLING * otherwise[r] for r in row.keys() & otherwise.keys())


def _used(k: Knowledge) -> dict[str, float]:
    return {word: band.used for word, band in k.words.probability.items()}


def causes_no_check_can_raise(k: Knowledge) -> Iterator[Issue]:
    used = _used(k)
    for cause in k.causes.values():
        shown_by_load = cause.adds_resistance and any(c.at == "section" for c in k.checks.values())
        if not shown_by_load and not any(cause.id in c.evidence and raises(c, cause.id, used) for c in k.checks.values()):
            yield Issue("unreachable-cause", f"no check can raise '{cause.id}'")


def checks_that_separate_nothing(k: Knowledge) -> Iterator[Issue]:
    """A check whose every row says the same tells nothing."""
    used = _used(k)
    for check in k.checks.values():
        if check.at == "section":
            continue  # its likelihoods are computed from the readings
        rows = {tuple(sorted(values(check, c, used).items())) for c in check.evidence}
        if len(rows) < 2:
            yield Issue("idle-check", f"every row of '{check.id}' says the same")


def proofs_that_prove_nothing(k: Knowledge) -> Iterator[Issue]:
    """A proof's result must be likely for its cause and unlikely otherwise."""
    used = _used(k)
    for cause in k.causes.values():
        strong = False
        for check_id, result in cause.proof.items():
            check = k.checks[check_id]
            if check.at == "section":
                strong = True
                continue
            here = values(check, cause.id, used).get(result, 0.0)
            elsewhere = values(check, OTHERWISE, used).get(result, 1.0)
            strong = strong or (here >= used["roughly-even"] and elsewhere <= used["very-unlikely"])
        if not strong:
            yield Issue("weak-proof", f"no proof of '{cause.id}' is likely for it and unlikely otherwise")


def complaints_without_causes(k: Knowledge) -> Iterator[Issue]:
    for complaint in k.complaints:
        count = sum(complaint in c.complaints for c in k.causes.values())
        if count < 2:
            yield Issue("thin-complaint", f"'{complaint}' has {count} cause{'s' if count != 1 else ''}")


def unused_ids(k: Knowledge) -> Iterator[Issue]:
    """Setups, tools and cautions that nothing asks for are mistakes or leftovers."""
    work: list[Check | Repair] = [*k.checks.values(), *(c.repair for c in k.causes.values())]
    from_rules = {a.caution for r in k.rules.values() for a in r.then if a.caution}
    used = {
        "setup": {s for w in work for s in w.setups},
        "tool": {t for w in work for t in w.tools},
        "caution": {c for w in work for c in w.cautions} | {c for s in k.setups.values() for c in s.cautions} | from_rules,
    }
    for kind, entries in (("setup", k.setups), ("tool", k.tools), ("caution", k.cautions)):
        for name in entries:
            if name not in used[kind]:
                yield Issue("unused-id", f"the {kind} '{name}' is used by no check, repair, setup or rule")


LINTS: tuple[Lint, ...] = (
    causes_no_check_can_raise, checks_that_separate_nothing, proofs_that_prove_nothing, complaints_without_causes, unused_ids,
)  # fmt: skip
