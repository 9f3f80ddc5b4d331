"""What a quiet run after a repair proves."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from advisor.errors import InputError
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

occurrences = st.integers(1, 500)
hours = st.floats(0.1, 5000)
confidences = st.floats(0.01, 0.999)
probabilities = st.floats(0.001, 0.999)
Hours = Callable[[int, float, float], float]
PAIRS: list[tuple[Hours, Hours]] = [
    (quiet_probability, hours_needed),
    (quiet_probability_known_rate, hours_needed_known_rate),
]


def test_quiet_probability_by_hand() -> None:
    """Two occurrences in 8 hours and 24 quiet ones: (8/32)^2.5 = 1/32, and e^-6 at a known rate."""
    assert quiet_probability(2, 8.0, 24.0) == pytest.approx(1 / 32, rel=1e-14)
    assert quiet_probability_known_rate(2, 8.0, 24.0) == pytest.approx(math.exp(-6), rel=1e-14)


def test_hours_needed_by_hand() -> None:
    """The same numbers the other way round: 31/32 confidence takes 24 hours; a known rate needs ln 32 times 4 hours."""
    assert hours_needed(2, 8.0, 31 / 32) == pytest.approx(24.0, rel=1e-13)
    assert hours_needed_known_rate(2, 8.0, 31 / 32) == pytest.approx(4 * math.log(32), rel=1e-14)


@pytest.mark.parametrize(("quiet", "needed"), PAIRS)
@settings(max_examples=100, deadline=None)
@given(occurrences, hours, confidences)
def test_hours_needed_are_those_after_which_quiet_is_unlikely(
    quiet: Hours, needed: Hours, n: int, exposure: float, confidence: float
) -> None:
    """After the hours needed, a fault still present would be quiet with exactly the chance that is left."""
    run = needed(n, exposure, confidence)
    assert quiet(n, exposure, run) == pytest.approx(1 - confidence, rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(occurrences, hours, hours, hours)
def test_longer_runs_and_more_occurrences_leave_less_chance(n: int, exposure: float, run: float, more: float) -> None:
    """A longer run, or a fault that came more often, makes quiet less likely; nothing run proves nothing."""
    for quiet in (quiet_probability, quiet_probability_known_rate):
        assert quiet(n, exposure, 0.0) == 1.0
        assert quiet(n, exposure, run + more) <= quiet(n, exposure, run) <= 1.0
        assert quiet(n + 1, exposure, run) <= quiet(n, exposure, run)


@settings(max_examples=100, deadline=None)
@given(occurrences, hours, st.floats(0.9, 0.999))
def test_an_uncertain_rate_asks_for_a_longer_run(n: int, exposure: float, confidence: float) -> None:
    """From 90 % up, not knowing the rate exactly costs hours, and less so with more occurrences."""
    longer = hours_needed(n, exposure, confidence) / hours_needed_known_rate(n, exposure, confidence)
    assert longer > 1.0
    later = hours_needed(20 * n, exposure, confidence) / hours_needed_known_rate(20 * n, exposure, confidence)
    assert 1.0 < later < longer


@settings(max_examples=50, deadline=None)
@given(occurrences, hours, confidences, st.floats(0.01, 100))
def test_the_unit_of_time_does_not_matter(n: int, exposure: float, confidence: float, factor: float) -> None:
    """Hours or days: the run scales with the exposure."""
    assert hours_needed(n, exposure * factor, confidence) == pytest.approx(
        factor * hours_needed(n, exposure, confidence), rel=1e-12
    )


@settings(max_examples=100, deadline=None)
@given(probabilities, probabilities)
def test_a_quiet_run_never_speaks_against_the_repair(prior: float, quiet: float) -> None:
    """Quiet raises the probability of a cure in odds by one over the chance of quiet with the fault present."""
    cured = cured_probability(prior, quiet)
    assert cured >= prior
    assert cured / (1 - cured) == pytest.approx(prior / (1 - prior) / quiet, rel=1e-9)


def test_certain_beliefs_stay() -> None:
    """A repair that cannot have cured it, or surely did, is not changed by a quiet run."""
    assert cured_probability(0.0, 0.0) == 0.0
    assert cured_probability(0.0, 0.3) == 0.0
    assert cured_probability(1.0, 0.3) == 1.0
    assert cured_probability(0.4, 0.0) == 1.0
    assert cured_probability(0.4, 1.0) == pytest.approx(0.4, rel=1e-15)


@settings(max_examples=100, deadline=None)
@given(probabilities, probabilities)
def test_the_confidence_for_a_cure_brings_it_there(prior: float, wanted: float) -> None:
    """A run of that confidence lifts the prior to the probability wanted; a higher prior needs no run."""
    confidence = confidence_for_cure(prior, wanted)
    if prior >= wanted:
        assert confidence == pytest.approx(0.0, abs=1e-12)
    else:
        assert cured_probability(prior, 1 - confidence) == pytest.approx(wanted, rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(confidences, st.integers(0, 60))
def test_the_run_multiple_shows_its_confidence(confidence: float, recurrences: int) -> None:
    """A run of that many mean times shows just the confidence; one recurrence more asks for a longer run."""
    multiple = run_multiple(confidence, recurrences)
    assert shown_confidence(multiple, recurrences) == pytest.approx(confidence, rel=1e-9)
    assert run_multiple(confidence, recurrences + 1) > multiple


def test_without_recurrence_the_multiple_is_a_logarithm() -> None:
    """Zero recurrences: minus the logarithm of what is left, also very near to certainty."""
    for confidence in (0.3, 0.875, 1 - 2**-40):
        assert run_multiple(confidence) == pytest.approx(-math.log1p(-confidence), rel=1e-13)
    assert shown_confidence(0.0, 3) == 0.0


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 10**4), confidences)
def test_the_exact_bound_gives_back_the_confidence(tries: int, confidence: float) -> None:
    """With the bound as the chance per try, no event in all tries has just the chance that is left."""
    bound = upper_bound(tries, confidence)
    assume(bound < 1)
    assert tries * math.log1p(-bound) == pytest.approx(math.log1p(-confidence), rel=1e-9)


def test_the_advice_says_what_the_functions_say() -> None:
    """The advice gathers the hours for each confidence, the chance of quiet and the probability of a cure, both ways."""
    advice = advise_run(4, 21.0, prior=0.72, run=5.0, asked=0.85)
    assert [n.confidence for n in advice.needed] == [0.80, 0.85, 0.90, 0.95]
    for n in advice.needed:
        assert n.hours == hours_needed(4, 21.0, n.confidence)
        assert n.hours_known_rate == hours_needed_known_rate(4, 21.0, n.confidence)
    assert advice.quiet == quiet_probability(4, 21.0, 5.0)
    assert advice.quiet_known_rate == quiet_probability_known_rate(4, 21.0, 5.0)
    assert advice.cured == cured_probability(0.72, advice.quiet)
    assert advice.cured_known_rate == cured_probability(0.72, advice.quiet_known_rate)
    assert advice.remaining == hours_needed(4, 21.0, 0.85) - 5.0


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 40), st.floats(1, 400), st.floats(0.01, 0.9))
def test_the_hours_for_a_cure_bring_the_cure(n: int, exposure: float, prior: float) -> None:
    """After the hours named for it, a quiet machine is cured with 95 %, whatever was believed before the run."""
    hours = advise_run(n, exposure, prior).cure_hours
    assert advise_run(n, exposure, prior, hours).cured == pytest.approx(0.95, rel=1e-9)


def test_the_advice_ends_when_the_hours_are_run() -> None:
    """Once the hours are run nothing remains, and the chance of quiet is what the confidence leaves."""
    needed = hours_needed(4, 21.0, 0.9)
    advice = advise_run(4, 21.0, prior=0.72, run=needed)
    assert advice.remaining == 0.0
    assert advice.quiet == pytest.approx(0.1, rel=1e-12)
    assert advise_run(4, 21.0, prior=0.97).cure_hours == 0.0


def test_a_recurrence_is_no_cure() -> None:
    """Once it came back nothing is cured; what the run shows by itself is a time between occurrences, and a chance of less."""
    advice = advise_run(4, 21.0, prior=0.72, run=30.0, recurrences=2)
    assert (advice.cured, advice.cured_known_rate) == (0.0, 0.0)
    assert advice.between == 30.0 / run_multiple(0.9, 2)
    assert advice.rarer == shown_confidence(4 * 30.0 / 21.0, 2)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: hours_needed(0, 9.0, 0.9), "0 occurrences before the repair"),
        (lambda: hours_needed_known_rate(0, 9.0, 0.9), "0 occurrences before the repair"),
        (lambda: quiet_probability(0, 9.0, 1.0), "0 occurrences"),
        (lambda: quiet_probability_known_rate(-3, 9.0, 1.0), "-3 occurrences"),
        (lambda: advise_run(0, 9.0, 0.5), "0 occurrences"),
        (lambda: hours_needed(3, 0.0, 0.9), "0 hours of exposure"),
        (lambda: hours_needed_known_rate(3, -1.0, 0.9), "-1 hours of exposure"),
        (lambda: quiet_probability(3, math.inf, 1.0), "inf hours of exposure"),
        (lambda: quiet_probability(3, math.nan, 1.0), "nan hours of exposure"),
        (lambda: quiet_probability(3, 9.0, -1.0), "run of -1 hours"),
        (lambda: quiet_probability_known_rate(3, 9.0, math.inf), "run of inf hours"),
        (lambda: hours_needed(3, 9.0, 1.0), "confidence of 1"),
        (lambda: hours_needed_known_rate(3, 9.0, 0.0), "confidence of 0"),
        (lambda: run_multiple(1.0), "confidence of 1"),
        (lambda: run_multiple(0.9, -1), "-1 recurrences"),
        (lambda: shown_confidence(1.0, -1), "-1 recurrences"),
        (lambda: cured_probability(1.2, 0.5), "prior of 1.2"),
        (lambda: cured_probability(0.5, -0.1), "quiet run of -0.1"),
        (lambda: confidence_for_cure(1.0, 0.9), "prior of 1"),
        (lambda: confidence_for_cure(0.5, 1.0), "wanted of 1"),
        (lambda: shown_confidence(1.0, 10_001), "10001 recurrences"),
        (lambda: advise_run(3, 9.0, 0.0), "prior of 0"),
        (lambda: hours_needed(3, 1e7, 0.9), "1e+07 hours of exposure"),
        (lambda: upper_bound(0), "0 tries"),
    ],
)
def test_numbers_that_prove_nothing_are_refused(call: Callable[[], object], says: str) -> None:
    """No occurrences, no exposure, certainty and what is no probability are refused with what would be right."""
    with pytest.raises(InputError) as caught:
        call()
    assert says in caught.value.what
    assert caught.value.hint
