"""The ranking against a Bayesian network library, textbook examples and published tables.

pyAgrum (an independent exact inference engine) computes the same network from chances that are worked out here from the
words of the knowledge, not by the program.
"""

from __future__ import annotations

import math
import random
import warnings
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import yaml
from builders import SMALL, small_knowledge, small_machine
from hypothesis import given, settings
from hypothesis import strategies as st
from worlds import USED, cause, check, pair_table, words, world

from advisor.evidence.rows import OTHERWISE
from advisor.library.parser import load
from advisor.model.finding import NOT_LISTED, Suspect
from advisor.model.knowledge import Check, Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.model.stage import ASK
from advisor.model.words import Words
from advisor.reasoning.likelihoods import Space, check_places, space
from advisor.reasoning.ranking import LEADERS, decibans, rank
from advisor.reasoning.witnesses import SECOND_LOOK, Witness

with warnings.catch_warnings():  # its binding warns while it loads, and a warning raised there ends the interpreter
    warnings.simplefilter("ignore")
    import pyagrum

# Its binding sets the shape of an array, which newer numpy deprecates; no array of ours passes through there.
pytestmark = pytest.mark.filterwarnings("ignore:Setting the shape on a NumPy array:DeprecationWarning")

TRADE = Path(__file__).parents[2] / "knowledge"
FREQUENT = {"very-rare": 1, "rare": 5, "occasional": 9, "common": 20, "very-common": 30}


# --- The same network in pyAgrum


def chances(entry: Check, name: str, used: dict[str, float]) -> list[float]:
    """P(result | cause): named words as they are, the rest shared as under `otherwise`, there equally; scaled to one."""
    ids = [r.id for r in entry.results]
    shape = dict.fromkeys(ids, 1.0)
    for said in (entry.evidence[OTHERWISE], entry.evidence.get(name)):
        if said is None:
            continue
        left = 1 - sum(used[w] for w in said.values())
        rest = sum(v for r, v in shape.items() if r not in said)
        values = {r: used[said[r]] if r in said else left * shape[r] / rest for r in ids}
        shape = {r: v / sum(values.values()) for r, v in values.items()}
    return [shape[r] for r in ids]


def at_the_plug(machine: Machine, name: str, point: str) -> bool:
    """Whether an element is a terminal of the point, or a wire next to one in some circuit."""
    if name.startswith(f"{point}:"):
        return True
    paths = [[e.name for e in path] for path in machine.circuits.values()]
    neighbours = {n for p in paths if name in p for n in p[max(p.index(name) - 1, 0) : p.index(name) + 2]}
    return machine.elements[name].kind == "wire" and any(n.startswith(f"{point}:") for n in neighbours)


def row_of(entry: Check, suspect: Suspect, within: Space) -> str | None:
    """The row that speaks of a suspect: its own, its kind's, or `otherwise`; None where the check has no opinion of it."""
    if suspect.cause == NOT_LISTED:
        return OTHERWISE
    kind = within.knowledge.causes[suspect.cause].kind
    named = [name for name in (suspect.cause, kind) if name in entry.evidence]
    return named[0] if named else OTHERWISE if entry.covers == "all" or kind in entry.covers else None


def part_of(w: Witness, suspect: Suspect, within: Space) -> float:
    """For what part of a suspect the check speaks where it was done: one without a place may sit at any such place, or plug."""
    entry = within.knowledge.checks[w.check]
    if w.place is None or entry.at is None:
        return 1.0
    if suspect.place is not None:
        if entry.at == "point":
            return float(at_the_plug(within.machine, suspect.place, w.place))
        if suspect.place == w.place:
            return 1.0
        kind = within.knowledge.causes[suspect.cause].kind
        word = entry.whole_plug.get(suspect.cause, entry.whole_plug.get(kind))
        beside = w.place is not None and ":" in w.place and suspect.place.split(":")[0] == w.place.split(":")[0]
        return within.used[word] if beside and word is not None and ":" in suspect.place else 0.0
    spots = check_places(entry, within.machine)
    plugs = {spot.split(":")[0] for spot in spots if spot} if entry.at == "terminal" else set(spots)
    return 0.0 if w.further else 1 / len(plugs)


def silent(w: Witness, suspect: Suspect, within: Space) -> bool:
    """Whether the check has no opinion of a suspect that could be where it was done."""
    entry = within.knowledge.checks[w.check]
    here = suspect.place is None or part_of(w, suspect, within) > 0
    return here and row_of(entry, suspect, within) is None


def sound(w: Witness, suspect: Suspect, within: Space) -> list[float]:
    """P(result | suspect) where no answer is wrong, of a check that has an opinion of the suspect."""
    entry, used = within.knowledge.checks[w.check], within.used
    own, other = chances(entry, row_of(entry, suspect, within) or OTHERWISE, used), chances(entry, OTHERWISE, used)
    kind = None if suspect.cause == NOT_LISTED else within.knowledge.causes[suspect.cause].kind
    lasting = entry.lasts if isinstance(entry.lasts, bool) else bool({suspect.cause, kind} & set(entry.lasts))
    part = part_of(w, suspect, within) * (1.0 if lasting else w.showing)
    return [part * o + (1 - part) * x for o, x in zip(own, other, strict=True)]


def chances_alone(w: Witness, suspect: Suspect, within: Space) -> list[float]:
    """P(result | suspect): its own where the check concerns it and the fault shows, else as otherwise; some answers are wrong."""
    plain = sound(w, suspect, within)
    if silent(w, suspect, within):  # as the rest of the suspects make it
        rest = [(p, sound(w, s, within)) for s, p in zip(within.suspects, within.prior, strict=True) if not silent(w, s, within)]
        plain = [sum(p * row[i] for p, row in rest) / sum(p for p, _ in rest) for i in range(len(plain))]
    wrong = within.knowledge.words.wrong_answer
    mixed = [wrong / len(plain) + (1 - wrong) * p for p in plain]
    entry = within.knowledge.checks[w.check]
    speaks = row_of(entry, suspect, within) not in (None, OTHERWISE) and part_of(w, suspect, within) > 0
    return weighed(mixed, [r.points_to if speaks else {} for r in entry.results], suspect, within)


def weighed(plain: list[float], points: list[dict[str, str]], suspect: Suspect, within: Space) -> list[float]:
    """Chances times what each result says of the circuits that a suspect's place lies in; they still sum to one."""
    circuits = [c.split("-") for c, path in within.machine.circuits.items() if suspect.place in {e.name for e in path}]
    own = {words[0] for words in circuits}
    tracks = {words[1] for words in circuits}
    own |= {"shared"} if len(tracks) == 2 else {"one-track", *(f"track-{t}" for t in tracks)} if tracks else set()
    worth = within.knowledge.words.factor
    times = [p * math.prod(worth[word] for part, word in to.items() if part in own) for p, to in zip(plain, points, strict=True)]
    return [t / sum(times) * sum(plain) for t in times]


def chances_of(entry: Check, w: Witness, held: tuple[Suspect, ...], within: Space) -> list[float]:
    """P(result | one or two suspects): for two, noisy-OR on the normal result, the rest in proportion."""
    each = [chances_alone(w, s, within) for s in held]
    if len(each) == 1:
        return each[0]
    normal = next(i for i, r in enumerate(entry.results) if r.normal)
    both = each[0][normal] * each[1][normal] / chances_alone(w, Suspect(NOT_LISTED), within)[normal]
    both = min(both, max(each[0][normal], each[1][normal]))
    others = [a + b if i != normal else 0.0 for i, (a, b) in enumerate(zip(*each, strict=True))]
    return [both if i == normal else (1 - both) * v / sum(others) for i, v in enumerate(others)]


def told_of(w: Witness, held: tuple[Suspect, ...], within: Space) -> float:
    """P(what the operator told | one or two suspects): of two, either may have been told of."""
    return sum(told_alone(w, s, within) for s in held) / len(held)


def told_alone(w: Witness, suspect: Suspect, within: Space) -> float:
    """P(what the operator told | suspect), from how often each answer is told and how much more often with this cause."""
    known = within.knowledge
    question = known.checks[w.check] if w.check in known.checks else known.intake[w.check]
    base = {r.id: r.usual for r in question.results if r.usual is not None}
    if not base or not set(w.given) & set(base):
        return 1.0
    entry = known.causes.get(suspect.cause)
    word = {} if entry is None else entry.told.get(w.check, {})
    fits = None if entry is None else entry.needs_feature.get(w.check)
    times = {a: 0.0 if fits is not None and a not in fits else known.words.factor[word[a]] if a in word else 1.0 for a in base}
    wrong = 0.0 if entry is None else known.words.wrong_answer
    if not question.many:
        whole, all_base = sum(base[a] * times[a] for a in base), sum(base.values())
        said = {a: wrong * b / all_base + (1 - wrong) * (b * times[a] / whole if whole else b / all_base) for a, b in base.items()}
        silent_here = within.complaint is not None and w.check in within.complaint.answers
        points = [{} if silent_here else r.points_to for r in question.results if r.usual is not None]
        return dict(zip(base, weighed(list(said.values()), points, suspect, within), strict=True))[w.result]
    chance = 1.0
    for a, b in base.items():
        odds = b * times[a] / (1 - b)
        p = wrong * b + (1 - wrong) * odds / (1 + odds)
        chance *= p if a in w.given else math.sqrt(1 - p)
    return chance


def by_network(within: Space, hypotheses: list[tuple[int, ...]], answers: list[Witness], factors: np.ndarray) -> np.ndarray:
    """Posterior of the hypotheses from pyAgrum. An answer at half strength is a child whose chance is the square root."""
    known = within.knowledge
    prior = within.prior * factors / (within.prior * factors).sum()
    odds = known.words.second_fault_odds
    weights = [prior[h[0]] if len(h) == 1 else odds * prior[h[0]] * prior[h[1]] for h in hypotheses]
    network = pyagrum.BayesNet()
    network.add(pyagrum.LabelizedVariable("fault", "fault", len(hypotheses)))
    network.cpt("fault").fillWith((np.array(weights) / sum(weights)).tolist())
    evidence = {}
    for n, w in enumerate(answers):
        held = [tuple(within.suspects[i] for i in h) for h in hypotheses]
        if within.asks(w.check):
            seen = np.array([told_of(w, h, within) for h in held]) ** w.strength
            rows, index = np.stack([seen, 1 - seen], axis=1), 0
        else:
            entry = known.checks[w.check]
            index = [r.id for r in entry.results].index(w.result)
            rows = np.array([chances_of(entry, w, h, within) for h in held])
            if w.strength != 1:
                seen = rows[:, index] ** w.strength
                rows, index = np.stack([seen, 1 - seen], axis=1), 0
        network.add(pyagrum.LabelizedVariable(f"answer-{n}", "answer", rows.shape[1]))
        network.addArc("fault", f"answer-{n}")
        network.cpt(f"answer-{n}")[:] = rows
        evidence[f"answer-{n}"] = index
    inference = pyagrum.LazyPropagation(network)
    inference.setEvidence(evidence)
    inference.makeInference()
    return inference.posterior("fault").toarray()


def random_answers(within: Space, rng: random.Random, count: int) -> list[Witness]:
    """Answers to random checks and questions, a place check at a random place, none twice."""
    known = within.knowledge
    done = [c for c in known.checks.values() if c.at != "section" and c.stage != ASK]
    spots = [(c, p) for c in done for p in check_places(c, within.machine)]
    drawn = rng.sample(spots, min(count, len(spots)))
    found = [Witness(c.id, rng.choice(c.results).id, p, rng.choice((1.0, 1.0, 0.5)), rng.choice((1.0, 0.4, 0.1))) for c, p in drawn]
    asked = [*known.intake.values(), *(c for c in known.checks.values() if c.stage == ASK)]
    for q in rng.sample(asked, min(count // 2, len(asked))):
        given = [r.id for r in rng.sample(q.results, rng.randint(1, 2) if q.many else 1)]
        found.append(Witness(q.id, given[0], also=tuple(given[1:])))
    return found


def halved(within: Space, answers: list[Witness]) -> list[Witness]:
    """The answers with every look after the most telling one of a family and place at half strength.

    Of several cavities of one plug only the most telling speaks of the suspects without a place.
    """
    known = within.knowledge

    def family(w: Witness) -> str:
        return w.check if within.asks(w.check) else known.checks[w.check].family or w.check

    def spread(w: Witness) -> float:
        if within.asks(w.check):
            return 1.0
        entry = known.checks[w.check]
        index = [r.id for r in entry.results].index(w.result)
        values = [chances_of(entry, w, (s,), within)[index] for s in within.suspects]
        return max(values) / min(values)

    found: list[Witness] = []
    for w in sorted(answers, key=lambda w: (-spread(w), w.check, w.result)):
        earlier = [f for f in found if family(f) == family(w) and f.place == w.place]
        found.append(w._replace(strength=w.strength * (SECOND_LOOK if earlier else 1.0)))
    most: dict[tuple[str, str], str] = {}  # of each family at a plug, the place that tells most
    for w in found:  # the most telling comes first
        if w.place is not None:
            most.setdefault((family(w), w.place.split(":")[0]), w.place)
    return [w if w.place is None else w._replace(further=most[family(w), w.place.split(":")[0]] != w.place) for w in found]


def both(within: Space, answers: list[Witness], rng: random.Random) -> tuple[list[float], list[float]]:
    """The posteriors of every hypothesis, ours and the network's; the pairs looked at are those of the leaders."""
    factors = np.array([rng.choice((0.25, 1.0, 1.0, 2.0)) for _ in within.suspects])
    found = rank(within, answers, factors)
    wanted = by_network(within, list(found.hypotheses), halved(within, answers), factors)
    leading = np.argsort(-found.weights[: len(within.suspects) - 1], kind="stable")[:LEADERS]
    pairs = {frozenset(h) for h in found.hypotheses if len(h) == 2}
    assert pairs == {frozenset((int(a), int(b))) for a in leading for b in leading if a != b}
    return list(found.weights), list(wanted)


@pytest.mark.parametrize("complaint", ["motion-without-steering", "reads-low"])
@pytest.mark.parametrize("seed", range(10))
def test_small_knowledge_as_a_network(complaint: str, seed: int) -> None:
    """pyAgrum 3.3.1 on the small knowledge: random answers, factors and discounts give the same posteriors."""
    rng = random.Random(seed)
    within = space(small_knowledge(), small_machine(), complaint)
    ours, network = both(within, random_answers(within, rng, rng.randint(0, 8)), rng)
    assert ours == pytest.approx(network, abs=1e-9)


@cache
def trade_knowledge() -> Knowledge:
    return load(TRADE)


@pytest.mark.parametrize("seed", range(12))
def test_trade_knowledge_as_a_network(seed: int) -> None:
    """pyAgrum 3.3.1 on the knowledge that comes with the program, on the generic layout, for a random complaint."""
    rng = random.Random(seed)
    known = trade_knowledge()
    within = space(known, generic_machine(), rng.choice(sorted(known.complaints)))
    ours, network = both(within, random_answers(within, rng, rng.randint(1, 14)), rng)
    assert ours == pytest.approx(network, abs=1e-9)


# --- Textbook examples


def test_weather_table_by_naive_bayes() -> None:
    """Witten and Frank, the 14-day weather table: sunny, cool, high, windy gives yes .2046, no .7954.

    The whole way is used: frequencies 9 and 5, likelihoods as words worth 1/5, 2/9, 1/3, 3/5 and 4/5. A second fault and
    something not on the list, which the textbook lacks, are made too unlikely to matter.
    """
    used = dict(zip(USED, (1 / 5, 2 / 9, 1 / 3, 1 / 2, 3 / 5, 4 / 5, 0.9), strict=True))
    fifth, two_ninths, third, _, three_fifths, four_fifths, _ = used
    worth = words(used, second_fault_odds=1e-15, unlisted_share=1e-15, frequency=FREQUENT)
    told = {
        "sunny": (two_ninths, three_fifths), "cool": (third, fifth), "high": (third, four_fifths), "windy": (third, three_fifths),
    }  # fmt: skip
    checks = [check(k, {"yes": {"bad": y}, "no": {"bad": n}, OTHERWISE: {"bad": third}}) for k, (y, n) in told.items()]
    within = world([cause("yes", frequency="occasional"), cause("no", frequency="rare")], checks, worth)
    found = rank(within, [Witness(k, "bad") for k in told])
    assert found.of("yes") == pytest.approx(0.005291 / (0.005291 + 0.020571), abs=2e-5)
    assert [round(found.of(c), 4) for c in ("yes", "no")] == [0.2046, 0.7954]
    assert found.of("yes") == pytest.approx((9 / 14 * 2 / 243) / (9 / 14 * 2 / 243 + 5 / 14 * 36 / 625), abs=1e-9)


def joint(quiet: list[float], leak: float, present: str) -> float:
    """P(effect) for the causes marked 1 in `present`, by combining them two at a time with the program's pair table."""
    otherwise = np.array([leak, 1 - leak])
    columns = [otherwise, *(np.array([1 - q * (1 - leak), q * (1 - leak)]) for q in quiet)]
    held = otherwise
    for column, here in zip(columns[1:], present, strict=True):
        if here == "1":
            held = pair_table(np.stack([held, column], axis=1), otherwise, 1, [0, 1])[:, 0, 1]
    return float(held[0])


@pytest.mark.parametrize(
    ("present", "fever"),
    [("000", 0.0), ("001", 0.9), ("010", 0.8), ("011", 0.98), ("100", 0.4), ("101", 0.94), ("110", 0.88), ("111", 0.988)],
)
def test_fever_by_noisy_or(present: str, fever: float) -> None:
    """Russell and Norvig: cold, flu, malaria with inhibitions .6 .2 .1.

    The program only ever joins two faults; the row of three is two joins, one after the other.
    """
    assert joint([0.6, 0.2, 0.1], 0.0, present) == pytest.approx(fever, abs=1e-12)


@pytest.mark.parametrize(("present", "chance"), [("00", 0.10), ("01", 0.46), ("10", 0.28), ("11", 0.568)])
def test_leaky_noisy_or(present: str, chance: float) -> None:
    """Leak .1, strengths .2 and .4: formula published, these values computed outside this program."""
    assert joint([0.8, 0.6], 0.1, present) == pytest.approx(chance, abs=1e-12)


@pytest.mark.parametrize(("present", "chance"), [("110", 4 / 9), ("101", 3 / 4), ("011", 4 / 5), ("111", 5 / 6)])
def test_exercise_sheet_noisy_or(present: str, chance: float) -> None:
    """Exercise sheet at cognitivescience.vercel.app: strengths 1/6, 1/3, 7/10."""
    assert joint([5 / 6, 2 / 3, 3 / 10], 0.0, present) == pytest.approx(chance, abs=1e-12)


def bayes_factor(for_cause: float, for_others: float) -> float:
    """Decibans of an answer with these two chances, by way of words that are worth them."""
    used = {**USED, "likely": for_cause, "unlikely": for_others}
    entry = check("look", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "unlikely"}})
    return decibans(world([cause("gear")], [entry], words(used)), Witness("look", "bad"), "gear")


@pytest.mark.parametrize(
    ("for_cause", "for_others", "decibel"), [(0.9, 0.09, 10.0), (0.8, 0.008, 20.0), (0.6, 0.3, 3.010), (0.12589, 0.1, 1.0)]
)
def test_weight_of_evidence(for_cause: float, for_others: float, decibel: float) -> None:
    """Bayes factors 10 and 100 are 10 and 20 dB (johndcook.com, 2008/03/11); 2 is 3.010 dB and 1.2589 is 1 dB, recomputed."""
    assert bayes_factor(for_cause, for_others) == pytest.approx(decibel, abs=5e-4)


@pytest.mark.parametrize(
    ("chance", "decibel"),
    [(0.5, 0.0), (0.6, 1.76), (0.75, 4.77), (0.8, 6.02), (0.9, 9.54), (0.95, 12.79), (0.99, 19.96), (0.999, 30.00)],
)
def test_odds_in_decibans(chance: float, decibel: float) -> None:
    """Odds p/(1-p) in decibans, recomputed outside this program: a check that is right with chance p both ways."""
    assert bayes_factor(chance, 1 - chance) == pytest.approx(decibel, abs=0.006)


@settings(max_examples=20, deadline=None)
@given(st.floats(0.1, 0.9), st.sampled_from([2.0, 5.0, 10.0]))
def test_bayes_rule_on_two_suspects(prior: float, factor: float) -> None:
    """An answer with this likelihood ratio moves the odds by exactly it, whatever the prior (Bayes' rule in odds form)."""
    used = {**USED, "likely": 0.9, "unlikely": 0.9 / factor}
    entry = check("look", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "unlikely"}})
    frequency = {**FREQUENT, "rare": prior, "common": 1 - prior}
    worth = words(used, frequency=frequency, second_fault_odds=1e-15, unlisted_share=1e-15)
    within = world([cause("gear", frequency="rare"), cause("spring", frequency="common")], [entry], worth)
    found = rank(within, [Witness("look", "bad")]).of("gear")
    assert found / (1 - found) == pytest.approx(factor * prior / (1 - prior), rel=1e-6)


# McGee, J Gen Intern Med 2002;17:647-650, table 1: the likelihood ratios; the exact gains are recomputed.
GAINS = {0.5: (16.7, 33.3, 40.9), 0.3: (16.2, 38.2, 51.1), 0.1: (8.2, 25.7, 42.6), 0.9: (4.7, 7.8, 8.9)}


@pytest.mark.parametrize("prior", GAINS)
def test_gain_of_a_likelihood_ratio(prior: float) -> None:
    """What ratios 2, 5 and 10 add to a prior in per cent, where the bedside rule says 15, 30 and 45 for every prior."""
    frequency = {**FREQUENT, "rare": prior, "common": 1 - prior}
    for factor, gain in zip((2, 5, 10), GAINS[prior], strict=True):
        used = {**USED, "likely": 0.9, "unlikely": 0.9 / factor}
        entry = check("look", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "unlikely"}})
        worth = words(used, frequency=frequency, second_fault_odds=1e-15, unlisted_share=1e-15)
        within = world([cause("gear", frequency="rare"), cause("spring", frequency="common")], [entry], worth)
        assert 100 * (rank(within, [Witness("look", "bad")]).of("gear") - prior) == pytest.approx(gain, abs=0.06)


# --- Words

ICD_203 = {
    "almost-no-chance": (1, 5), "very-unlikely": (5, 20), "unlikely": (20, 45), "roughly-even": (45, 55), "likely": (55, 80),
    "very-likely": (80, 95), "almost-certain": (95, 99),
}  # fmt: skip


@pytest.mark.parametrize("folder", [SMALL, TRADE], ids=["small", "trade"])
def test_probability_words_are_the_published_bands(folder: Path) -> None:
    """ICD 203 (2015): seven bands without gaps from 1 to 99 per cent; the value used lies inside its own band."""
    found = Words.model_validate(yaml.safe_load((folder / "words.yaml").read_text(encoding="utf-8")))
    assert {word: (band.low, band.high) for word, band in found.probability.items()} == ICD_203
    for word, band in found.probability.items():
        low, high = ICD_203[word]
        assert low < 100 * band.used < high
    assert found.source == "icd-203"


def test_not_listed_is_no_cause_of_the_knowledge() -> None:
    """The id of something not on this list is not taken by a cause."""
    assert NOT_LISTED not in small_knowledge().causes
