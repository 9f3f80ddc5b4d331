"""Run lengths and bounds against published values, scipy and a small simulation.

Where a row's inputs are published and its result is not printed in the source, the test says "recomputed"; such a
result was computed with scipy, independently of this program.
"""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest
from scipy import integrate, stats

from advisor.cli import run
from advisor.reasoning.proof import (
    advise_run,
    confidence_for_cure,
    cured_probability,
    hours_needed,
    hours_needed_known_rate,
    quiet_probability,
    quiet_probability_known_rate,
    run_multiple,
    shown_confidence,
    upper_bound,
)


@pytest.mark.parametrize(
    ("tries", "exact", "short"),
    [(14, 0.1926, 0.2143), (112, 0.02639, 0.02679), (167, 0.01778, 0.01796)],
)
def test_no_event_in_so_many(tries: int, exact: float, short: float) -> None:
    """Hanley and Lippman-Hand, JAMA 1983;249:1743: the cases of the paper, results recomputed."""
    assert upper_bound(tries) == pytest.approx(exact, rel=5e-4)
    assert 3 / tries == pytest.approx(short, rel=5e-4)
    assert upper_bound(tries) < 3 / tries


def test_letter_on_zero_numerators() -> None:
    """JAMA 1995;274:1013: 0 of 50 leaves 6 %, 0 of 1000 leaves 0.3 %; beside them the recomputed exact bounds."""
    assert upper_bound(50) == pytest.approx(0.06, abs=0.005)
    assert upper_bound(1000) == pytest.approx(0.003, abs=0.00005)
    assert upper_bound(50) == pytest.approx(0.05816, rel=1e-4)
    assert upper_bound(1000) == pytest.approx(0.002991, rel=3e-4)


def test_no_event_in_fifteen_hundred() -> None:
    """Rule-of-three article at tickerdossier: 0 in 1500 leaves less than 1 in 500."""
    assert upper_bound(1500) < 1 / 500
    assert upper_bound(1500) == pytest.approx(1 / 500, rel=3e-3)


@pytest.mark.parametrize(("confidence", "published"), [(0.97, 3.51), (0.99, 4.61), (0.995, 5.30)])
def test_numerators_for_other_confidences(confidence: float, published: float) -> None:
    """Rule-of-three article at tickerdossier: the numerators for 97, 99 and 99.5 %."""
    assert run_multiple(confidence) == pytest.approx(published, abs=0.0051)


def test_mean_time_from_one_failure() -> None:
    """8760 hours, one failure, 60 % lower bound (inputs from a reliability calculator's text): 4332 h, recomputed."""
    assert 8760 / run_multiple(0.60, 1) == pytest.approx(4332, abs=0.5)


def test_bounds_on_a_failure_ended_test() -> None:
    """RIAC sheet 214: 45 failures in 4496.75 hours, 95 % two-sided (inputs published): 76.13 to 137.0, recomputed.

    A test that ends with a failure has 2 n degrees of freedom, one recurrence less than one that ends at a fixed time.
    """
    assert 4496.75 / run_multiple(0.975, 44) == pytest.approx(76.13, abs=0.006)
    assert 4496.75 / run_multiple(0.025, 44) == pytest.approx(137.0, abs=0.06)


def test_confidence_after_a_quiet_test() -> None:
    """Package mcotear, exp_rel_conf: 500 quiet hours show a mean time of 250 h with 0.86466 (recomputed)."""
    assert shown_confidence(500 / 250) == pytest.approx(0.86466, abs=5e-6)
    assert 1 - quiet_probability_known_rate(1, 250.0, 500.0) == pytest.approx(0.86466, abs=5e-6)


def test_length_of_a_quiet_test() -> None:
    """Package mcotear, exp_oc: 804.719 quiet hours show a mean time of 500 h with 80 %."""
    assert 500 * run_multiple(0.80) == pytest.approx(804.719, abs=5e-4)
    assert hours_needed_known_rate(1, 500.0, 0.80) == pytest.approx(804.719, abs=5e-4)


@pytest.mark.parametrize(("recurrences", "length"), [(0, 366.95), (1, 682.70), (2, 975.62)])
def test_length_with_recurrences(recurrences: int, length: float) -> None:
    """Package mcotear: mean time 228 h with 80 % and 0, 1, 2 failures (inputs published, hours recomputed)."""
    assert 228 * run_multiple(0.80, recurrences) == pytest.approx(length, abs=0.006)


@pytest.mark.parametrize(
    ("recurrences", "multiples"),
    [
        (0, (0.693, 0.916, 1.386, 1.609, 2.303, 2.996, 4.605)),
        (1, (1.678, 2.022, 2.693, 2.994, 3.890, 4.744, 6.638)),
        (2, (2.674, 3.105, 3.920, 4.279, 5.322, 6.296, 8.406)),
        (3, (3.672, 4.175, 5.109, 5.515, 6.681, 7.754, 10.045)),
    ],
)
def test_table_of_run_multiples(recurrences: int, multiples: tuple[float, ...]) -> None:
    """The table recomputed with scipy for 50, 60, 75, 80, 90, 95 and 99 %, to its three digits."""
    for confidence, multiple in zip((0.50, 0.60, 0.75, 0.80, 0.90, 0.95, 0.99), multiples, strict=True):
        assert run_multiple(confidence, recurrences) == pytest.approx(multiple, abs=6e-4)


@pytest.mark.parametrize("recurrences", [0, 1, 2, 5, 17, 120])
@pytest.mark.parametrize("confidence", [0.001, 0.2, 0.77, 0.97, 0.9999, 1 - 1e-9])
def test_multiples_are_chi_square_quantiles(recurrences: int, confidence: float) -> None:
    """The bisection agrees with scipy's chi-square quantile at 2 r + 2 degrees of freedom."""
    expected = stats.chi2.ppf(confidence, 2 * recurrences + 2) / 2
    assert run_multiple(confidence, recurrences) == pytest.approx(expected, rel=1e-8)
    assert shown_confidence(expected, recurrences) == pytest.approx(confidence, rel=1e-8)


@pytest.mark.parametrize(
    ("prior", "multiples", "time_to_95"),
    [
        (0.5, (0.7311, 0.8808, 0.9526), 2.9444),
        (0.7, (0.8638, 0.9452, 0.9791), 2.0971),
        (0.9, (0.9607, 0.9852, 0.9945), 0.7472),
    ],
)
def test_probability_of_a_cure(prior: float, multiples: tuple[float, ...], time_to_95: float) -> None:
    """Recomputed table: quiet for one, two and three mean times at a known rate, and the time until 95 %."""
    for times, cured in enumerate(multiples, start=1):
        assert cured_probability(prior, quiet_probability_known_rate(1, 1.0, times)) == pytest.approx(cured, abs=6e-5)
    confidence = confidence_for_cure(prior, 0.95)
    assert hours_needed_known_rate(1, 1.0, confidence) == pytest.approx(time_to_95, abs=6e-5)


@pytest.mark.parametrize(("n", "exposure", "run"), [(1, 30.0, 11.0), (3, 17.5, 40.0), (9, 52.0, 13.0)])
def test_quiet_probability_is_the_mean_over_the_rate(n: int, exposure: float, run: float) -> None:
    """Integrating exp(-rate t) over scipy's Gamma(n + 1/2, T) density gives the closed form."""
    density = stats.gamma(n + 0.5, scale=1 / exposure)
    mean, _ = integrate.quad(lambda rate: math.exp(-rate * run) * density.pdf(rate), 0, density.isf(1e-15))
    assert quiet_probability(n, exposure, run) == pytest.approx(mean, rel=1e-7)


@pytest.mark.parametrize(("n", "confidence"), [(1, 0.9), (4, 0.95)])
def test_machines_that_still_have_their_fault(n: int, confidence: float) -> None:
    """Simulated machines of all rates that showed their fault n times in T hours stay quiet as often as is computed.

    Rates are drawn from the Jeffreys prior, cut off far above what n occurrences allow; faults come at random with the
    machine's own rate. Nothing of the closed form is used. The tolerance is four standard errors.
    """
    chance = np.random.default_rng(20310309)
    exposure, largest = 19.0, (n + 30.0) / 19.0
    rates = largest * chance.random(2_000_000) ** 2  # density proportional to rate^(-1/2)
    alike = rates[chance.poisson(rates * exposure) == n]
    run = hours_needed(n, exposure, confidence)
    quiet = float(np.mean(chance.poisson(alike * run) == 0))
    error = math.sqrt(confidence * (1 - confidence) / len(alike))
    assert len(alike) > 20_000
    assert quiet == pytest.approx(1 - confidence, abs=4 * error)


@pytest.mark.parametrize("recurrences", [0, 1, 2, 3])
def test_runs_with_recurrences_are_as_rare_as_is_computed(recurrences: int) -> None:
    """Simulated runs of the length for 80 %: so few recurrences or fewer come in one of five. Four standard errors."""
    chance = np.random.default_rng(20310310)
    gaps = chance.exponential(37.0, size=(200_000, recurrences + 1))
    few = gaps.sum(axis=1) > 37.0 * run_multiple(0.80, recurrences)
    assert float(few.mean()) == pytest.approx(0.20, abs=4 * math.sqrt(0.16 / len(few)))


def test_quiet_machines_are_cured_as_often_as_is_computed() -> None:
    """Simulated repairs, three of ten in vain: among machines quiet for the run, the cured are as many as Bayes says.

    The rate of each fault is drawn from scipy's Gamma(n + 1/2, T); the tolerance is four standard errors.
    """
    chance = np.random.default_rng(20310311)
    n, exposure, hours, machines = 3, 26.0, 7.0, 400_000
    rates = stats.gamma(n + 0.5, scale=1 / exposure).rvs(machines, random_state=chance)
    cured = chance.random(machines) < 0.7
    quiet = cured | (chance.exponential(1 / rates) > hours)
    share = float(cured[quiet].mean())
    error = math.sqrt(share * (1 - share) / int(quiet.sum()))
    assert advise_run(n, exposure, 0.7, hours).cured == pytest.approx(share, abs=4 * error)


def asked_for(capsys: pytest.CaptureFixture[str], *options: object) -> dict[str, Any]:
    """What `advisor proof --json` answers."""
    assert run(["proof", *map(str, options), "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_the_command_gives_the_published_length(capsys: pytest.CaptureFixture[str]) -> None:
    """Package mcotear, exp_oc and exp_rel_conf: 804.719 h for 500 h at 80 %, and 0.86466 after 500 h for 250 h."""
    needed = asked_for(capsys, "--occurrences", 1, "--hours", 500)["needed"]
    assert (needed[0]["confidence"], needed[0]["hours_known_rate"]) == (0.8, pytest.approx(804.719, abs=5e-4))
    quiet = asked_for(capsys, "--occurrences", 1, "--hours", 250, "--run", 500)["quiet_known_rate"]
    assert 1 - quiet == pytest.approx(0.86466, abs=5e-6)


@pytest.mark.parametrize(("prior", "cured"), [(0.5, 0.9526), (0.7, 0.9791), (0.9, 0.9945)])
def test_the_command_gives_the_table_of_cures(prior: float, cured: float, capsys: pytest.CaptureFixture[str]) -> None:
    """Recomputed Bayes table: quiet for three mean times between occurrences."""
    found = asked_for(capsys, "--occurrences", 4, "--hours", 20, "--run", 15, "--prior", prior)
    assert found["cured_known_rate"] == pytest.approx(cured, abs=6e-5)


def test_the_command_counts_recurrences(capsys: pytest.CaptureFixture[str]) -> None:
    """The table's multiples for 90 % at 0 to 3 recurrences, as the time between occurrences that a run of 100 h shows."""
    for back, multiple in enumerate((2.303, 3.890, 5.322, 6.681)):
        found = asked_for(capsys, "--occurrences", 2, "--hours", 9, "--run", 100, "--recurrences", back)
        assert 100 / found["between"] == pytest.approx(multiple, abs=6e-4)
