"""Evidence to shares: a naive-Bayes ranking of suspects with pairs, families of checks, and a robustness figure.

    weight(s) = prior(s) * factors(s) * product over answers P(result | s) * likelihood of the load-test readings given s

Two faults at once are covered by the pairs of the leading suspects (noisy-OR for the normal result).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from advisor.evidence.rows import OTHERWISE, otherwise_row, row_by, row_names
from advisor.model.finding import NOT_LISTED, Share, Suspect
from advisor.model.knowledge import Check
from advisor.model.words import ProbabilityWord
from advisor.reasoning.likelihoods import Space, Speaks, rows
from advisor.reasoning.witnesses import Witness, by_spot, part_of, said_in

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from advisor.reasoning.families import Family
    from advisor.reasoning.harness import Harness

    Floats = NDArray[np.float64]
    Told = tuple[Witness, Speaks]  # an answer, and the row that speaks of each suspect

LEADERS = 12  # suspects whose pairs join the hypotheses: 66 pairs
WORDS: tuple[ProbabilityWord, ...] = (
    "almost-no-chance", "very-unlikely", "unlikely", "roughly-even", "likely", "very-likely", "almost-certain"
)  # fmt: skip


@dataclass(frozen=True)
class Pairs:
    """Every two of some leading suspects, in the order of `upper`; worked out once for the same leaders."""

    leaders: tuple[int, ...]
    both: NDArray[np.intp]  # the suspects of each pair one after the other
    hypotheses: tuple[tuple[int, ...], ...]  # with those of one suspect each before them

    @property
    def first(self) -> NDArray[np.intp]:
        return self.both[::2]

    @property
    def last(self) -> NDArray[np.intp]:
        return self.both[1::2]


@dataclass(frozen=True)
class Ranking:
    """Shares of all hypotheses; `weights` sums to one over `hypotheses`, which hold one or two suspects each."""

    space: Space
    pairs: Pairs
    weights: Floats
    shares: Floats
    families: tuple[Family, ...]
    factors: Floats

    @property
    def hypotheses(self) -> tuple[tuple[int, ...], ...]:
        return self.pairs.hypotheses

    @property
    def witnesses(self) -> tuple[Witness, ...]:
        """Every answer that was weighed."""
        return tuple(w for f in self.families for w in f.used)

    def of(self, cause: str, place: str | None = None) -> float:
        """Share of the hypotheses that hold a cause, at one place or at any."""
        held = {i for i, s in enumerate(self.space.suspects) if s.cause == cause and place in (None, s.place)}
        return float(sum(w for h, w in zip(self.hypotheses, self.weights, strict=True) if held.intersection(h)))


def rank(
    space: Space, witnesses: Sequence[Witness], factors: Floats | None = None, harness: Harness | None = None,
    mended: Mapping[int, frozenset[str]] | None = None,
) -> Ranking:  # fmt: skip
    """The ranking from answers (any order), prior factors (one a suspect) and load-test readings.

    `mended` are suspects that were repaired, each with the checks whose answers no longer speak of it: there it counts as
    what the checks call otherwise.
    """
    from advisor.reasoning.families import families

    return ranked(space, families(space, witnesses), factors, harness, mended)


def ranked(
    space: Space, weighed: Sequence[Family], factors: Floats | None = None, harness: Harness | None = None,
    mended: Mapping[int, frozenset[str]] | None = None,
) -> Ranking:  # fmt: skip
    """The same from answers that were weighed already, family by family in the order of their names."""
    import numpy as np

    from advisor.reasoning.families import log_rows
    from advisor.reasoning.pairs import upper

    weighed = tuple(weighed)
    count = len(space.suspects)
    multiplied = np.ones(count) if factors is None else factors
    prior = space.prior * multiplied
    prior = prior / prior.sum()
    log = np.log(prior)
    if any(f.used for f in weighed):
        said = log_rows(space).data.take(np.concatenate([f.rows for f in weighed]), axis=0)
        if mended:
            used = [w.check for f in weighed for w in f.used]
            for i, silent in mended.items():
                rows = [n for n, check in enumerate(used) if check in silent]
                said[rows, i] = said[rows, -1]
        log = log + np.concatenate([f.strengths for f in weighed]) @ said
    elements = _elements(space, harness)
    if harness is not None:
        log = log + np.append(harness.single, harness.healthy)[elements]
    leaders = tuple(np.argsort(-log[:-1], kind="stable")[:LEADERS].tolist())
    two, logs = _pairs_of(space, leaders), [log]
    if len(leaders) > 1:
        pairs = _both(space, weighed, prior, two)
        if harness is not None:
            pairs = pairs + _harness_pairs(harness, elements[list(leaders)])[upper(len(leaders))]
        logs.append(pairs)
    joined = np.concatenate(logs)
    weights = np.exp(joined - joined.max())
    weights /= weights.sum()
    shares = weights[:count].copy()
    np.add.at(shares, two.both, np.repeat(weights[count:], 2))
    return Ranking(space, two, weights, shares, weighed, multiplied)


def _pairs_of(space: Space, leaders: tuple[int, ...]) -> Pairs:
    import numpy as np

    from advisor.reasoning.pairs import upper

    known: dict[tuple[int, ...], Pairs] = space.memo.setdefault("pairs of leaders", {})
    if leaders not in known:
        every = tuple((leaders[i], leaders[j]) for i, j in zip(*upper(len(leaders)), strict=True))
        both = np.array([i for pair in every for i in pair], dtype=np.intp)
        known[leaders] = Pairs(leaders, both, _alone(len(space.suspects)) + every)
    return known[leaders]


def _both(space: Space, weighed: Sequence[Family], prior: Floats, two: Pairs) -> Floats:
    """Log weights of every two of the leaders together, in the order of `upper`, without the load tests."""
    import numpy as np

    from advisor.reasoning.families import pair_logs_of

    pairs: Floats = np.log(space.knowledge.words.second_fault_odds * prior[two.first] * prior[two.last])
    if any(len(f.pairs) for f in weighed):
        strengths, rows = np.concatenate([f.found for f in weighed]), np.concatenate([f.pairs for f in weighed])
        pairs = pairs + pair_logs_of(space).weighed(strengths, rows, two.leaders)
    return pairs + _told_of(space, tuple(f for f in weighed if f.told), two)


def _told_of(space: Space, told: tuple[Family, ...], two: Pairs) -> Floats:
    """What the operator told of every pair; kept until that or the leaders change, which the next answer seldom does."""
    from advisor.reasoning.pairs import told_pairs

    last: tuple[tuple[Family, ...], Pairs, Floats] | None = space.memo.get("told of pairs")
    if last is None or last[0] != told or last[1] is not two:
        strengths = [strength for f in told for strength in f.told]
        found = told_pairs(strengths, [likelihood for f in told for likelihood in f.likelihoods], two.first, two.last)
        last = space.memo["told of pairs"] = (told, two, found)
    return last[2]


@cache
def _alone(count: int) -> tuple[tuple[int, ...], ...]:
    """The hypotheses of one suspect each."""
    return tuple((i,) for i in range(count))


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
    space, shares = ranking.space, ranking.shares.tolist()
    import numpy as np

    count, owner, two = len(shares), space.cause_of, ranking.pairs
    parts = np.concatenate([ranking.weights[:count], np.repeat(ranking.weights[count:], 2)])
    parts[count + 1 :: 2][owner[two.first] == owner[two.last]] = 0.0  # two suspects of one cause count once
    owners = np.concatenate([owner, owner[two.both]])
    totals = np.bincount(owners, weights=parts, minlength=len(space.by_cause))
    ordered, starts = np.lexsort((-ranking.shares, owner)), _starts(space)
    best = ordered[starts]
    placed = (ranking.shares[best] > 0.5 * totals).tolist()
    spots, suspects, values, firsts = _spots(space), space.suspects, totals.tolist(), best.tolist()
    found = []
    for n in np.lexsort((_cause_names(space), -totals)).tolist():
        cause, title, count_of = spots[n]
        place = suspects[firsts[n]].place if placed[n] else None
        found.append(Share(cause, place, title if place is None else _title(space, cause, place), values[n], count_of))
    return tuple(found)


def _starts(space: Space) -> NDArray[np.intp]:
    """Where the suspects of each cause begin, when they stand cause by cause."""
    import numpy as np

    if "starts" not in space.memo:
        space.memo["starts"] = np.cumsum([0, *map(len, space.by_cause.values())][:-1])
    found: NDArray[np.intp] = space.memo["starts"]
    return found


def _cause_names(space: Space) -> NDArray[np.intp]:
    """For each cause its place in the order of names."""
    import numpy as np

    if "cause names" not in space.memo:
        causes = list(space.by_cause)
        space.memo["cause names"] = np.argsort(np.array(sorted(range(len(causes)), key=causes.__getitem__), dtype=np.intp))
    found: NDArray[np.intp] = space.memo["cause names"]
    return found


def _spots(space: Space) -> list[tuple[str, str, int]]:
    """Each cause with its title, and at how many places it can sit."""
    if "spots" not in space.memo:
        space.memo["spots"] = [
            (cause, space.title(Suspect(cause)), sum(space.suspects[i].place is not None for i in members))
            for cause, members in space.by_cause.items()
        ]
    found: list[tuple[str, str, int]] = space.memo["spots"]
    return found


def _title(space: Space, cause: str, place: str | None) -> str:
    titles: dict[tuple[str, str | None], str] = space.memo.setdefault("titles", {})
    if (cause, place) not in titles:
        titles[cause, place] = space.title(Suspect(cause, place))
    return titles[cause, place]


def suspects(ranking: Ranking) -> tuple[tuple[Suspect, str, float], ...]:
    """Every suspect with its title and its share, greatest share first; by cause and order where shares are equal."""
    import numpy as np

    space, shares = ranking.space, ranking.shares
    order = np.lexsort((_by_name(space), -shares)).tolist()
    here, titles = map(space.suspects.__getitem__, order), map(space.titles.__getitem__, order)
    return tuple(zip(here, titles, shares[order].tolist(), strict=True))


def _by_name(space: Space) -> NDArray[np.intp]:
    """For each suspect its place in the order of causes' names, then of suspects."""
    import numpy as np

    if "by name" not in space.memo:
        order = sorted(range(len(space.suspects)), key=lambda i: (space.suspects[i].cause, i))
        space.memo["by name"] = np.argsort(np.array(order))
    found: NDArray[np.intp] = space.memo["by name"]
    return found


def decibans(space: Space, w: Witness, cause: str) -> float:
    """Weight of evidence of an answer for a cause against the causes its check does not name: 10 log10 of the ratio."""
    (found,) = all_decibans(space, w, (cause,))
    return found


def all_decibans(space: Space, w: Witness, causes: Sequence[str]) -> list[float]:
    """`decibans` for several causes."""
    ats = [space.first[cause] for cause in causes]
    if space.asks(w.check):
        told = space.told(w.check, w.given)
        return [float(w.strength * 10 * math.log10(told[at])) for at in ats]
    check = space.knowledge.checks[w.check]
    said = space.table(check.id, None, w.showing)[said_in(check, w)]
    place = by_spot(space, w)
    chances = (said if place is None else said * place).tolist()
    if place is not None:  # of all the places of a cause, as likely as they were at first
        for cause, at in zip(causes, ats, strict=True):
            spots = space.by_cause[cause]
            weight = float(space.prior[spots] @ place[spots] / space.prior[spots].sum() / place[at])
            if at != len(chances) - 1:
                chances[at] *= weight
    otherwise = chances[-1]
    return [w.strength * 10 * math.log10(chances[at] / otherwise) for at in ats]


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
        if not space.asks(w.check):
            speaks = space.speaks(space.knowledge.checks[w.check], w.place, further=w.further)
            by_check.setdefault(w.check, []).append((w, speaks))
    moved = []
    for name, answers in by_check.items():
        check = space.knowledge.checks[name]
        told = _told(ranking, check, answers, np.array([space.rows(name), *_off_by_one(check, space)]))
        moved += list(log - told[0] + told[1:])
    if not moved:
        return 1.0
    totals = np.exp(np.array(moved) - np.max(moved, axis=1, keepdims=True)) @ holds
    return float(np.mean(totals.max(axis=1) <= totals[:, causes.index(leader)] * (1 + 1e-9)))


def _off_by_one(check: Check, space: Space) -> Iterator[Floats]:
    """The check's `rows` with one word of one row moved by one band, in every way that concerns a suspect."""
    used, names, base = space.used, row_names(check), space.rows(check.id)
    otherwise = otherwise_row(check, used)
    causes = {s.cause for s in space.suspects} - {NOT_LISTED}
    present = causes | {space.knowledge.causes[c].kind for c in causes} | {OTHERWISE}
    for cause, words in check.evidence.items():
        for result, word in words.items() if cause in present else ():
            at = WORDS.index(word)
            for other in WORDS[max(at - 1, 0) : at] + WORDS[at + 1 : at + 2]:
                changed = {**words, result: other}
                if len(changed) < len(check.results) and sum(used[x] for x in changed.values()) >= 1:
                    continue
                if cause == OTHERWISE:
                    yield rows(check.model_copy(update={"evidence": {**check.evidence, cause: changed}}), used)
                else:
                    values = base.copy()
                    values[names.index(cause)] = row_by(check, cause, changed, used, otherwise)
                    yield values


def _told(ranking: Ranking, check: Check, answers: Sequence[Told], values: Floats) -> Floats:
    """Log likelihood of the answers to one check for every hypothesis, by each of several `rows` of it, (these, hypotheses)."""
    import numpy as np

    from advisor.reasoning.pairs import logs_of_pairs, upper

    space = ranking.space
    count = len(space.suspects)
    leaders = list(dict.fromkeys(i for h in ranking.hypotheses[count:] for i in h))
    first, second = upper(len(leaders))
    normal = next(i for i, r in enumerate(check.results) if r.normal)
    found = np.zeros((len(values), len(ranking.hypotheses)))
    for w, speaks in answers:
        said = said_in(check, w)
        tables = space.seen(values, speaks, w.showing, (said, normal))
        found[:, :count] += w.strength * np.log(tables[:, 0] * part_of(space, w, range(count)))
        if leaders:
            here = tables[:, 0][:, leaders] * part_of(space, w, leaders)
            alike = np.full(len(values), said == normal)
            pairs = w.strength * logs_of_pairs(tables[:, 1][:, leaders], here, tables[:, 1, -1], alike)
            found[:, count:] += pairs[:, first, second]
    return found
