"""What each result of a step would lead to, and the reason that this gives in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from advisor.consultation.answers import LOAD_TEST
from advisor.model.finding import NOT_LISTED, Outcome, Suspect
from advisor.model.knowledge import Check
from advisor.reasoning.planning import Action

if TYPE_CHECKING:
    from advisor.reasoning.ranking import Ranking


def outcomes_of(ranking: Ranking, check: Check, action: Action) -> tuple[Outcome, ...]:
    """Each result of a check or a load test: its chance, and the cause that would lead after it with its share."""
    shares = ranking.shares / ranking.shares.sum()
    results = [(r.id, r.says) for r in check.results]
    if check.id == LOAD_TEST:
        words = {r.id: r.says for r in check.results}
        results = [(v, words.get(v, v)) for v in ("over", "unsure", "within")]
    found = []
    for (result, says), likely in zip(results, action.table, strict=True):
        joint = likely * shares
        chance = float(joint.sum())
        cause, share = _leader(ranking, joint / chance if chance else joint)
        found.append(Outcome(result, says, chance, cause, share))
    return tuple(found)


def _leader(ranking: Ranking, shares: Any) -> tuple[str, float]:
    """The title of the cause that holds most at all its places, and its share."""
    totals: dict[str, float] = {}
    for s, share in zip(ranking.space.suspects, shares, strict=True):
        totals[s.cause] = totals.get(s.cause, 0.0) + float(share)
    cause = max(totals, key=lambda c: totals[c])
    return ranking.space.title(Suspect(cause)), totals[cause]


def separates_of(ranking: Ranking, action: Action) -> tuple[str, ...]:
    """The titles of the suspects whose shares the step can move most, by how far they can move."""
    shares = ranking.shares / ranking.shares.sum()
    chance = action.table @ shares
    swing = (chance[:, None] * abs(action.table * shares / chance[:, None] - shares)).sum(axis=0)
    totals: dict[str, float] = {}
    for s, move in zip(ranking.space.suspects, swing, strict=True):
        if s.cause != NOT_LISTED:
            totals[s.cause] = totals.get(s.cause, 0.0) + float(move)
    best = sorted(totals, key=lambda c: -totals[c])[:3]
    return tuple(ranking.space.title(Suspect(c)) for c in best if totals[c] > 0.002)


def reason_of(minutes: float, separates: tuple[str, ...], outcomes: tuple[Outcome, ...]) -> tuple[str, ...]:
    """Two lines: what it tells about, and its minutes with the likeliest result."""
    if separates:
        first = "It tells most about: " + "; ".join(t[:1].lower() + t[1:] for t in separates) + "."
    else:
        first = "It changes little, but nothing open now tells more."
    likely = max(outcomes, key=lambda o: o.chance)
    return first, f"{minutes:.0f} min. Most likely ({likely.chance:.0%}): {likely.says[:1].lower() + likely.says[1:]}."
