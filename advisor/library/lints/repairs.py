"""Is a cause proved directly before it is repaired, shown gone afterwards, and is what must be taught again named?"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from advisor.evidence.rows import OTHERWISE, row, row_for, word_values
from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Cause, Check, Knowledge

NONE = "none"  # the one way to say that nothing must be calibrated
PASSED = 1 / 3  # of tries with the fault still there in which all its retests may pass; a judgement
LOOKS_GOOD = 0.1  # a bad joint passes a load test in so many tries: `reasoning/runs.py` counts with the same kind of chance
LOWERED = 0.8  # a retest's normal result must be this much less likely while the cause is there
_EVASIVE = re.compile(r"(none|no|not|nothing|n/?a|unknown|maybe|perhaps|if needed|as needed|as required|-|\?)\b.*|[^A-Za-z]*", re.I)


def proofs_that_prove_nothing(k: Knowledge) -> Iterator[Issue]:
    """A proof's result must be likely for its cause and unlikely otherwise."""
    used = word_values(k)
    for cause in k.causes.values():
        if not any(_proves(k.checks[check], cause, result, used) for check, result in cause.proof.items()):
            yield Issue("weak-proof", f"no proof of '{cause.id}' is likely for it and unlikely otherwise")


def _proves(check: Check, cause: Cause, result: str, used: dict[str, float]) -> bool:
    if check.at == "section":
        return True  # judged from its readings
    at = next(i for i, r in enumerate(check.results) if r.id == result)
    here = check.evidence.get(row_for(check, cause) or OTHERWISE, {}).get(result)
    elsewhere = row(check, OTHERWISE, used)[at]
    return here is not None and used[here] >= used["roughly-even"] and elsewhere <= used["very-unlikely"]


def retests_that_show_nothing(k: Knowledge) -> Iterator[Issue]:
    """A normal retest must be less likely while the cause is still there than when it is gone."""
    used = word_values(k)
    for cause in k.causes.values():
        if not any(_shows_it_gone(k.checks[check], cause, used) for check in cause.retest):
            yield Issue("idle-retest", f"no retest of '{cause.id}' shows that the cause is still there")


def _shows_it_gone(check: Check, cause: Cause, used: dict[str, float]) -> bool:
    if check.at == "section":
        return cause.adds_resistance
    normal = next(i for i, r in enumerate(check.results) if r.normal)
    return row(check, row_for(check, cause) or OTHERWISE, used)[normal] <= LOWERED * row(check, OTHERWISE, used)[normal]


def retests_that_pass_with_the_fault(k: Knowledge) -> Iterator[Issue]:
    """Simulated with the fault still there and showing, all retests together come out normal in one of three at the most.

    Where none of them tells anything, that is said instead.
    """
    used = word_values(k)
    for cause in k.causes.values():
        passed = math.prod(_passes(k.checks[name], cause, used) for name in cause.retest)
        if passed > PASSED and any(_shows_it_gone(k.checks[name], cause, used) for name in cause.retest):
            yield Issue("passing-retest", f"with '{cause.id}' still there its retests all pass in {passed:.0%} of tries")


def _passes(check: Check, cause: Cause, used: dict[str, float]) -> float:
    """How likely a retest comes out normal while the fault is there and shows."""
    if check.at == "section":
        return LOOKS_GOOD if cause.adds_resistance else 1.0
    name = row_for(check, cause)
    return 1.0 if name is None else row(check, name, used)[next(i for i, r in enumerate(check.results) if r.normal)]


def retests_at_another_place(k: Knowledge) -> Iterator[Issue]:
    """A retest that is done at one place is done where the repair was: at a place of that kind, or at its plug."""
    for cause in k.causes.values():
        for name in cause.retest:
            at = k.checks[name].at
            if at in ("splice", "wire", "terminal", "ground-point") and at != cause.place:
                where = "no place" if cause.place == "none" else f"a {cause.place}"
                yield Issue("retest-place", f"the retest '{name}' of '{cause.id}' is done at a {at}, and the cause sits at {where}")


def recalibrations_left_open(k: Knowledge) -> Iterator[Issue]:
    """What must be calibrated is named in words, or `none` says that nothing must; anything between was forgotten."""
    for cause in k.causes.values():
        said = cause.repair.recalibrate
        if said != NONE and (_EVASIVE.fullmatch(said) or len(said.split()) < 2):
            yield Issue("recalibration", f"'{cause.id}' says recalibrate '{said}': name what is taught again, or write 'none'")


LINTS: tuple[Lint, ...] = (
    proofs_that_prove_nothing, retests_that_show_nothing, retests_that_pass_with_the_fault, retests_at_another_place,
    recalibrations_left_open,
)  # fmt: skip
