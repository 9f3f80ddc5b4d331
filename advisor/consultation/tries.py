"""How each suspect would be tried: by the cheapest check that shows it, or by its repair and the test after it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from advisor.consultation.actions import table_of, worth_again
from advisor.consultation.situation import Situation
from advisor.model.finding import NOT_LISTED
from advisor.model.knowledge import Check
from advisor.reasoning.planning import Errand, Tries, ready

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LEAST_REPAIR = 1.0  # minutes that a repair with its retest takes at least


@dataclass(frozen=True)
class Trying:
    """How each suspect would be tried, and what follows if it is the one, (suspects,).

    After a proof its repair follows; after a repair nothing does, and what it would have cost in vain falls away.
    """

    tries: Tries
    to_follow: Floats  # minutes, below zero where they fall away
    by: tuple[tuple[str, str] | None, ...]  # of each suspect, the key of the check that tries it; None: its repair does


def in_vain(s: Situation) -> float:
    """Minutes until one would know that a repair was in vain, beyond the repair and its retest.

    A fault that is always there shows in the retest itself. One that comes and goes sends the machine out and back: a visit.
    """
    return 0.0 if s.comes.always else s.knowledge.words.visit_minutes


def trying(s: Situation, by_repair: int | None = None, *, known: Trying | None = None) -> Trying:
    """How to try each suspect: by the cheapest of its proofs still to be done, or by the repair and the test after it.

    A proof shows the cause with the chance of its table, so on average it takes one over that many of its minutes (search
    with overlook: Blackwell; Ann. Math. Stat. 38, 1967). What its proofs have shown is tried by repairing it, and so is
    `by_repair`, whatever could show it before. A defect that was shown has to be mended whether or not it is the cause: only
    the retest and the visit can be in vain. A suspect whose repair is held is tried by what lets go of the hold first. It is
    tried last where nothing can. So is what its proof found sound, until all that was not found sound is less likely.
    `known` is the same without `by_repair`, where that was worked out before.
    """
    import numpy as np

    if known is None:
        ways = [_try(s, i, proven=i != by_repair) for i in range(len(s.space.suspects))]
    else:
        ways = list(zip(known.tries.minutes.tolist(), known.tries.errands, known.to_follow.tolist(), known.by, strict=True))
        if by_repair is not None:
            ways[by_repair] = _try(s, by_repair, proven=False)
    minutes, errands, follows, by = zip(*ways, strict=True)
    return Trying(Tries(np.array(minutes), errands), np.array(follows), by)


def _try(s: Situation, index: int, *, proven: bool) -> tuple[float, Errand, float, tuple[str, str] | None]:
    """Of one suspect the minutes of trying it, its errand, the minutes that follow, and the check that tries it.

    `proven`: by a proof, where one of those still open costs less than the repair.
    """
    suspect, lost, unlisted = s.space.suspects[index], in_vain(s), s.knowledge.words.unlisted_minutes
    if suspect.cause == NOT_LISTED:
        return unlisted, (), 0.0, None
    repair, errand = repairing(s, suspect.cause, suspect.place)
    shown = s.proofs_seen(suspect.cause, suspect.place)
    if shown:
        repair = s.knowledge.checks[s.knowledge.causes[suspect.cause].retest[0]].minutes
    own, follow, key = repair + lost, -lost, None
    price = own + ready(s.open_ground, errand, s.stand)
    for check, result in proofs(s, suspect.cause) if proven and not shown else ():
        at = suspect.place if check.at is not None else None
        again = worth_again(s, check, at)
        if (s.done(check.id, at) and not again) or not s.can(check):
            continue
        asked = s.errand(check, at)
        looks = (check.minutes + check.again_minutes * again) / table_of(s, check, at, again=again)[row_of(check, result), index]
        fee = ready(s.open_ground, asked, s.stand)
        if looks + fee < price:
            price, own, errand, follow, key = looks + fee, looks, asked, repair, (check.id, at or "")
    held = key is None and bool(s.held_repair(suspect.cause))
    first = min((check.minutes for check in letting_go(s, suspect.cause)), default=None) if held else 0.0
    if key is None and (s.doubted(index) or first is None):
        return unlisted, errand, 0.0, None  # one asks for help before that
    return own + (first or 0.0), errand, follow, key


def letting_go(s: Situation, cause: str) -> list[Check]:
    """The checks still open that let go what holds a cause's repair, its proofs or their stages."""
    proof = s.knowledge.causes[cause].proof
    held = {*proof, *(s.knowledge.checks[c].stage for c in proof), cause}
    rules = [s.knowledge.rules[h.rule] for h in s.assessment.holds if h.target in held]
    names = {p.negated.answer for r in rules for p in r.when if p.negated is not None and p.negated.answer is not None}
    found = [s.knowledge.checks[n] for n in sorted(names)]
    return [c for c in found if s.can(c) and not s.held(c) and not s.done(c.id, None)]


def repairing(s: Situation, cause: str, place: str | None) -> tuple[float, Errand]:
    """Minutes of a repair with the test after it, and what both ask of the machine."""
    entry = s.knowledge.causes[cause]
    retest = s.knowledge.checks[entry.retest[0]]
    errand = (*s.errand(entry.repair, place), *s.errand(retest, place if retest.at not in (None, "section") else None))
    return max(LEAST_REPAIR, entry.repair.minutes + retest.minutes), errand


def proofs(s: Situation, cause: str) -> Iterator[tuple[Check, str]]:
    """The checks that show a cause itself, each with the result that does; load tests are judged otherwise."""
    for name, result in s.knowledge.causes[cause].proof.items():
        check = s.knowledge.checks[name]
        if check.at != "section":
            yield check, result


def row_of(check: Check, result: str) -> int:
    """The row of a check's table that holds a result."""
    return [r.id for r in check.results].index(result)
