"""The tables of the index of closed cases, and one case put in or taken out."""

from __future__ import annotations

import sqlite3

from advisor.model.summary import Summary

FORMAT = "2"  # a file of another one is made anew
TABLES = """
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT);
CREATE TABLE files (case_id TEXT PRIMARY KEY, stamp TEXT NOT NULL);
CREATE TABLE closed (
  id INTEGER PRIMARY KEY, case_id TEXT UNIQUE NOT NULL, complaint TEXT NOT NULL, machine TEXT NOT NULL, cause TEXT, place TEXT,
  proven INTEGER NOT NULL, minutes REAL NOT NULL, closed TEXT NOT NULL, unfit TEXT NOT NULL, repairs INTEGER NOT NULL,
  came_back INTEGER NOT NULL, norm REAL NOT NULL DEFAULT 0
);
CREATE TABLE answers (
  complaint TEXT NOT NULL, asked TEXT NOT NULL, result TEXT NOT NULL, id INTEGER NOT NULL,
  PRIMARY KEY (complaint, asked, result, id)
) WITHOUT ROWID;
CREATE INDEX answers_of ON answers (id);
CREATE TABLE features (id INTEGER NOT NULL, asked TEXT NOT NULL, answer TEXT NOT NULL);
CREATE INDEX features_of ON features (id);
CREATE TABLE shown (id INTEGER NOT NULL, asked TEXT NOT NULL, named TEXT NOT NULL, result TEXT NOT NULL, showing REAL NOT NULL);
CREATE INDEX shown_of ON shown (id);
CREATE TABLE spent (id INTEGER NOT NULL, kind TEXT NOT NULL, what TEXT NOT NULL, minutes REAL NOT NULL);
CREATE INDEX spent_of ON spent (id);
CREATE TABLE decided (id INTEGER NOT NULL, asked TEXT NOT NULL, changed INTEGER NOT NULL);
CREATE INDEX decided_of ON decided (id);
CREATE VIRTUAL TABLE words USING fts5 (text);
"""
OF_CASE = ("answers", "features", "shown", "spent", "decided")
_CLOSED = ("case_id", "complaint", "machine", "cause", "place", "proven", "minutes", "closed", "unfit", "repairs", "came_back")


def add(db: sqlite3.Connection, one: Summary) -> None:
    """One closed case into the tables."""
    learned = one.lesson
    row = (
        one.case_id, one.complaint, one.machine, one.cause, one.place, one.proven, one.minutes, one.closed, learned.unfit,
        learned.repairs, learned.came_back,
    )  # fmt: skip
    marks = ", ".join("?" * len(row))
    number = db.execute(f"INSERT INTO closed ({', '.join(_CLOSED)}) VALUES ({marks})", row).lastrowid
    answers = [(one.complaint, asked, result, number) for asked, result in sorted(one.answers)]
    db.executemany("INSERT INTO answers VALUES (?, ?, ?, ?)", answers)
    db.executemany("INSERT INTO features VALUES (?, ?, ?)", [(number, *given) for given in learned.features])
    db.executemany(
        "INSERT INTO shown VALUES (?, ?, ?, ?, ?)", [(number, s.check, s.row, s.result, s.showing) for s in learned.shown]
    )
    db.executemany("INSERT INTO spent VALUES (?, ?, ?, ?)", [(number, s.kind, s.what, s.minutes) for s in learned.spent])
    db.executemany("INSERT INTO decided VALUES (?, ?, ?)", [(number, *told) for told in learned.decided])
    db.execute("INSERT INTO words (rowid, text) VALUES (?, ?)", (number, one.words))
    db.execute("DELETE FROM meta WHERE key = 'worth'")  # its norm is to be computed


def forget(db: sqlite3.Connection, case_id: str) -> None:
    """A case out of the tables, where it is in them."""
    number = db.execute("SELECT id FROM closed WHERE case_id = ?", (case_id,)).fetchone()
    if number is not None:
        for table in ("closed", *OF_CASE):
            db.execute(f"DELETE FROM {table} WHERE id = ?", number)
        db.execute("DELETE FROM words WHERE rowid = ?", number)
