"""Counts of closed cases to a layer of knowledge: what was learned, and what is left as it was shipped, with the scores."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from advisor.evidence.priors import word_shares
from advisor.evidence.rows import OTHERWISE, row, row_names, word_values
from advisor.evidence.told import Question, answers, told_row, usual
from advisor.experience.posterior import learn, learn_minutes, learn_row, pool, trust
from advisor.model.experience import Counted, CountedMinutes, CountedRow, CountedShares, CountedTimes, Experience
from advisor.model.knowledge import Knowledge
from advisor.model.tally import Tally, Timed

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FEWEST = 30  # closed and proven cases from which on anything is learned
PRIOR_WEIGHT = 30.0  # cases that the words count for in the shares of a complaint; judgements, no source
ROW_WEIGHT = 20.0  # in each row of a check
TIME_WEIGHT = 8.0  # times that the minutes given count for
MOST_MOVED = 0.1  # no share is moved further by one case more or less
LONGEST = 600.0  # minutes that an entry of the knowledge can take
LEAST = 1e-3  # share of a result that the words leave none
WORTH = 0.1  # trust below which the shipped words stay: the numbers would be theirs
AT_ONCE = 40  # rows that a worker fits in one call
Each = Callable[..., Iterable[Any]]


@dataclass(frozen=True)
class Part:
    """One thing that was counted. `gain` is in nats of the leave-one-out log score; of minutes, the squared error taken off."""

    kind: str  # "prior", "feature", "row", "check" or "repair"
    name: tuple[str, ...]
    cases: int
    gain: float
    used: bool


@dataclass(frozen=True)
class Fit:
    """What was learned. The scores are sums over everything that was counted, learned where it is used."""

    experience: Experience
    parts: tuple[Part, ...]
    shipped_score: float
    learned_score: float
    foretold: int  # single things foretold: causes and results

    @property
    def used(self) -> tuple[Part, ...]:
        return tuple(p for p in self.parts if p.used)

    @property
    def left(self) -> tuple[Part, ...]:
        return tuple(p for p in self.parts if not p.used)


def given_minutes(knowledge: Knowledge) -> dict[Timed, float]:
    """The minutes that the knowledge gives each check and each repair."""
    found: dict[Timed, float] = {("check", c.id): c.minutes for c in knowledge.checks.values()}
    return found | {("repair", c.id): c.repair.minutes for c in knowledge.causes.values()}


def fit(knowledge: Knowledge, tally: Tally, each: Each | None = None) -> Fit:
    """What the counts say against the words of the knowledge, which must hold no counted numbers yet.

    `each` is `map` over workers that have the knowledge (advisor/workers.py): the result does not depend on it.
    """
    each = each or (lambda function, *given: map(partial(function, knowledge), *given))
    parts: list[Part] = []
    scores = [0.0, 0.0]
    foretold = 0
    priors: dict[str, CountedShares] = {}
    for complaint, counts in tally.causes.items():
        prior, part, (shipped, learned) = _prior(knowledge, complaint, counts)
        parts.append(part)
        scores = [scores[0] + shipped, scores[1] + learned]
        foretold += part.cases
        if prior is not None:
            priors[complaint] = prior
    features = {}
    given = [(c, priors.get(c), {k: n for k, n in tally.features.items() if k[0] == c}) for c in tally.causes]
    for complaint, asked, own in each(_features, *zip(*given, strict=True)) if given else ():
        parts += own
        if asked:
            features[complaint] = asked
    scores[1] += sum(trust(p.gain) * p.gain for p in parts if p.kind == "feature" and p.used)
    rows: dict[str, dict[str, CountedRow]] = {}
    work = [(key, seen) for key, seen in tally.shown.items() if _known(knowledge, key)]
    fitted = itertools.chain.from_iterable(each(_rows, [work[i : i + AT_ONCE] for i in range(0, len(work), AT_ONCE)]))
    for (check, name), found, part, (shipped, learned) in fitted:
        parts.append(part)
        scores = [scores[0] + shipped, scores[1] + learned]
        foretold += part.cases
        if found is not None:
            rows.setdefault(check, {})[name] = found
    timed = dict(_timed(knowledge, tally, parts))
    experience = Experience(
        counted=Counted(cases=tally.fit, until=tally.until, knowledge=knowledge.digest[:12]),
        priors=priors,
        features=features,
        rows=rows,
        checks={what: t for (kind, what), t in timed.items() if kind == "check"},
        repairs={what: t for (kind, what), t in timed.items() if kind == "repair"},
    )
    return Fit(experience, tuple(parts), scores[0], scores[1], foretold)


def _prior(
    knowledge: Knowledge, complaint: str, counts: Mapping[str, int]
) -> tuple[CountedShares | None, Part, tuple[float, float]]:
    """The shares of a complaint's causes."""
    import numpy as np

    shipped = word_shares(knowledge, complaint)
    own = np.array([counts.get(cause, 0) for cause in shipped], dtype=float)
    found = learn(np.array(list(shipped.values())), own, PRIOR_WEIGHT)
    cases = int(own.sum())
    used = found.trust > WORTH
    part = Part("prior", (complaint,), cases, found.gain, used)
    if not used:
        return None, part, (found.shipped_score, found.shipped_score)
    shares = dict(zip(shipped, map(_short, found.shares), strict=True))
    kept = {cause: n for cause, n in counts.items() if cause in shipped}
    return CountedShares(cases=cases, shares=shares, counts=kept), part, (found.shipped_score, found.score)


def _known(knowledge: Knowledge, key: tuple[str, str]) -> bool:
    """Whether a row that was counted is still one of the knowledge."""
    check = knowledge.checks.get(key[0])
    return check is not None and key[1] in row_names(check)


Seen = tuple[tuple[str, float, int], ...]
Rowed = tuple[tuple[str, str], CountedRow | None, Part, tuple[float, float]]


def _rows(knowledge: Knowledge, work: Sequence[tuple[tuple[str, str], Seen]]) -> list[Rowed]:
    return [_row(knowledge, key, seen) for key, seen in work]


def _row(knowledge: Knowledge, key: tuple[str, str], seen: Seen) -> Rowed:
    """One row of a check."""
    import numpy as np

    check, used = knowledge.checks[key[0]], word_values(knowledge)
    results = [r.id for r in check.results]
    known = [(results.index(r), q, n) for r, q, n in seen if r in results]
    centre, otherwise = (_whole(np.array(row(check, name, used))) for name in (key[1], OTHERWISE))
    if key[1] == OTHERWISE:  # it speaks whether or not the fault shows
        known = [(r, 1.0, n) for r, _, n in known]
    found = learn_row(centre, otherwise, knowledge.words.wrong_answer, known, ROW_WEIGHT)
    taken = found.trust > WORTH
    part = Part("row", key, int(found.cases), found.gain, taken)
    if not taken:
        return key, None, part, (found.shipped_score, found.shipped_score)
    chances = dict(zip(results, map(_short, found.shares), strict=True))
    return key, CountedRow(cases=int(found.cases), chances=chances), part, (found.shipped_score, found.score)


def _whole(chances: Floats) -> Floats:
    import numpy as np

    lifted = np.maximum(chances, LEAST)
    found: Floats = lifted / lifted.sum()
    return found


def _features(
    knowledge: Knowledge, complaint: str, prior: CountedShares | None, counted: Mapping[tuple[str, str, str], Mapping[str, int]]
) -> tuple[str, dict[str, dict[str, CountedTimes]], list[Part]]:
    """What each answer about the machine says, with one complaint; groups are drawn to the complaint's own shares."""
    asked: dict[str, Question] = {**knowledge.intake, **knowledge.checks}
    shares = word_shares(knowledge, complaint) if prior is None else prior.shares
    found: dict[str, dict[str, CountedTimes]] = {}
    parts = []
    for question in dict.fromkeys(q for _, q, _ in counted):
        if question in asked:
            part, times = _feature(knowledge, counted, complaint, asked[question], shares)
            parts.append(part)
            if times:
                found[question] = times
    return complaint, found, parts


def _feature(
    knowledge: Knowledge,
    by_answer: Mapping[tuple[str, str, str], Mapping[str, int]],
    complaint: str,
    question: Question,
    shares: Mapping[str, float],
) -> tuple[Part, dict[str, CountedTimes]]:
    import numpy as np

    groups = [a for a in answers(question) if (complaint, question.id, a) in by_answer]
    base = usual(question)
    told = {c: told_row(question, knowledge.causes[c], knowledge.words) for c in shares}
    counted = [by_answer[complaint, question.id, a] for a in groups]
    counts = np.array([[n.get(c, 0) for c in shares] for n in counted], dtype=float).reshape(len(groups), len(shares))
    centres = np.array([[s * told[c][a] / base[a] for c, s in shares.items()] for a in groups]).reshape(counts.shape)
    centres /= centres.sum(axis=1, keepdims=True)
    found = pool(centres, counts)
    used = trust(found.gain) > WORTH
    part = Part("feature", (complaint, question.id), int(counts.sum()), found.gain, used)
    if not used:
        return part, {}
    times = {
        a: {c: _short(share / shares[c]) for c, share in zip(shares, own, strict=True)}
        for a, own in zip(groups, found.shares, strict=True)
    }
    return part, {
        a: CountedTimes(cases=int(n.sum()), times=times[a]) for a, n in zip(groups, counts, strict=True) if n.sum()
    }  # fmt: skip


def _timed(knowledge: Knowledge, tally: Tally, parts: list[Part]) -> Iterator[tuple[Timed, CountedMinutes]]:
    """Minutes of checks and repairs."""
    for key, planned in given_minutes(knowledge).items():
        took = tally.took.get(key)
        if took is None or planned <= 0:
            continue
        found = learn_minutes(planned, took.times, took.total, took.squares, TIME_WEIGHT)
        gain = found.shipped_error - found.learned_error
        used = gain > 0 and abs(found.minutes - planned) >= 0.05 * planned
        parts.append(Part(key[0], (key[1],), took.times, gain, used))
        if used:
            yield key, CountedMinutes(times=took.times, minutes=round(min(found.minutes, LONGEST), 1))


def _short(value: float) -> float:
    """Four digits: more would say more than was counted."""
    return float(f"{value:.4g}")
