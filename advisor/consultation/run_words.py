"""What a run after a repair has to last and what it shows, in sentences: the same with a case and without one."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.reasoning.proof import CONFIDENCE, CURE, RunAdvice, advise_run


def report(advice: RunAdvice, conditions: Sequence[str], prior_says: str) -> tuple[str, ...]:
    """The whole: what the hours so far show, how long it must run, under which conditions, what a recurrence means.

    `prior_says` tells where the probability of a cure before the run comes from.
    """
    if advice.recurrences:
        n, hours = advice.occurrences + advice.recurrences, advice.exposure + advice.run
        anew = advise_run(n, hours, advice.prior, asked=advice.asked)
        return (*run_lines(advice, prior_says), *needed_lines(anew, "until now"), conditions_line(conditions))
    so_far = run_lines(advice, prior_says) if advice.run else ()
    return (*so_far, *needed_lines(advice), conditions_line(conditions), recurrence_line(advice))


def needed_lines(advice: RunAdvice, until: str = "before the repair") -> tuple[str, ...]:
    """The history, the hours for each confidence both ways, and what the two figures are."""
    n = advice.occurrences
    learnt = _listed([f"{_time(x.hours)} ({_sure(x.confidence)} sure)" for x in advice.needed])
    known = _listed([_time(x.hours_known_rate) for x in advice.needed])
    return (
        f"It came {times(n)} in {advice.exposure:g} hours {until}."
        f" If the fault is still there, it should come back within {learnt}.",
        f"Go by these figures. They allow for the small count: only {times(n)}."
        f" One fault in exactly every {_time(advice.exposure / n)} would give {known}. That is too optimistic after few times.",
    )


def _listed(items: Sequence[str]) -> str:
    return f"{', '.join(items[:-1])} or {items[-1]}" if len(items) > 1 else "".join(items)


def conditions_line(conditions: Sequence[str]) -> str:
    """Under which conditions the hours count."""
    if conditions:
        return f"Run it {', '.join(conditions)}. That brought the fault. Other hours do not count."
    return "Run it with what brought the fault: heat, cold, load or rough ground. Other hours do not count."


def recurrence_line(advice: RunAdvice) -> str:
    """What it means when the fault comes back."""
    return (
        "If it comes back even once, it is not cured. Then look for another cause. The next count is"
        f" {times(advice.occurrences + 1)} in {advice.exposure:g} hours plus the hours run."
    )


def run_lines(advice: RunAdvice, prior_says: str) -> tuple[str, ...]:
    """After some hours: what they show. `prior_says` tells where the probability before the run comes from."""
    ran = f"{advice.run:g} hours"
    alone = f"From these hours alone: {_sure(CONFIDENCE)} sure that the fault comes at most once in"
    if advice.recurrences:
        return (
            f"It came back {times(advice.recurrences)} in {ran}: it is not cured. Find what else is wrong and repair it."
            " Then run again.",
            f"It is {_sure(advice.rarer)} sure that it comes less often than before the repair. {alone} {_time(advice.between)}.",
        )
    cure = [] if advice.cure_hours <= advice.run else [f"It reaches {_sure(CURE)} after {_time(advice.cure_hours)} in all."]
    left, asked = advice.remaining, _sure(advice.asked)
    return (
        f"{ran} without it. The chance that a fault still there stays away that long is only {_sure(advice.quiet)}"
        f" (with an exact count: {_sure(advice.quiet_known_rate)}).",
        f"Chance that it is cured: {_sure(advice.cured)} (with an exact count: {_sure(advice.cured_known_rate)})."
        f" Before the run: {_sure(advice.prior)}, {prior_says}.",
        *cure,
        f"{_time(left)} still to run to be {asked} sure." if left else f"That is long enough to be {asked} sure.",
        f"{alone} {_time(advice.between)}.",
    )


def unknown_lines(tries: int, chance: float) -> tuple[str, ...]:
    """What can be done when nobody counted: `tries` without the fault leave at most this chance a try, 95 % sure."""
    return (
        "Nobody counted how often it came. So no number of hours proves it gone.",
        f"Count tries instead: do {tries} times what brought the fault. If it stays away, the chance is below"
        f" {_sure(chance)} a try (95% sure).",
    )


def times(count: int) -> str:
    """So many times, in words."""
    return "once" if count == 1 else f"{count} times"


def _those(count: int) -> str:
    return "that one time" if count == 1 else f"those {count} times"


def _time(hours: float) -> str:
    """Hours, or minutes when it is less than one hour."""
    return f"{hours:.1f} h" if hours >= 1 or hours == 0 else f"{max(1.0, 60 * hours):.0f} min"


def _sure(share: float) -> str:
    """A probability in per cent that never rounds to certainty."""
    if 0 < share < 0.001:
        return "less than 0.1%"
    if 0.999 < share < 1:
        return "more than 99.9%"
    text = f"{share:.0%}" if 0.05 <= share <= 0.95 else f"{share:.1%}"
    return text.replace(".0%", "%")
