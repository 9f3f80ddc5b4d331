"""How long a repaired machine must run before it counts as cured, and what a quiet run proves.

Before the repair the fault showed itself n times in T hours of exposure. What would a fault still present do in t more
hours under the same conditions? Two answers stand side by side:

* The rate is uncertain: Gamma(n + 1/2, T), the Jeffreys posterior of a Poisson rate. It stays quiet with probability
  (T / (T + t))^(n + 1/2). This is the one to act on.
* The rate is taken as exactly n / T: exp(-n t / T). The usual textbook figure; too sure of itself when n is small.

Both suppose a constant rate and that the run brings back the conditions (heat, load, vibration) that brought the fault.
Times are hours, though any unit will do as long as both are the same. Every function raises InputError for numbers from
which nothing can be computed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from advisor.errors import InputError

CONFIDENCES = (0.80, 0.90, 0.95)  # what a run is sized for
CONFIDENCE = 0.90  # the one a case goes by
CURE = 0.95  # probability of a cure that is worth naming the hours for
MOST_SURE = 1 - 1e-12  # nearer to certainty the arithmetic has no digits left
MOST_RECURRENCES, MOST_HOURS = 10_000, 1e6  # more is a slip of the fingers


@dataclass(frozen=True)
class Needed:
    """Quiet hours after which a fault still present would have shown itself with this confidence."""

    confidence: float
    hours: float
    hours_known_rate: float


@dataclass(frozen=True)
class RunAdvice:
    """How long to run after a repair, and what the run so far shows. Hours and probabilities.

    Of each pair the first allows for the uncertain rate, the one called `known_rate` takes it as exactly n / T.
    """

    occurrences: int  # n, before the repair
    exposure: float  # T
    prior: float  # probability that the repair cured it, before the run
    needed: tuple[Needed, ...]  # by confidence, least first
    run: float  # hours so far
    recurrences: int  # in them
    quiet: float  # probability that a fault still present would have stayed quiet for `run`
    quiet_known_rate: float
    cured: float  # probability of a cure after `run` hours: 0 once the fault came back
    cured_known_rate: float
    cure_hours: float  # quiet hours in all until a cure is as probable as CURE; for a run that stays quiet, as is `remaining`
    between: float  # hours: with CONFIDENCE the fault comes no more often than once in so many, by the run alone
    rarer: float  # confidence, by the run alone, that the fault comes less often than before the repair
    asked: float  # the confidence that `remaining` is for
    remaining: float  # hours still to run; 0 when they are run


def advise_run(
    occurrences: int, exposure: float, prior: float, run: float = 0.0, recurrences: int = 0, asked: float = CONFIDENCE
) -> RunAdvice:
    """The hours needed and what the run shows so far.

    `occurrences` in `exposure` hours before the repair; `prior` is the probability, before the run, that the repair
    cured the fault; `asked` is a confidence to be answered beside CONFIDENCES. Raises InputError.
    """
    quiet = quiet_probability(occurrences, exposure, run)
    quiet_known_rate = quiet_probability_known_rate(occurrences, exposure, run)
    cured, cured_known_rate = cured_probability(prior, quiet), cured_probability(prior, quiet_known_rate)
    needed = tuple(
        Needed(c, hours_needed(occurrences, exposure, c), hours_needed_known_rate(occurrences, exposure, c))
        for c in sorted({*CONFIDENCES, asked})
    )
    enough = min(confidence_for_cure(prior, CURE), MOST_SURE)
    return RunAdvice(
        occurrences, exposure, prior, needed, run, recurrences, quiet, quiet_known_rate,
        0.0 if recurrences else cured, 0.0 if recurrences else cured_known_rate,
        hours_needed(occurrences, exposure, enough) if enough else 0.0,
        run / run_multiple(CONFIDENCE, recurrences), shown_confidence(occurrences * run / exposure, recurrences),
        asked, max(0.0, hours_needed(occurrences, exposure, asked) - run),
    )  # fmt: skip


def quiet_probability(occurrences: int, exposure: float, run: float) -> float:
    """Probability that a fault still present stays quiet for `run` hours, its rate being uncertain."""
    _check_history(occurrences, exposure)
    _check_run(run)
    return math.exp(-(occurrences + 0.5) * math.log1p(run / exposure))


def quiet_probability_known_rate(occurrences: int, exposure: float, run: float) -> float:
    """Probability that a fault still present stays quiet for `run` hours, its rate being exactly n / T."""
    _check_history(occurrences, exposure)
    _check_run(run)
    return math.exp(-occurrences * run / exposure)


def hours_needed(occurrences: int, exposure: float, confidence: float) -> float:
    """Quiet hours after which a fault still present would have shown itself with this confidence; uncertain rate."""
    _check_history(occurrences, exposure)
    _check_open("confidence", confidence)
    return exposure * math.expm1(-math.log1p(-confidence) / (occurrences + 0.5))


def hours_needed_known_rate(occurrences: int, exposure: float, confidence: float) -> float:
    """The same for a rate of exactly n / T: -ln(1 - confidence) times the mean time between occurrences."""
    _check_history(occurrences, exposure)
    _check_open("confidence", confidence)
    return -math.log1p(-confidence) * exposure / occurrences


def cured_probability(prior: float, quiet: float) -> float:
    """Probability that the fault is cured after a quiet run (Bayes).

    `prior` is the probability of a cure before the run, `quiet` that of a quiet run with the fault still present.
    """
    _check_closed("prior", prior)
    _check_closed("probability of a quiet run", quiet)
    if prior == 0.0:
        return 0.0
    return prior / (prior + (1.0 - prior) * quiet)


def confidence_for_cure(prior: float, wanted: float) -> float:
    """The confidence a run must have so that a quiet one lifts the probability of a cure from `prior` to `wanted`.

    0 when the prior is already there: no run is needed. Hand anything above 0 to `hours_needed`.
    """
    _check_open("prior", prior)
    _check_open("probability wanted", wanted)
    return max(0.0, 1.0 - prior * (1.0 - wanted) / ((1.0 - prior) * wanted))


def shown_confidence(multiple: float, recurrences: int = 0) -> float:
    """Confidence that the mean time between occurrences is at least the hours run divided by `multiple`.

    The run ended at a time fixed beforehand and had this many recurrences: 1 - P(Poisson(multiple) <= recurrences).
    """
    _check_count("recurrences", recurrences, 0)
    if recurrences > MOST_RECURRENCES:
        raise InputError(f"{recurrences} recurrences cannot be", "Count how often the fault came back in the hours run.")
    return max(0.0, 1.0 - _at_most(recurrences, multiple))


def run_multiple(confidence: float, recurrences: int = 0) -> float:
    """How many times the mean time between occurrences a run must last to show it with this confidence.

    Equal to chi2.ppf(confidence, 2 * recurrences + 2) / 2 for a run that ends at a time fixed beforehand; found by
    bisection on the Poisson sum. With no recurrence it is -ln(1 - confidence).
    """
    _check_open("confidence", confidence)
    _check_count("recurrences", recurrences, 0)
    left = 1.0 - confidence
    low, high = 0.0, 1.0
    while _at_most(recurrences, high) > left:
        low, high = high, 2.0 * high
    while low < (middle := (low + high) / 2.0) < high:
        if _at_most(recurrences, middle) > left:
            low = middle
        else:
            high = middle
    return high


def _at_most(count: int, mean: float) -> float:
    """P(Poisson(mean) <= count), each term by its logarithm so that none overflows."""
    if mean == 0.0:
        return 1.0
    log = math.log(mean)
    return math.fsum(math.exp(k * log - mean - math.lgamma(k + 1)) for k in range(count + 1))


def upper_bound(tries: int, confidence: float = 0.95) -> float:
    """Largest chance per try that agrees with no event in so many tries: 1 - (1 - confidence)^(1 / tries)."""
    _check_count("tries", tries, 1)
    _check_open("confidence", confidence)
    return -math.expm1(math.log1p(-confidence) / tries)


def _check_history(occurrences: int, exposure: float) -> None:
    _check_count("occurrences before the repair", occurrences, 1)
    if not 0.0 < exposure <= MOST_HOURS:
        raise InputError(
            f"{exposure:g} hours of exposure before the repair cannot be used",
            "Estimate the hours worked while the fault came and went; more than 0.",
        )


def _check_count(what: str, count: int, least: int) -> None:
    if count < least:
        raise InputError(
            f"{count} {what} cannot be used: at least {least} is needed",
            "Count how often it happened; without a count no run can be sized." if least else "Count from 0.",
        )


def _check_run(hours: float) -> None:
    if not 0.0 <= hours <= MOST_HOURS:
        raise InputError(f"a run of {hours:g} hours cannot be", "Enter the hours run, 0 or more.")


def _check_open(what: str, value: float) -> None:
    if not 0.0 < value < 1.0:
        raise InputError(f"a {what} of {value:g} cannot be reached", "Give a number between 0 and 1, such as 0.95.")


def _check_closed(what: str, value: float) -> None:
    if not 0.0 <= value <= 1.0:
        raise InputError(f"a {what} of {value:g} is no probability", "Give a number from 0 to 1.")
