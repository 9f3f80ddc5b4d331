"""Where in the harness: likelihood of readings for no, one and two bad elements."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from probing import shares

from advisor.model.case import Reading
from advisor.model.machine import Element, LoadTest, Machine
from advisor.reasoning import runs
from advisor.reasoning.harness import evidence

LOAD = 4.0


def path(name: str, trunk: str | None = None, sized: bool = True) -> tuple[Element, ...]:
    """A circuit over hub, hinge and pickup; with a trunk, hub terminal, trunk wire and joint are the trunk's."""
    size = {"mm2": 1.0, "metres": 1.6} if sized else {}
    head = [Element(terminal=f"hub:{trunk or name}")]
    if trunk:
        head += [Element(wire=f"{trunk}-trunk", **size), Element(splice=f"{trunk}-joint")]
    return (
        *head,
        Element(wire=f"{name}-near", **size),
        Element(terminal=f"hinge:{name}"),
        Element(wire=f"{name}-far", **size),
        Element(terminal=f"pickup:{name}"),
    )


def layout(sized: bool = True) -> Machine:
    return Machine(
        points=("hub", "hinge", "pickup"),
        load_test=LoadTest(load_ohms=LOAD),
        circuits={
            "p1": path("p1", "p", sized),
            "p2": path("p2", "p", sized),
            **{name: path(name, None, sized) for name in ("s1", "s2", "g1", "g2")},
        },
    )


MACHINE = layout()
SHARED = {"hub:p", "p-trunk", "p-joint"}
RUNS = [(s.circuit, s.start, s.end) for s in MACHINE.sections()]


def reading(circuit: str, drop: float, start: str = "hub", end: str = "pickup") -> Reading:
    return Reading(circuit=circuit, start=start, end=end, reference=12.07, loaded=round(12.07 - drop, 2))


def by_name(machine: Machine, readings: list[Reading]) -> dict[str, float]:
    found = evidence(machine, readings)
    return dict(zip(found.elements, shares(found), strict=True))


@pytest.mark.parametrize("sized", [True, False])
def test_two_branches_of_one_feed_high_put_the_weight_on_what_they_share(sized: bool) -> None:
    """No rule says so: the shared part alone explains both high readings."""
    readings = [reading("p1", 0.77), reading("p2", 0.79)] + [reading(c, 0.29) for c in ("s1", "s2", "g1", "g2")]
    found = by_name(layout(sized), readings)
    assert sum(found[e] for e in SHARED) > 0.9


def test_one_branch_high_puts_the_weight_on_what_it_does_not_share() -> None:
    """The other branch of the feed is sound, so the shared part most likely is."""
    readings = [reading("p1", 0.77), reading("p2", 0.29)] + [reading(c, 0.29) for c in ("s1", "s2", "g1", "g2")]
    found = by_name(MACHINE, readings)
    own = {"p1-near", "hinge:p1", "p1-far", "pickup:p1"}
    assert sum(found[e] for e in own) > 0.75
    assert 0.01 < sum(found[e] for e in SHARED) < 0.25  # not cleared: a fault that comes and goes may have been away


def test_two_single_circuits_high_are_two_faults() -> None:
    """Nothing is shared, so the pairs of the two circuits carry the weight, and neither is forgotten."""
    readings = [reading("s1", 0.91), reading("g1", 1.33)] + [reading(c, 0.29) for c in ("p1", "p2", "s2", "g2")]
    readings *= 3
    found = by_name(MACHINE, readings)
    assert min(sum(v for e, v in found.items() if c in e) for c in ("s1", "g1")) > 0.9


def test_all_circuits_high_alike_accuse_no_element() -> None:
    """Poor leads lift every reading, so the same two high branches say little once all other circuits are high too."""

    def raised(others: float) -> float:
        readings = [reading("p1", 0.81), reading("p2", 0.81)]
        found = evidence(MACHINE, readings + [reading(c, others) for c in ("s1", "s2", "g1", "g2")])
        return float(found.single.max()) - found.healthy

    assert raised(0.81) < math.log(6)
    assert raised(0.29) > math.log(200)


def test_sound_readings_clear_what_they_cover_but_not_for_good() -> None:
    """Each more sound reading of a run lowers its elements; none ever rules them out."""
    weights = []
    for count in range(1, 6):
        found = evidence(MACHINE, [reading("s1", 0.27)] * count)
        weights.append(found.single[found.elements.index("s1-near")] - found.healthy)
    assert all(later < earlier for earlier, later in itertools.pairwise(weights))
    assert weights[-1] > math.log(1e-3)


def test_no_reading_says_nothing() -> None:
    """Without readings every hypothesis is as likely as any other."""
    found = evidence(MACHINE, [])
    assert found.healthy == pytest.approx(0, abs=1e-12)
    assert np.allclose(found.single, 0)
    assert np.allclose(found.pair, 0)
    assert np.allclose(shares(found), shares(found)[0])


def test_elements_no_reading_covers_keep_their_weight() -> None:
    """A fault elsewhere leaves the readings as they are when nothing is wrong."""
    found = evidence(MACHINE, [reading("s1", 0.3), reading("s1", 0.9)])
    assert found.single[found.elements.index("g2-far")] == pytest.approx(found.healthy)


def test_a_run_that_is_not_there_is_a_mistake_of_the_caller() -> None:
    """Readings are to be refused before they are weighed."""
    with pytest.raises(ValueError, match="no run"):
        evidence(MACHINE, [reading("s1", 0.3, "hub", "roof")])


READINGS = st.lists(
    st.builds(lambda run, drop: reading(run[0], drop, run[1], run[2]), st.sampled_from(RUNS), st.floats(0.02, 11.9)),
    min_size=1,
    max_size=7,
)


@settings(max_examples=25)
@given(READINGS, st.randoms(use_true_random=False))
def test_the_order_of_readings_does_not_matter(readings: list[Reading], rng: object) -> None:
    """The same readings in any order give the same weights."""
    mixed = list(readings)
    rng.shuffle(mixed)  # type: ignore[attr-defined]
    one, other = evidence(MACHINE, readings), evidence(MACHINE, mixed)
    assert other.healthy == pytest.approx(one.healthy, abs=1e-9)
    assert np.allclose(one.single, other.single, atol=1e-8)
    assert np.allclose(one.pair, other.pair, atol=1e-8)


@settings(max_examples=25)
@given(READINGS)
def test_pairs_are_symmetric_and_meet_singles_on_the_diagonal(readings: list[Reading]) -> None:
    """Two faults at one element are one fault, and e with f is f with e; shares are shares."""
    found = evidence(MACHINE, readings)
    assert np.array_equal(found.pair, found.pair.T)
    assert np.array_equal(np.diag(found.pair), found.single)
    assert np.isfinite(found.pair).all()
    part = shares(found)
    assert (part >= 0).all()
    assert 1 <= part.sum() <= 2 + 1e-9


def plain_likelihood(readings: list[Reading], bad: tuple[str, ...]) -> float:
    """Likelihood of single readings of different runs by plain loops over level, ohms and which of them look good."""
    total, good, steps = 0.0, 0.3, runs.OHMS
    groups = [runs.read_groups(MACHINE, [r], good)[0] for r in readings]
    for at, level_weight in enumerate(runs.LEVEL_WEIGHTS):
        for ohms in itertools.product(steps, repeat=len(bad)):
            product = level_weight / len(steps) ** len(bad)
            for r, group in zip(readings, groups, strict=True):
                sound = group.run.sound()[at]
                inside = [o for name, o in zip(bad, ohms, strict=True) if name in group.run.section.elements]
                density = 0.0
                for seen in itertools.product((True, False), repeat=len(inside)):
                    chance = math.prod(1 - good if s else good for s in seen)
                    excess = sum(o for o, s in zip(inside, seen, strict=True) if s)
                    series = LOAD * sound / (r.reference - sound) + excess
                    mean = r.reference * series / (LOAD + series)
                    spread = math.sqrt(group.uncertainties[0] ** 2 + (0.12 * sound) ** 2 + (0.25 * (mean - sound)) ** 2)
                    z = (group.drops[0] - mean) / spread
                    normal = math.exp(-z * z / 2) / (spread * math.sqrt(2 * math.pi))
                    density += chance * (0.995 * normal + 0.005 / r.reference)
                product *= density
            total += product
    return total


@pytest.mark.parametrize("bad", [(), ("p-joint",), ("p-joint", "p1-far"), ("p1-near", "p2-near"), ("p-joint", "hub:p")])
def test_the_arrays_say_what_plain_loops_say(bad: tuple[str, ...]) -> None:
    """Kinds, common runs and grids are only a faster way to the sum over all that may have been."""
    readings = [reading("p1", 0.9), reading("p2", 0.5, "hub", "hinge"), reading("s1", 0.3)]
    found = evidence(MACHINE, readings)
    at = [found.elements.index(e) for e in bad]
    value = found.healthy if not at else found.single[at[0]] if len(at) == 1 else found.pair[at[0], at[1]]
    assert value == pytest.approx(math.log(plain_likelihood(readings, bad)), abs=1e-9)


def test_repeated_readings_of_one_run_share_its_scatter() -> None:
    """Two readings of a run are weighed together at each place of the run's own scatter, not as two runs."""
    readings = [reading("s1", 0.43), reading("s1", 0.45)]
    group = runs.read_groups(MACHINE, readings, 0.3)[0]
    total = 0.0
    for level_weight, sound in zip(runs.LEVEL_WEIGHTS, group.run.sound(), strict=True):
        for node_weight, node in zip(runs.NODE_WEIGHTS, runs.NODES, strict=True):
            product = level_weight * node_weight
            for drop, spread in zip(group.drops, group.uncertainties, strict=True):
                z = (drop - sound * (1 + 0.12 * node)) / spread
                normal = math.exp(-z * z / 2) / (spread * math.sqrt(2 * math.pi))
                product *= 0.995 * normal + 0.005 / 12.07
            total += product
    assert evidence(MACHINE, readings).healthy == pytest.approx(math.log(total), abs=1e-9)


def test_the_odds_of_a_second_fault_weigh_the_pairs() -> None:
    """Without a second fault the shares are those of the single ones; with better odds, pairs hold more."""
    found = evidence(MACHINE, [reading("s1", 0.91), reading("g1", 1.33)])
    single = np.exp(found.single - found.single.max())
    assert np.allclose(shares(found, second_fault_odds=0.0), single / single.sum())
    sums = [shares(found, odds).sum() for odds in (0.01, 0.05, 0.2)]
    assert 1 < sums[0] < sums[1] < sums[2] < 2


def test_priors_weigh_the_elements() -> None:
    """Where readings cannot tell two elements apart, their shares are as their priors."""
    found = evidence(MACHINE, [reading("s1", 0.91)])
    at = [found.elements.index(e) for e in ("s1-near", "hinge:s1")]
    priors = np.ones(len(found.elements))
    priors[at[1]] = 3.0
    part = shares(found, 0.0, priors)
    assert part[at[1]] == pytest.approx(3 * part[at[0]])
