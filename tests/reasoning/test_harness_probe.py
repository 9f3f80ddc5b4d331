"""What the next reading would say, and which one to take."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from probing import bits_left, next_reading

from advisor.electrical.drop import Load, verdict_of
from advisor.electrical.meter import Meter
from advisor.model.case import Reading
from advisor.model.machine import Element, LoadTest, Machine, Section
from advisor.reasoning.harness import evidence, predict
from advisor.reasoning.readings import limit_of
from advisor.reasoning.runs import VERDICTS

LOAD = 4.4
REFERENCE = 12.13


def chain(stages: int) -> Machine:
    """One circuit of equal wires, with a point to reach it at between any two."""
    path = [Element(terminal="p0:1")]
    for i in range(stages):
        path += [Element(wire=f"w{i}", mm2=1.0, metres=1.3), Element(terminal=f"p{i + 1}:1")]
    return Machine(
        points=tuple(f"p{i}" for i in range(stages + 1)),
        load_test=LoadTest(load_ohms=LOAD),
        circuits={"line": tuple(path)},
    )


def reading(section: Section, drop: float) -> Reading:
    return Reading(circuit=section.circuit, start=section.start, end=section.end, reference=REFERENCE, loaded=REFERENCE - drop)


def tree() -> Machine:
    """Two circuits from one trunk and one on its own, over three points."""

    def path(name: str, *head: Element) -> tuple[Element, ...]:
        wire = {"mm2": 1.0, "metres": 1.4}
        return (
            *(head or (Element(terminal=f"base:{name}"),)),
            Element(wire=f"{name}-one", **wire),
            Element(terminal=f"boom:{name}"),
            Element(wire=f"{name}-two", **wire),
            Element(terminal=f"tip:{name}"),
        )

    trunk = (Element(terminal="base:t"), Element(wire="trunk", mm2=1.0, metres=0.6), Element(splice="fork"))
    return Machine(
        points=("base", "boom", "tip"),
        load_test=LoadTest(load_ohms=LOAD),
        circuits={"a": path("a", *trunk), "b": path("b", *trunk), "c": path("c")},
    )


TREE = tree()
SECTIONS = tuple(TREE.sections())


@settings(max_examples=25)
@given(st.lists(st.tuples(st.sampled_from(SECTIONS), st.floats(0.05, 11.5)), max_size=6))
def test_the_chances_of_the_verdicts_add_up(taken: list[tuple[Section, float]]) -> None:
    """For every candidate and every hypothesis they are chances and their sum is one."""
    found = predict(TREE, [reading(s, d) for s, d in taken], SECTIONS)
    assert found.shape == (len(SECTIONS), len(VERDICTS), 1 + len(TREE.elements))
    assert np.allclose(found.sum(axis=1), 1, atol=1e-9)
    assert found.min() > -1e-9


@pytest.mark.parametrize("again", [False, True])
def test_what_is_predicted_is_what_the_likelihoods_say(again: bool) -> None:
    """The chance of a verdict is the sum of the likelihood over all drops that are so judged.

    Also for a run that was read before. What remains is the share of readings that are simply wrong, and the grids.
    """
    before = [reading(SECTIONS[0], 0.43), reading(SECTIONS[1], 0.17)]  # near the limit, where every share counts
    candidate = SECTIONS[0] if again else SECTIONS[2]
    found = predict(TREE, before, [candidate])[0]
    base = evidence(TREE, before)
    drops = np.concatenate([np.arange(0.0013, 0.8, 0.004), np.geomspace(0.8, 12, 50)])
    expected = np.zeros_like(found)
    for drop, width in zip(drops.tolist(), np.gradient(drops), strict=True):
        after = evidence(TREE, [*before, reading(candidate, drop)])
        density = np.exp(np.append(after.healthy, after.single) - np.append(base.healthy, base.single))
        uncertainty = Meter().drop_uncertainty(REFERENCE, REFERENCE - drop)
        verdict = verdict_of(drop, limit_of(TREE, candidate, Load(ohms=LOAD), REFERENCE), uncertainty)
        expected[VERDICTS.index(verdict)] += density * width
    assert np.abs(found - expected).max() < 0.04


def test_a_bad_element_raises_the_chance_of_over_only_where_it_lies() -> None:
    """Candidates that do not hold it are predicted as if nothing were wrong with them."""
    found = predict(TREE, [], SECTIONS)
    at = 1 + list(TREE.elements).index("b-two")
    for section, chances in zip(SECTIONS, found, strict=True):
        over = chances[VERDICTS.index("over")]
        assert (over[at] > over[0] + 0.2) == ("b-two" in section.elements)


def test_a_run_that_read_high_is_expected_to_read_high_again() -> None:
    """Its readings so far are used, and the chance that the fault is away at the next is not forgotten."""
    before = [reading(SECTIONS[0], 1.94)]
    chances = predict(TREE, before, [SECTIONS[0]])[0]
    at = 1 + list(TREE.elements).index("fork")
    assert chances[VERDICTS.index("over"), at] == pytest.approx(0.7, abs=0.03)
    steady = predict(TREE, before, [SECTIONS[0]], chance_good_when_bad=0.0)[0]
    assert steady[VERDICTS.index("over"), at] > 0.99


def test_after_a_high_run_the_other_branch_is_worth_reading() -> None:
    """With one branch of the feed high, the next reading is one that tells shared from own, not the sound circuit."""
    section, saved = next_reading(TREE, [reading(SECTIONS[0], 0.93)], SECTIONS)
    assert SECTIONS[0].circuit == "a"
    assert section.circuit in {"a", "b"}
    assert section != SECTIONS[0]
    assert saved > 10


def test_priors_move_the_probe() -> None:
    """When knowledge says that only one circuit is in question, the reading is taken there."""
    priors = np.array([1.0 if e.name.startswith("c-") or e.name.endswith(":c") else 1e-6 for e in TREE.elements.values()])
    assert next_reading(TREE, [], SECTIONS, priors)[0].circuit == "c"


def test_a_better_meter_makes_a_reading_worth_more() -> None:
    """Near the limit, what a reading is worth depends on the meter."""
    before = reading(SECTIONS[0], 0.53)
    fine, coarse = (
        next_reading(TREE, [before.model_copy(update={"meter": text})], SECTIONS)[1] for text in ("0.1%+1@1mV", "2%+5@0.1V")
    )
    assert fine > coarse > 0


@pytest.mark.parametrize(("stages", "mean"), [(4, 2.0), (8, 3.0), (9, 29 / 9)])
def test_on_a_chain_known_to_be_bad_the_probes_halve_it(stages: int, mean: float) -> None:
    """With meter, limits and unknown resistance, the advised readings find the bad wire in as many as half-split."""
    machine = chain(stages)
    sections = list(machine.sections())
    wires = np.array([float(e.kind == "wire") for e in machine.elements.values()])

    def read(section: Section, bad: int) -> Reading:
        ohms = 0.0235 * section.joints + (3.1 if f"w{bad}" in section.elements else 0.0)
        return reading(section, round(REFERENCE * ohms / (LOAD + ohms), 2))

    counts = []
    for bad in range(stages):
        readings = [read(sections[0], bad)]
        while True:
            single = evidence(machine, readings, 1e-6).single
            weights = wires * np.exp(single - single.max())
            if weights.max() > 0.6 * weights.sum():
                break
            readings.append(read(next_reading(machine, readings, sections, wires, 1e-6)[0], bad))
        assert list(machine.elements)[int(np.argmax(weights))] == f"w{bad}"
        counts.append(len(readings) - 1)
    assert float(np.mean(counts)) == pytest.approx(mean)


def test_a_perfect_check_leaves_what_it_cannot_tell_apart() -> None:
    """A check of one of four equal stages leaves three quarters of log2 3 bits, a useless one leaves both bits."""
    bad = np.array([[1.0, 0, 0, 0], [1, 1, 1, 1]])
    left = bits_left(np.ones(4), np.stack([bad, 1 - bad], axis=1))
    assert left == pytest.approx([0.75 * np.log2(3), 2.0])


@given(st.lists(st.floats(0.01, 10), min_size=2, max_size=12), st.floats(0.1, 100))
def test_only_the_ratio_of_weights_matters(weights: list[float], factor: float) -> None:
    """Scaling all weights does not move the entropy left."""
    bad = np.tri(len(weights))[:-1]
    chances = np.stack([bad, 1 - bad], axis=1)
    assert np.allclose(bits_left(np.array(weights), chances), bits_left(np.array(weights) * factor, chances))
