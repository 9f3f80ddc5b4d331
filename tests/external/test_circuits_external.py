"""Loaded circuits and the nodal solver against published circuits and against lcapy's exact solutions."""

from __future__ import annotations

import random
import warnings
from fractions import Fraction

import pytest

from advisor.electrical.drop import Load, drop_volts, node_volts, verdict_of
from advisor.electrical.meter import Meter

Resistor = tuple[str, str, Fraction]

LADDER: list[Resistor] = [
    ("1", "2", Fraction(5, 100)),
    ("2", "3", Fraction(40, 100)),
    ("3", "4", Fraction(12)),
    ("4", "0", Fraction(3, 100)),
]


def solved_by_lcapy(resistors: list[Resistor], volts: Fraction) -> dict[str, float]:
    """Node voltages from lcapy, which solves with exact fractions."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own dependencies' deprecations
        from lcapy import Circuit

        lines = [f"V1 1 0 {{{volts}}}"] + [f"R{i} {a} {b} {{{r}}}" for i, (a, b, r) in enumerate(resistors, 1)]
        circuit = Circuit("\n".join(lines))
        nodes = {n for a, b, _ in resistors for n in (a, b)} - {"0"}
        return {n: float(circuit[n].V.dc.evaluate()) for n in nodes}


def solved_here(resistors: list[Resistor], volts: Fraction) -> dict[str, float]:
    found = node_volts([(a, b, float(r)) for a, b, r in resistors], {"1": float(volts)})
    return {n: v for n, v in found.items() if n != "0"}


def test_a_ladder_of_wire_splice_load_and_ground() -> None:
    """24 V over 0.05, 0.40, 12 and 0.03 ohm: 25/13 A. Solved alike by lcapy, ngspice and scipy before."""
    found = solved_here(LADDER, Fraction(24))
    assert found["1"] - found["2"] == pytest.approx(25 / 13 * 0.05, abs=1e-12)
    assert [found[n] for n in "234"] == pytest.approx([23.903846, 23.134615, 0.0576923], abs=1e-6)


def test_the_ladder_agrees_with_lcapy() -> None:
    """Every node to 1e-9 V."""
    expected = solved_by_lcapy(LADDER, Fraction(24))
    found = solved_here(LADDER, Fraction(24))
    assert found.keys() == expected.keys()
    assert all(found[n] == pytest.approx(expected[n], abs=1e-9) for n in expected)


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_trees_of_shared_feeds_agree_with_lcapy(seed: int) -> None:
    """Random trees of feed resistance with a load at each end, solved exactly by lcapy: every node to 1e-9 V."""
    rng = random.Random(seed)
    tree: list[Resistor] = []
    for node in range(2, 6):
        tree.append((str(rng.randint(1, node - 1)), str(node), Fraction(rng.randint(1, 500), 1000)))
        tree.append((str(node), "0", Fraction(rng.randint(20, 600), 10)))
    expected, found = solved_by_lcapy(tree, Fraction(123, 10)), solved_here(tree, Fraction(123, 10))
    assert found.keys() == expected.keys()
    assert all(found[n] == pytest.approx(expected[n], abs=1e-9) for n in expected)


def test_a_series_parallel_exercise() -> None:
    """21 V, 5 ohm in series with 35 and 14 ohm side by side: 1.4 A, of which 0.400 A in the 35 ohm (public quiz set)."""
    volts = node_volts([("s", "m", 5.0), ("m", "0", 35.0), ("m", "0", 14.0)], {"s": 21.0})
    assert (21 - volts["m"]) / 5 == pytest.approx(1.4)
    assert volts["m"] / 35 == pytest.approx(0.4)


def test_an_aged_circuit_carries_less() -> None:
    """12 V and 6 ohm make 2 A; aged to 8 ohm, 1.5 A: TM 9-8000 par. 11 (US Army)."""
    load = Load(ohms=6.0)
    loaded = 12 - load.drop(12.0, 2.0)
    assert load.current(loaded) == pytest.approx(1.5)
    assert load.series_ohms(12.0, loaded) == pytest.approx(2.0)


@pytest.mark.parametrize(("load_ohms", "drop"), [(10e6, 1.2e-6), (1000, 0.01199), (100, 0.1194), (12, 0.9600), (2.4, 4.138)])
def test_half_an_ohm_hides_from_a_meter_and_shows_under_load(load_ohms: float, drop: float) -> None:
    """The same joint in a 24 V circuit: 1.2 microvolt to a meter alone, 4.1 V under 2.4 ohm (recomputed with scipy)."""
    found = Load(ohms=load_ohms).drop(24.0, 0.5)
    assert found == pytest.approx(drop, rel=1e-3)
    nodes = node_volts([("s", "joint", 0.5), ("joint", "0", load_ohms)], {"s": 24.0})
    assert 24.0 - nodes["joint"] == pytest.approx(found, rel=1e-6, abs=1e-12)


def test_a_meter_alone_judges_the_bad_joint_sound() -> None:
    """What the meter shows over its own 10 Mohm is within any limit, what it shows under load is over it."""
    for load_ohms, verdict in ((10e6, "within"), (12.0, "over")):
        loaded = round(24.0 - Load(ohms=load_ohms).drop(24.0, 0.5), 2)
        drop = drop_volts(24.0, loaded)
        assert verdict_of(drop, 0.3, Meter().drop_uncertainty(24.0, loaded)) == verdict
