"""Drops, limits, verdicts, excess ohms, and the nodal solver."""

from __future__ import annotations

import json
import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.electrical.drop import (
    Load,
    allowed_drop,
    drop_report,
    drop_volts,
    excess_interval,
    node_volts,
    probability_over,
    sound_ohms,
    verdict_of,
)

SERIES = st.floats(0, 50)
SUPPLY = st.floats(5, 30)


@given(SUPPLY, SERIES, st.floats(0.5, 100))
def test_ohms_come_back_from_the_readings_of_a_resistive_load(supply: float, series: float, ohms: float) -> None:
    """The series resistance that made the drop is found again from reference and loaded reading."""
    load = Load(ohms=ohms)
    loaded = supply - load.drop(supply, series)
    assert load.series_ohms(supply, loaded) == pytest.approx(series, rel=1e-6, abs=1e-9)


@given(SUPPLY, st.floats(0, 0.4), st.floats(0.1, 10))
def test_ohms_come_back_from_the_readings_of_a_steady_current(supply: float, series: float, amps: float) -> None:
    """With a load that holds its current the drop is ohms times amperes."""
    load = Load(amps=amps)
    assert load.drop(supply, series) == pytest.approx(min(series * amps, supply))
    if series * amps < supply:
        assert load.series_ohms(supply, supply - load.drop(supply, series)) == pytest.approx(series, rel=1e-6, abs=1e-9)


@given(SUPPLY, SERIES, SERIES)
def test_more_resistance_never_drops_less(supply: float, one: float, two: float) -> None:
    """The drop grows with the series resistance and never passes the supply."""
    load = Load(ohms=4.7)
    low, high = sorted((one, two))
    assert load.drop(supply, low) <= load.drop(supply, high) < supply


@pytest.mark.parametrize("given_load", [{}, {"ohms": 5.0, "amps": 2.0}, {"ohms": 0.0}, {"amps": -1.0}])
def test_a_load_is_ohms_or_amperes(given_load: dict[str, float]) -> None:
    """Neither, both, or nothing at all is no load."""
    with pytest.raises(ValueError, match="load"):
        Load(**given_load)


def test_nothing_at_the_load_means_no_end_of_ohms() -> None:
    """An open circuit has infinite series resistance, and exports as null."""
    report = drop_report(11.63, 0.0, load=Load(ohms=6.0))
    assert report.excess_ohms == math.inf
    assert json.loads(json.dumps(report.as_json()))["excess_ohms"] is None
    assert report.verdict == "over"


def test_binary_fractions_do_not_push_a_reading_over_its_limit() -> None:
    """12.3 - 11.7 is 0.6 for a limit of three sections, whatever binary fractions make of it."""
    assert drop_volts(12.3, 11.7) == 0.6
    assert allowed_drop(3) == 0.6
    assert drop_report(12.3, 11.7, sections=3).verdict == "within"


@given(st.floats(-1, 3), st.floats(0.05, 2), st.floats(0.001, 0.5))
def test_verdicts_follow_the_chance(drop: float, limit: float, uncertainty: float) -> None:
    """Over only when 95 % sure, within only up to the limit, and a higher drop is never judged milder."""
    chance, verdict = probability_over(drop, limit, uncertainty), verdict_of(drop, limit, uncertainty)
    assert 0 <= chance <= 1
    assert (verdict == "over") == (chance >= 0.95)
    if verdict == "within":
        assert chance <= 0.5 + 1e-6
    order = ("within", "unsure", "over")
    assert order.index(verdict) <= order.index(verdict_of(drop + 0.05, limit, uncertainty))


def test_without_uncertainty_the_chance_is_yes_or_no() -> None:
    """A perfect meter leaves no doubt."""
    assert [probability_over(d, 0.3, 0.0) for d in (0.29, 0.31)] == [0.0, 1.0]


def test_a_sound_run_has_a_band() -> None:
    """Least, usual and greatest resistance rise, and hot copper has more of it."""
    low, usual, high = sound_ohms([(1.5, 4.0), (1.0, 2.0)], 3)
    assert 0 < low < usual < high
    assert sound_ohms([(1.5, 4.0)], 0, 80.0)[1] == pytest.approx(sound_ohms([(1.5, 4.0)], 0)[1] * 1.2358)


def test_the_report_counts_what_is_beyond_a_sound_run() -> None:
    """Excess is what a fault added, within its interval, when the rest of the run is as the wire's size says."""
    load, fault = Load(ohms=6.0), 0.31
    sound = sound_ohms([(1.5, 4.0)], 4)[1]
    loaded = 12.11 - load.drop(12.11, sound + fault)
    report = drop_report(12.11, loaded, sections=2, load=load, mm2=1.5, metres=4.0)
    assert report.expected_volts == pytest.approx(load.drop(12.11, sound))
    assert report.excess_ohms == pytest.approx(fault)
    assert report.excess_low is not None
    assert report.excess_high is not None
    assert report.excess_low < fault < report.excess_high
    assert report.limit_volts == 0.4
    assert report.amps == pytest.approx(loaded / 6.0)


def test_the_interval_takes_in_the_meter_and_the_band_of_the_wire() -> None:
    """Low end: least series ohms the meter allows on the worst sound wire; high end: the other way round."""
    best, low, high = excess_interval(12.0, 10.8, Load(ohms=5.4), (0.1, 0.2, 0.25), 0.06)
    assert best == pytest.approx(5.4 * 12.0 / 10.8 - 5.4 - 0.2)
    assert low == pytest.approx(5.4 * 12.0 / 10.92 - 5.4 - 0.25)
    assert high == pytest.approx(5.4 * 12.0 / 10.68 - 5.4 - 0.1)


@pytest.mark.parametrize(("deviations", "verdict"), [(-3.0, "within"), (0.0, "within"), (1.6, "unsure"), (1.7, "over")])
def test_a_run_is_over_from_1_645_deviations(deviations: float, verdict: str) -> None:
    """That is where the chance reaches 95 %."""
    assert verdict_of(0.3 + deviations * 0.05, 0.3, 0.05) == verdict


def test_a_report_without_a_load_has_no_ohms() -> None:
    """Drop, limit and verdict need two voltages only; ohms need the load and stay empty without it."""
    report = drop_report(11.93, 11.66, sections=1)
    assert (report.excess_ohms, report.expected_volts, report.amps) == (None, None, None)
    assert report.verdict == "over"
    assert set(report.as_json()) >= {"drop_volts", "limit_volts", "expected_volts", "probability_over", "verdict"}


def test_a_machines_own_limit_replaces_the_rule() -> None:
    """A figure that is given is used instead of so much for each section."""
    assert drop_report(11.93, 11.66, sections=1, limit_volts=0.35).verdict == "within"


@pytest.mark.parametrize(
    ("reference", "loaded", "more"),
    [
        (11.5, 12.1, {}),
        (-11.5, -12.0, {}),
        (0.0, 0.0, {}),
        (math.nan, 11.0, {}),
        (12.0, math.inf, {}),
        (12.0, 11.9, {"sections": 0}),
        (12.0, 11.9, {"metres": -2.0}),
        (12.0, 11.9, {"mm2": 0.0}),
    ],
)
def test_numbers_that_cannot_be_are_refused(reference: float, loaded: float, more: dict[str, float]) -> None:
    """Swapped, negative, absent or endless numbers give no report."""
    with pytest.raises(ValueError, match=r"reading|reference|section"):
        drop_report(reference, loaded, **more)  # type: ignore[arg-type]


@settings(max_examples=40)
@given(st.integers(0, 10_000))
def test_the_solver_loses_no_current(seed: int) -> None:
    """In a random tree of resistors with a load at each leaf, currents add to zero at every node."""
    rng = random.Random(seed)
    resistors = [(f"n{rng.randrange(i)}" if i else "in", f"n{i}", rng.uniform(0.01, 5)) for i in range(8)]
    resistors += [(f"n{i}", "0", rng.uniform(1, 50)) for i in range(8)]
    volts = node_volts(resistors, {"in": 24.0})
    for node in (f"n{i}" for i in range(8)):
        net = sum((volts[a] - volts[b]) / r * (1 if node == a else -1) for a, b, r in resistors if node in (a, b))
        assert net == pytest.approx(0, abs=1e-9)
        assert 0 <= volts[node] <= 24


def test_two_sources_share_a_load() -> None:
    """Superposition: equal resistors from two sources give the mean of both and of ground."""
    volts = node_volts([("a", "m", 2.0), ("b", "m", 2.0), ("m", "0", 2.0)], {"a": 12.0, "b": 6.0})
    assert volts["m"] == pytest.approx(6.0)


def test_a_loose_node_is_named() -> None:
    """Resistors that hang on nothing have no voltage."""
    with pytest.raises(ValueError, match="loose"):
        node_volts([("a", "0", 1.0), ("x", "y", 1.0)], {"a": 5.0})


def test_a_resistor_without_resistance_is_refused() -> None:
    """Zero ohm would join two nodes and cannot be divided by."""
    with pytest.raises(ValueError, match="greater than 0"):
        node_volts([("a", "0", 0.0)], {"a": 5.0})


def test_a_shared_feed_pulls_both_branches_down() -> None:
    """Resistance in what two branches share lowers both, resistance in one branch lowers only that one."""

    def branches(shared: float, own: float) -> tuple[float, float]:
        volts = node_volts(
            [("in", "join", shared), ("join", "a", own), ("join", "b", 0.05), ("a", "0", 6.0), ("b", "0", 6.0)],
            {"in": 12.0},
        )
        return volts["a"], volts["b"]

    sound, shared, own = branches(0.05, 0.05), branches(0.45, 0.05), branches(0.05, 0.45)
    assert shared[0] < sound[0] - 0.5
    assert shared[1] < sound[1] - 0.5
    assert own[0] < sound[0] - 0.5
    assert own[1] == pytest.approx(sound[1], abs=0.02)
