"""The hours run after the last repair: how many it takes, what those run show, and how likely the fault is cured."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.model.case import Ran
from advisor.reasoning.proof import CONFIDENCE, RunAdvice
from advisor.record.material import Material, sure, times_back


@dataclass(frozen=True)
class HoursRow:
    """Quiet hours after which a fault still present would have shown itself with this confidence, computed both ways."""

    confidence: float
    hours: float
    hours_known_rate: float


@dataclass(frozen=True)
class Run:
    """Hours run after the last repair, and what they show. Where nobody counted how often it came, there are no figures."""

    hours: float
    recurrences: int
    says: str
    occurrences: int | None  # before the repair
    exposure: float | None  # in so many hours
    needed: float | None  # quiet hours in all, for CONFIDENCE
    remaining: float | None
    quiet: float | None  # chance that a fault still present would have stayed quiet so long
    prior: float | None  # probability of a cure before the run
    prior_says: str
    cured: float | None  # and after it
    cured_known_rate: float | None
    cured_says: str
    table: tuple[HoursRow, ...]
    lines: tuple[str, ...]  # the whole in words, for the trail


def run(m: Material) -> Run:
    """What the run after the last repair shows; the case holds at least one repair."""
    from advisor.consultation.cure import conditions, prior_says, reasons, run_advice
    from advisor.consultation.run_words import times

    last = max(m.state.repairs)
    runs = [r for n, r in m.state.runs.items() if n > last]
    hours, back = sum(r.hours for r in runs), sum(r.recurrences for r in runs)
    advice = run_advice(m.situation)
    says, lines = _run_words(hours, back, runs), reasons(m.situation, advice)
    if advice is None:
        says += " Nobody counted how often it came before. So no number of hours proves it gone."
        return Run(hours, back, says, None, None, None, None, None, None, "", None, None, "", (), lines)
    says += f" Before the repair it came {times(advice.occurrences)} in {advice.exposure:g} h."
    where = conditions(m.knowledge, m.opened)
    if where:
        says += f" Hours count when it is run {', '.join(where)}."
    from_what = prior_says(m.situation)
    table = tuple(HoursRow(x.confidence, x.hours, x.hours_known_rate) for x in advice.needed)
    needed = next(x.hours for x in advice.needed if x.confidence == CONFIDENCE)
    quiet = advice.quiet if hours and not back else None
    return Run(
        hours, back, says, advice.occurrences, advice.exposure, needed, advice.remaining, quiet, advice.prior, from_what,
        advice.cured, advice.cured_known_rate, _cured_words(advice, from_what), table, lines,
    )  # fmt: skip


def _run_words(hours: float, back: int, runs: list[Ran]) -> str:
    return f"Ran {hours:g} h. {times_back(back)}." if runs else "Not run since the repair."


def _cured_words(advice: RunAdvice, prior_says: str) -> str:
    before = f"Chance that the fault is cured: {sure(advice.prior)} before the run ({prior_says})"
    if advice.recurrences:
        return f"It came back after the repair: it is not cured. {before}."
    if not advice.run:
        return f"{before}."
    return (
        f"{before}, {sure(advice.cured)} after {advice.run:g} h. "
        f"A fault that is still there stays away {advice.run:g} h with a chance of only {sure(advice.quiet)}."
    )
