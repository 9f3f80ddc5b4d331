"""Evidence to shares: a naive-Bayes ranking of suspects with pairs, families of checks, and a robustness figure.

    weight(s) = prior(s) * factors(s) * product over answers P(result | s) * likelihood of the load-test readings given s

Two faults at once are covered by the pairs of the leading suspects (noisy-OR for the normal result).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from advisor.evidence.rows import OTHERWISE, row, row_names
from advisor.model.finding import NOT_LISTED, Share, Suspect
from advisor.model.knowledge import Check, ProbabilityWord
from advisor.reasoning.likelihoods import Space, rows

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from advisor.reasoning.harness import Harness

    Floats = NDArray[np.float64]
    Told = tuple["Witness", NDArray[np.intp], Floats]  # an answer, the row that speaks of each suspect, and for what part

LEADERS = 12  # suspects whose pairs join the hypotheses: 66 pairs
SECOND_LOOK = 0.5  # strength, in log terms, of a second answer from one family
WORDS: tuple[ProbabilityWord, ...] = (
    "almost-no-chance", "very-unlikely", "unlikely", "roughly-even", "likely", "very-likely", "almost-certain"
)  # fmt: skip


@dataclass(frozen=True)
class Witness:
    """One answer as evidence: which check, at which place, which result, and at what strength."""

    check: str
    result: str
    place: str | None = None
    strength: float = 1.0


@dataclass(frozen=True)
class Ranking:
    """Shares of all hypotheses; `weights` sums to one over `hypotheses`, which hold one or two suspects each."""

    space: Space
    hypotheses: tuple[tuple[int, ...], ...]
    weights: Floats
    shares: Floats
    witnesses: tuple[Witness, ...]
    factors: Floats

    def of(self, cause: str, place: str | None = None) -> float:
        """Share of the hypotheses that hold a cause, at one place or at any."""
        held = {i for i, s in enumerate(self.space.suspects) if s.cause == cause and place in (None, s.place)}
        return float(sum(w for h, w in zip(self.hypotheses, self.weights, strict=True) if held.intersection(h)))


def strengths(space: Space, witnesses: Sequence[Witness]) -> tuple[Witness, ...]:
    """Witnesses with their strengths: the most telling of a family counts in full, every further one at half.

    Which of a family is most telling does not depend on the order of the answers.
    """

    def spread(w: Witness) -> float:
        likelihood = _likelihood(space, w)
        return float(math.log(likelihood.max() / likelihood.min()))

    def family(w: Witness) -> tuple[str, str | None]:
        check = space.knowledge.checks[w.check]
        return check.family or check.id, w.place

    ordered = sorted(witnesses, key=lambda w: (family(w)[0], family(w)[1] or "", -spread(w), w.check, w.result))
    found = []
    for _, group in itertools.groupby(ordered, key=family):
        for i, w in enumerate(group):
            found.append(Witness(w.check, w.result, w.place, w.strength * (1.0 if i == 0 else SECOND_LOOK)))
    return tuple(found)


def _likelihood(space: Space, w: Witness) -> Floats:
    found: Floats = space.table(w.check, w.place)[_index(space.knowledge.checks[w.check], w)]
    return found


def pair_chances(normal: Floats, said: Floats, otherwise: Floats, is_normal: NDArray[np.bool_]) -> Floats:
    """P(what was said | both suspects), shape (answers, members, members).

    For A answers: chance of each one's normal result and of what was said for each member, (A, members); chance of the normal
    result otherwise, (A,); whether what was said is the normal result, (A,).

    A normal result needs both causes to leave it normal: P(n | s, t) = P(n | s) P(n | t) / P(n | otherwise), but no more than
    the greater of the two: causes that each make it likelier than otherwise do not make it certain together.
    The other results share the rest in proportion to how likely the two causes make them.
    """
    import numpy as np

    first, second = normal[:, :, None], normal[:, None, :]
    both = np.minimum(first * second / otherwise[:, None, None], np.maximum(first, second))
    others = 2.0 - first - second
    possible = others > 1e-12
    rest = np.where(possible, (1.0 - both) / np.where(possible, others, 1.0), 0.0)
    shared = (said[:, :, None] + said[:, None, :]) * rest
    found: Floats = np.where(is_normal[:, None, None], np.where(possible, both, 1.0), shared)
    return found


def pair_table(table: Floats, otherwise: Floats, normal: int, members: Sequence[int]) -> Floats:
    """P(result | both suspects), shape (results, members, members)."""
    import numpy as np

    part = table[:, list(members)]
    count = len(part)
    is_normal = np.arange(count) == normal
    return pair_chances(np.repeat(part[normal][None, :], count, axis=0), part, np.full(count, otherwise[normal]), is_normal)


def _pair_logs(answers: Sequence[tuple[Witness, Check, Floats]], members: Sequence[int]) -> Floats:
    """Log likelihood of answers, each with its check and table, for every two of the members, (members, members)."""
    import numpy as np

    if not answers:
        return np.zeros((len(members), len(members)))
    which = list(members)
    normals = [next(i for i, r in enumerate(check.results) if r.normal) for _, check, _ in answers]
    said = [_index(check, w) for w, check, _ in answers]
    tables = [table for _, _, table in answers]
    found = pair_chances(
        np.array([t[n, which] for t, n in zip(tables, normals, strict=True)]),
        np.array([t[i, which] for t, i in zip(tables, said, strict=True)]),
        np.array([t[n, -1] for t, n in zip(tables, normals, strict=True)]),  # the last suspect is `otherwise`
        np.array(said) == np.array(normals),
    )
    logs: Floats = np.tensordot([w.strength for w, _, _ in answers], np.log(np.maximum(found, 1e-12)), axes=1)
    return logs


def _index(check: Check, w: Witness) -> int:
    return [r.id for r in check.results].index(w.result)


def rank(space: Space, witnesses: Sequence[Witness], factors: Floats | None = None, harness: Harness | None = None) -> Ranking:
    """The ranking from answers (any order), prior factors (one a suspect) and load-test readings."""
    import numpy as np

    count = len(space.suspects)
    multiplied = np.ones(count) if factors is None else factors
    weighed = space.prior * multiplied
    prior = weighed / weighed.sum()
    used = strengths(space, witnesses)
    log = np.log(prior)
    if used:
        log = log + [w.strength for w in used] @ np.log([_likelihood(space, w) for w in used])
    elements = _elements(space, harness)
    if harness is not None:
        log = log + np.append(harness.single, harness.healthy)[elements]
    leaders = [int(i) for i in np.argsort(-log[:-1], kind="stable")[:LEADERS]]
    hypotheses: list[tuple[int, ...]] = [(i,) for i in range(count)]
    logs = [log]
    if len(leaders) > 1:
        upper = np.triu_indices(len(leaders), k=1)
        members = np.array(leaders)
        pairs = np.log(space.knowledge.words.second_fault_odds * prior[members][:, None] * prior[members][None, :])
        answers = [(w, space.knowledge.checks[w.check], space.table(w.check, w.place)) for w in used]
        pairs = pairs + _pair_logs(answers, leaders)
        if harness is not None:
            pairs = pairs + _harness_pairs(harness, elements[members])
        hypotheses += [(leaders[i], leaders[j]) for i, j in zip(*upper, strict=True)]
        logs.append(pairs[upper])
    joined = np.concatenate(logs)
    weights = np.exp(joined - joined.max())
    weights /= weights.sum()
    shares = weights[:count].copy()
    for hypothesis, weight in zip(hypotheses[count:], weights[count:], strict=True):
        shares[list(hypothesis)] += weight
    return Ranking(space, tuple(hypotheses), weights, shares, used, multiplied)


def _elements(space: Space, harness: Harness | None) -> NDArray[np.intp]:
    """For each suspect the index of its element among the harness weights; the index after the last means none."""
    import numpy as np

    if harness is None:
        return np.zeros(len(space.suspects), dtype=np.intp)
    index = {name: i for i, name in enumerate(harness.elements)}
    none = len(harness.elements)
    return np.array([index.get(s.place or "", none) if _resists(space, s) else none for s in space.suspects], dtype=np.intp)


def _resists(space: Space, suspect: Suspect) -> bool:
    return suspect.cause != NOT_LISTED and space.knowledge.causes[suspect.cause].adds_resistance


def _harness_pairs(harness: Harness, elements: NDArray[np.intp]) -> Floats:
    """Log likelihood of the readings for two suspects at these elements (either may have none)."""
    import numpy as np

    count = len(harness.elements)
    whole = np.empty((count + 1, count + 1))
    whole[:count, :count] = harness.pair
    whole[:count, count] = whole[count, :count] = harness.single
    whole[count, count] = harness.healthy
    found: Floats = whole[np.ix_(elements, elements)]
    return found


def lines(ranking: Ranking) -> tuple[Share, ...]:
    """The ranking by cause, greatest share first; a place is named when it holds more than half of its cause's share."""
    space = ranking.space
    groups: dict[str, list[int]] = {}
    for i, s in enumerate(space.suspects):
        groups.setdefault(s.cause, []).append(i)
    owner = {i: cause for cause, members in groups.items() for i in members}
    totals = dict.fromkeys(groups, 0.0)
    for hypothesis, weight in zip(ranking.hypotheses, ranking.weights, strict=True):
        for cause in {owner[i] for i in hypothesis}:
            totals[cause] += float(weight)
    found = []
    for cause, members in groups.items():
        best = max(members, key=lambda i: ranking.shares[i])
        place = space.suspects[best].place if ranking.shares[best] > 0.5 * totals[cause] else None
        spots = sum(space.suspects[i].place is not None for i in members)
        found.append(Share(cause, place, space.title(Suspect(cause, place)), totals[cause], spots))
    return tuple(sorted(found, key=lambda s: (-s.share, s.cause)))


def decibans(space: Space, w: Witness, cause: str) -> float:
    """Weight of evidence of an answer for a cause against the causes its check does not name: 10 log10 of the ratio."""
    check = space.knowledge.checks[w.check]
    names, chances = row_names(check), space.rows(w.check)[:, _index(check, w)]
    other = names.index(OTHERWISE)
    ratio = chances[names.index(cause) if cause in check.evidence else other] / chances[other]
    return float(w.strength * 10 * math.log10(ratio))


def robustness(ranking: Ranking) -> float:
    """How often the leader still leads when one probability word that the ranking rests on is off by one band.

    Every word of every row that an answer used is moved up and down by one word, one at a time; moves that leave nothing
    for the results which the row does not name are not possible. 1.0 without answers.
    """
    import numpy as np

    space = ranking.space
    leader = lines(ranking)[0].cause
    causes = list(dict.fromkeys(s.cause for s in space.suspects))
    cause_of = [causes.index(s.cause) for s in space.suspects]
    holds = np.zeros((len(ranking.hypotheses), len(causes)))
    for n, hypothesis in enumerate(ranking.hypotheses):
        holds[n, [cause_of[i] for i in hypothesis]] = 1.0
    log = np.log(np.maximum(ranking.weights, 1e-300))
    by_check: dict[str, list[Told]] = {}
    for w in ranking.witnesses:
        check = space.knowledge.checks[w.check]
        by_check.setdefault(w.check, []).append((w, space.rows_of(check, w.place), space.part_of(check, w.place)))
    moved = []
    for name, answers in by_check.items():
        check = space.knowledge.checks[name]
        base = log - _told(ranking, check, answers, space.rows(name))
        moved += [base + _told(ranking, check, answers, values) for values in _off_by_one(check, space)]
    if not moved:
        return 1.0
    totals = np.exp(np.array(moved) - np.max(moved, axis=1, keepdims=True)) @ holds
    return float(np.mean(totals.max(axis=1) <= totals[:, causes.index(leader)] * (1 + 1e-9)))


def _off_by_one(check: Check, space: Space) -> Iterator[Floats]:
    """The check's `rows` with one word of one row moved by one band, in every way that concerns a suspect."""
    used, names, base = space.used, row_names(check), space.rows(check.id)
    present = {s.cause for s in space.suspects} | {OTHERWISE}
    for cause, words in check.evidence.items():
        for result, word in words.items() if cause in present else ():
            at = WORDS.index(word)
            for other in WORDS[max(at - 1, 0) : at] + WORDS[at + 1 : at + 2]:
                changed = {**words, result: other}
                if len(changed) < len(check.results) and sum(used[x] for x in changed.values()) >= 1:
                    continue
                moved = check.model_copy(update={"evidence": {**check.evidence, cause: changed}})
                if cause == OTHERWISE:
                    yield rows(moved, used)
                else:
                    values = base.copy()
                    values[names.index(cause)] = row(moved, cause, used)
                    yield values


def _told(ranking: Ranking, check: Check, answers: Sequence[Told], values: Floats) -> Floats:
    """Log likelihood of the answers to one check for every hypothesis, from its `rows`; each answer with every suspect's row."""
    import numpy as np

    count = len(ranking.space.suspects)
    leaders = list(dict.fromkeys(i for h in ranking.hypotheses[count:] for i in h))
    found = np.zeros(len(ranking.hypotheses))
    for w, which, part in answers:
        table = ranking.space.told(values, which, part)
        found[:count] += w.strength * np.log(table[_index(check, w)])
        if leaders:
            found[count:] += _pair_logs([(w, check, table)], leaders)[np.triu_indices(len(leaders), k=1)]
    return found
