"""Sums of closed cases by the month in which they were closed. Only months in which a case came or went are counted again."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from hashlib import sha256
from math import log
from typing import Final

from advisor.model.tally import Timed

MOST_OFF: Final = 4.0  # times the minutes that the knowledge gives: what took longer, or shorter, counts as this; no source

# A row: what is counted, the month, up to four keys, a number of cases, and two sums. Keys that are not used are empty.
TABLES: Final = """
CREATE TABLE changed (month TEXT PRIMARY KEY) WITHOUT ROWID;
CREATE TABLE sums (
  counted TEXT NOT NULL, month TEXT NOT NULL, a NOT NULL, b NOT NULL, c NOT NULL, d NOT NULL,
  n INTEGER NOT NULL, x REAL NOT NULL, y REAL NOT NULL, PRIMARY KEY (counted, month, a, b, c, d)
) WITHOUT ROWID;
"""
_CASES: Final = "FROM changed m CROSS JOIN closed c ON c.month = m.month"  # in this order, so that other months are not touched

# The logarithm of minutes taken over minutes given, once a case for each check and repair.
_PACE: Final = f"""
SELECT c.month AS month, s.kind AS kind, s.what AS what, avg(max(-p.most, min(p.most, s.log - p.log))) AS pace
{_CASES} CROSS JOIN spent s ON s.id = c.id JOIN given p ON p.kind = s.kind AND p.what = s.what GROUP BY c.id, s.kind, s.what
"""
_COUNTS: Final = {
    "closed": f"SELECT c.month, unfit, max(substr(closed, 1, 10)), '', '', count(*), 0, 0 {_CASES} GROUP BY 1, 2",
    "cause": f"SELECT c.month, complaint, cause, '', '', count(*), 0, 0 {_CASES} WHERE unfit = '' GROUP BY 1, 2, 3",
    "feature": f"""SELECT c.month, complaint, f.asked, f.answer, cause, count(*), 0, 0
      {_CASES} CROSS JOIN features f ON f.id = c.id WHERE unfit = '' GROUP BY 1, 2, 3, 4, 5""",
    "shown": f"""SELECT c.month, s.asked, s.named, s.result, s.showing, count(*), 0, 0
      {_CASES} CROSS JOIN shown s ON s.id = c.id GROUP BY 1, 2, 3, 4, 5""",
    "pace": f"SELECT month, kind, what, '', '', count(*), sum(pace), sum(pace * pace) FROM ({_PACE}) GROUP BY 1, 2, 3",
    "timed": f"""SELECT c.month, '', '', '', '', count(*), sum(s.minutes), sum(p.minutes)
      {_CASES} CROSS JOIN spent s ON s.id = c.id JOIN given p ON p.kind = s.kind AND p.what = s.what GROUP BY 1""",
    "worked": f"SELECT c.month, '', '', '', '', count(*), sum(minutes), sum(came_back) {_CASES} GROUP BY 1",
    "proven": f"SELECT c.month, '', '', '', '', sum(proven), sum(proven AND repairs = 1), 0 {_CASES} GROUP BY 1",
    "found": f"SELECT c.month, machine, cause, '', '', count(*), 0, 0 {_CASES} WHERE cause IS NOT NULL GROUP BY 1, 2, 3",
    "decided": f"""SELECT c.month, s.asked, '', '', '', count(*), sum(s.changed), 0
      {_CASES} CROSS JOIN decided s ON s.id = c.id GROUP BY 1, 2""",
}


def bring_up_to_date(db: sqlite3.Connection, minutes: Mapping[Timed, float]) -> None:
    """Counts the months that changed; all of them when the knowledge gives its checks and repairs other `minutes`."""
    given = sorted((*key, m) for key, m in minutes.items() if m > 0)
    digest = sha256(json.dumps(given).encode()).hexdigest()
    if db.execute("SELECT value FROM meta WHERE key = 'given'").fetchone() != (digest,):
        db.execute("INSERT OR IGNORE INTO changed SELECT DISTINCT month FROM closed")
        db.execute("INSERT OR REPLACE INTO meta VALUES ('given', ?)", (digest,))
    if db.execute("SELECT 1 FROM changed LIMIT 1").fetchone() is None:
        return
    db.execute("CREATE TEMP TABLE given (kind TEXT, what TEXT, minutes REAL, log REAL, most REAL, PRIMARY KEY (kind, what))")
    rows = [(kind, what, m, log(m), log(MOST_OFF)) for kind, what, m in given]
    db.executemany("INSERT INTO given VALUES (?, ?, ?, ?, ?)", rows)
    for name, query in _COUNTS.items():
        db.execute("DELETE FROM sums WHERE counted = ? AND month IN (SELECT month FROM changed)", (name,))
        db.execute(f"INSERT INTO sums SELECT '{name}', * FROM ({query})")
    db.execute("DELETE FROM changed")
    db.execute("DROP TABLE given")
