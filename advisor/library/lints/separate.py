"""Can every two causes of a complaint be told apart, and does every check tell something?"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from advisor.evidence.rows import OTHERWISE, row_for
from advisor.evidence.separation import SEPARATING, Separation, most_telling
from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Check, Knowledge


def excepted(k: Knowledge) -> dict[frozenset[str], str]:
    """The pairs of causes that are reviewed as not separated, each with the id of its exception."""
    return {frozenset(e.causes): e.id for e in k.pairs_not_separated.values()}


def pairs_nobody_separates(k: Knowledge) -> Iterator[Issue]:
    """Some result must be four times as likely for one of the two as for the other: 6 dB."""
    separation, reviewed = Separation(k), excepted(k)
    together: dict[tuple[str, str], list[str]] = {}
    for complaint in k.complaints:
        for a, b, best in separation.pairs(complaint):
            if (best is None or not best.separates) and frozenset((a, b)) not in reviewed:
                together.setdefault((a, b), []).append(complaint)
    for (a, b), complaints in together.items():
        best = separation.best(a, b)
        most = f"the most is {best.strength:.1f} dB by '{best.check}'" if best else "no check names either"
        yield Issue("not-separated", f"no check parts '{a}' from '{b}' ({', '.join(complaints)}): {most}")


def exceptions_out_of_date(k: Knowledge) -> Iterator[Issue]:
    """An exception stands only for two causes of one complaint which no check separates."""
    separation = Separation(k)
    for entry in k.pairs_not_separated.values():
        first, second = (k.causes[c] for c in entry.causes)
        best = separation.best(first.id, second.id)
        if first is second or not first.complaints.keys() & second.complaints.keys():
            yield Issue("stale-exception", f"'{entry.id}' does not name two causes of one complaint")
        elif best is not None and best.separates:
            yield Issue("stale-exception", f"'{entry.id}' is not needed: '{best.check}' parts the two by {best.strength:.1f} dB")


def checks_that_separate_nothing(k: Knowledge) -> Iterator[Issue]:
    """A check must part some two causes of one complaint by 6 dB, or it is not worth its minutes."""
    separation = Separation(k)
    for check in separation.checks:
        if not _separates_something(check, separation):
            yield Issue("idle-check", f"'{check.id}' parts no two causes of one complaint by {SEPARATING:.0f} dB")


def _separates_something(check: Check, separation: Separation) -> bool:
    k = separation.knowledge
    named = [c.id for c in k.causes.values() if row_for(check, c) not in (None, OTHERWISE)]
    for name, other in itertools.product(named, k.causes):
        together = k.causes[name].complaints.keys() & k.causes[other].complaints.keys()
        if together and most_telling(check, separation.chances(check, name), separation.chances(check, other)).separates:
            return True
    return False


LINTS: tuple[Lint, ...] = (pairs_nobody_separates, exceptions_out_of_date, checks_that_separate_nothing)
