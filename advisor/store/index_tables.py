"""The tables of the index of closed cases, and one case put in or taken out."""

from __future__ import annotations

import sqlite3
from math import log

from advisor.model.summary import Summary
from advisor.store.sums import TABLES as SUMS

FORMAT = "3"  # a file of another one is made anew
TABLES = f"""
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT);
CREATE TABLE files (case_id TEXT PRIMARY KEY, stamp TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE closed (
  id INTEGER PRIMARY KEY, case_id TEXT UNIQUE NOT NULL, complaint TEXT NOT NULL, machine TEXT NOT NULL, cause TEXT, place TEXT,
  proven INTEGER NOT NULL, minutes REAL NOT NULL, closed TEXT NOT NULL, unfit TEXT NOT NULL, repairs INTEGER NOT NULL,
  came_back INTEGER NOT NULL, month TEXT NOT NULL, norm REAL
);
CREATE INDEX closed_month ON closed (month);
CREATE INDEX closed_unweighed ON closed (id) WHERE norm IS NULL;
CREATE TABLE givens (
  given INTEGER PRIMARY KEY, complaint TEXT NOT NULL, asked TEXT NOT NULL, result TEXT NOT NULL, UNIQUE (complaint, asked, result)
);
CREATE TABLE answers (given INTEGER NOT NULL, id INTEGER NOT NULL, PRIMARY KEY (given, id)) WITHOUT ROWID;
CREATE INDEX answers_of ON answers (id);
CREATE TABLE features (id INTEGER, asked TEXT, answer TEXT NOT NULL, PRIMARY KEY (id, asked, answer)) WITHOUT ROWID;
CREATE TABLE shown (
  id INTEGER, n INTEGER, asked TEXT NOT NULL, named TEXT NOT NULL, result TEXT NOT NULL, showing REAL NOT NULL, PRIMARY KEY (id, n)
) WITHOUT ROWID;
CREATE TABLE spent (
  id INTEGER, n INTEGER, kind TEXT NOT NULL, what TEXT NOT NULL, minutes REAL NOT NULL, log REAL NOT NULL, PRIMARY KEY (id, n)
) WITHOUT ROWID;
CREATE TABLE decided (id INTEGER, n INTEGER, asked TEXT NOT NULL, changed INTEGER NOT NULL, PRIMARY KEY (id, n)) WITHOUT ROWID;
CREATE VIRTUAL TABLE words USING fts5 (text);
{SUMS}"""
OF_CASE = ("answers", "features", "shown", "spent", "decided")
LEAST_MINUTES = 1e-6  # of which there is a logarithm
_CLOSED = (
    "case_id", "complaint", "machine", "cause", "place", "proven", "minutes", "closed", "unfit", "repairs", "came_back", "month",
)  # fmt: skip


def add(db: sqlite3.Connection, one: Summary) -> None:
    """One closed case into the tables."""
    learned = one.lesson
    row = (
        one.case_id, one.complaint, one.machine, one.cause, one.place, one.proven, one.minutes, one.closed, learned.unfit,
        learned.repairs, learned.came_back, one.closed[:7],
    )  # fmt: skip
    marks = ", ".join("?" * len(row))
    number = db.execute(f"INSERT INTO closed ({', '.join(_CLOSED)}) VALUES ({marks})", row).lastrowid
    given = [(one.complaint, asked, result) for asked, result in sorted(one.answers)]
    db.executemany("INSERT OR IGNORE INTO givens (complaint, asked, result) VALUES (?, ?, ?)", given)
    db.executemany(
        "INSERT INTO answers SELECT given, ? FROM givens WHERE complaint = ? AND asked = ? AND result = ?",
        [(number, *key) for key in given],
    )
    db.executemany("INSERT OR IGNORE INTO features VALUES (?, ?, ?)", [(number, *told) for told in learned.features])
    shown = [(number, n, s.check, s.row, s.result, s.showing) for n, s in enumerate(learned.shown)]
    db.executemany("INSERT INTO shown VALUES (?, ?, ?, ?, ?, ?)", shown)
    spent = [(number, n, s.kind, s.what, s.minutes, log(max(LEAST_MINUTES, s.minutes))) for n, s in enumerate(learned.spent)]
    db.executemany("INSERT INTO spent VALUES (?, ?, ?, ?, ?, ?)", spent)
    db.executemany("INSERT INTO decided VALUES (?, ?, ?, ?)", [(number, n, *told) for n, told in enumerate(learned.decided)])
    db.execute("INSERT INTO words (rowid, text) VALUES (?, ?)", (number, one.words))
    db.execute("INSERT OR IGNORE INTO changed VALUES (?)", (one.closed[:7],))


def forget(db: sqlite3.Connection, case_id: str) -> None:
    """A case out of the tables, where it is in them."""
    number = db.execute("SELECT id FROM closed WHERE case_id = ?", (case_id,)).fetchone()
    if number is not None:
        db.execute("INSERT OR IGNORE INTO changed SELECT month FROM closed WHERE id = ?", number)
        for table in ("closed", *OF_CASE):
            db.execute(f"DELETE FROM {table} WHERE id = ?", number)
        db.execute("DELETE FROM words WHERE rowid = ?", number)
