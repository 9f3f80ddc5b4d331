"""Counting closed cases, in the database."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from math import exp

from advisor.model.tally import Decided, Month, Pace, ShopFigures, Tally, Timed, Took

MOST_OFF = 4.0  # times the minutes that the knowledge gives: what took longer, or shorter, counts as this; no source

# The logarithm of minutes taken over minutes given, once a case for each check and repair.
_PACE = f"""
SELECT s.id AS id, s.kind AS kind, s.what AS what,
  avg(ln(max(1 / {MOST_OFF}, min({MOST_OFF}, s.minutes / p.minutes)))) AS pace
FROM spent s JOIN given p ON p.kind = s.kind AND p.what = s.what GROUP BY s.id, s.kind, s.what
"""


def tally(db: sqlite3.Connection, minutes: Mapping[Timed, float]) -> Tally:
    """Counts of the cases that are learned from; `minutes` are what the knowledge gives each check and repair."""
    _given(db, minutes)
    unfit = dict(db.execute("SELECT unfit, count(*) FROM closed GROUP BY unfit"))
    fit = unfit.pop("", 0)
    causes: dict[str, dict[str, int]] = {}
    for complaint, cause, count in db.execute(
        "SELECT complaint, cause, count(*) FROM closed WHERE unfit = '' GROUP BY complaint, cause ORDER BY complaint, cause"
    ):
        causes.setdefault(complaint, {})[cause] = count
    features: dict[tuple[str, str, str], dict[str, int]] = {}
    for complaint, asked, answer, cause, count in db.execute("""
        SELECT c.complaint, f.asked, f.answer, c.cause, count(*) FROM closed c JOIN features f ON f.id = c.id
        WHERE c.unfit = '' GROUP BY 1, 2, 3, 4 ORDER BY 1, 2, 3, 4"""):
        features.setdefault((complaint, asked, answer), {})[cause] = count
    shown: dict[tuple[str, str], list[tuple[str, float, int]]] = {}
    for asked, named, result, showing, count in db.execute(
        "SELECT asked, named, result, showing, count(*) FROM shown GROUP BY 1, 2, 3, 4 ORDER BY 1, 2, 3, 4"
    ):
        shown.setdefault((asked, named), []).append((result, showing, count))
    took = {
        (kind, what): Took(times, total, squares)
        for kind, what, times, total, squares in db.execute(
            f"SELECT kind, what, count(*), sum(pace), sum(pace * pace) FROM ({_PACE}) GROUP BY kind, what ORDER BY kind, what"
        )
    }
    (until,) = db.execute("SELECT coalesce(max(substr(closed, 1, 10)), '') FROM closed WHERE unfit = ''").fetchone()
    return Tally(
        fit + sum(unfit.values()), fit, until, unfit, causes, features, {key: tuple(v) for key, v in shown.items()}, took
    )  # fmt: skip


def shop_figures(db: sqlite3.Connection, minutes: Mapping[Timed, float]) -> ShopFigures:
    """The work of the shop by month, by cause, by machine and by check."""
    _given(db, minutes)
    timed = {
        month: (taken, planned)
        for month, taken, planned in db.execute("""
            SELECT substr(c.closed, 1, 7), sum(s.minutes), sum(p.minutes) FROM spent s
            JOIN given p ON p.kind = s.kind AND p.what = s.what JOIN closed c ON c.id = s.id GROUP BY 1""")
    }
    months = tuple(
        Month(month, closed, proven, right, back, worked, *timed.get(month, (0.0, 0.0)))
        for month, closed, proven, right, back, worked in db.execute("""
            SELECT substr(closed, 1, 7), count(*), sum(proven), sum(proven AND repairs = 1), sum(came_back), sum(minutes)
            FROM closed GROUP BY 1 ORDER BY 1""")
    )
    causes = db.execute(
        "SELECT substr(closed, 1, 7), cause, count(*) FROM closed WHERE cause IS NOT NULL GROUP BY 1, 2 ORDER BY 1, 3 DESC, 2"
    )
    machines = db.execute("SELECT machine, cause, count(*) FROM closed WHERE cause IS NOT NULL GROUP BY 1, 2 ORDER BY 1, 3 DESC, 2")
    given = {(kind, what): planned for kind, what, planned in db.execute("SELECT kind, what, minutes FROM given")}
    paces = tuple(
        Pace(kind, what, times, given[kind, what] * exp(middle), given[kind, what])
        for kind, what, times, middle in db.execute(
            f"SELECT kind, what, count(*), avg(pace) FROM ({_PACE}) GROUP BY kind, what ORDER BY kind, what"
        ).fetchall()
    )
    checks = tuple(
        Decided(*row) for row in db.execute("SELECT asked, count(*), sum(changed) FROM decided GROUP BY asked ORDER BY asked")
    )
    return ShopFigures(sum(m.closed for m in months), months, tuple(causes), tuple(machines), paces, checks)


def _given(db: sqlite3.Connection, minutes: Mapping[Timed, float]) -> None:
    db.execute("CREATE TEMP TABLE IF NOT EXISTS given (kind TEXT, what TEXT, minutes REAL, PRIMARY KEY (kind, what))")
    db.execute("DELETE FROM given")
    db.executemany("INSERT INTO given VALUES (?, ?, ?)", [(*key, m) for key, m in minutes.items() if m > 0])
