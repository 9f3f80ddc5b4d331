"""What closed cases add up to, by the sums of `sums.py`: counted in the database."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from math import exp
from typing import Any

from advisor.model.tally import Decided, Month, Pace, ShopFigures, Tally, Timed, Took
from advisor.store.sums import bring_up_to_date


def tally(db: sqlite3.Connection, minutes: Mapping[Timed, float]) -> Tally:
    """Counts of the cases that are learned from; `minutes` are what the knowledge gives each check and repair."""
    bring_up_to_date(db, minutes)
    unfit = dict(_summed(db, "closed", "a"))
    fit = unfit.pop("", 0)
    causes: dict[str, dict[str, int]] = {}
    for complaint, cause, count in _summed(db, "cause", "a, b"):
        causes.setdefault(complaint, {})[cause] = count
    features: dict[tuple[str, str, str], dict[str, int]] = {}
    for complaint, asked, answer, cause, count in _summed(db, "feature", "a, b, c, d"):
        features.setdefault((complaint, asked, answer), {})[cause] = count
    shown: dict[tuple[str, str], list[tuple[str, float, int]]] = {}
    for asked, named, result, showing, count in _summed(db, "shown", "a, b, c, d"):
        shown.setdefault((asked, named), []).append((result, showing, count))
    took = {
        (kind, what): Took(times, total, squares)
        for kind, what, times, total, squares in _summed(db, "pace", "a, b", "sum(n), sum(x), sum(y)")
    }
    (until,) = db.execute("SELECT coalesce(max(b), '') FROM sums WHERE counted = 'closed' AND a = ''").fetchone()
    return Tally(
        fit + sum(unfit.values()), fit, until, unfit, causes, features, {key: tuple(v) for key, v in shown.items()}, took
    )  # fmt: skip


def shop_figures(db: sqlite3.Connection, minutes: Mapping[Timed, float]) -> ShopFigures:
    """The work of the shop by month, by cause, by machine and by check."""
    bring_up_to_date(db, minutes)
    timed = {month: (taken, planned) for month, taken, planned in _summed(db, "timed", "month", "sum(x), sum(y)")}
    proven = {month: (n, int(first)) for month, n, first in _summed(db, "proven", "month", "sum(n), sum(x)")}
    months = tuple(
        Month(month, closed, *proven[month], int(back), worked, *timed.get(month, (0.0, 0.0)))
        for month, closed, worked, back in _summed(db, "worked", "month", "sum(n), sum(x), sum(y)")
    )
    causes = _summed(db, "found", "month, b", "sum(n) AS s", "month, s DESC, b")
    machines = _summed(db, "found", "a, b", "sum(n) AS s", "a, s DESC, b")
    paces = tuple(
        Pace(kind, what, times, minutes[kind, what] * exp(total / times), minutes[kind, what])
        for kind, what, times, total in _summed(db, "pace", "a, b", "sum(n), sum(x)")
    )
    checks = tuple(Decided(asked, done, int(changed)) for asked, done, changed in _summed(db, "decided", "a", "sum(n), sum(x)"))
    return ShopFigures(sum(m.closed for m in months), months, tuple(causes), tuple(machines), paces, checks)


def _summed(db: sqlite3.Connection, counted: str, keys: str, sums: str = "sum(n)", order: str = "") -> Iterator[tuple[Any, ...]]:
    """Sums over all months, or over what else is no key."""
    query = f"SELECT {keys}, {sums} FROM sums WHERE counted = ? GROUP BY {keys} ORDER BY {order or keys}"
    return iter(db.execute(query, (counted,)))
