"""Many small cases straight into an SQLite store: without its triggers and indices, which are put back when the rows are in."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from hashlib import sha256
from pathlib import Path

from sync import made

from advisor.store.database import database

PIECE = 50_000


def load_store(file: Path, count: int) -> None:
    """Makes the store where it is not there, and adds cases until there are so many. The last is checked by reading it."""
    with closing(database(f"sqlite:///{file}")) as home:
        home.make()
    with closing(sqlite3.connect(file, isolation_level=None)) as db:
        for name, value in (("synchronous", "OFF"), ("journal_mode", "OFF"), ("cache_size", "-500000")):
            db.execute(f"PRAGMA {name} = {value}")
        put_back = [
            (kind, name, sql)
            for kind, name, sql in db.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
            if kind in ("trigger", "index")
        ]
        (there,) = db.execute("SELECT count(*) FROM cases").fetchone()
        for kind, name, _ in put_back if there < count else ():
            db.execute(f"DROP {kind} {name}")
        for first in range(there, count, PIECE):
            db.execute("BEGIN")
            for case_id, lines in _cases(first, min(first + PIECE, count)):
                db.execute("INSERT INTO cases VALUES (?, ?, ?)", (case_id, case_id, lines[0]))
                rows = [(case_id, n, line, sha256(line).hexdigest(), 1 + first // PIECE) for n, line in enumerate(lines[1:])]
                db.executemany("INSERT INTO events VALUES (?, ?, ?, ?, ?)", rows)
            db.execute("COMMIT")
        for _, _, sql in put_back if there < count else ():
            db.execute(sql)
    with closing(database(f"sqlite:///{file}").open()) as home:
        last = made(count - 1)
        if home.lines([last[0]]) != {last[0]: last[1]}:
            raise AssertionError("the last case does not come out as it went in")


def _cases(first: int, upto: int) -> Iterator[tuple[str, list[bytes]]]:
    for number in range(first, upto):
        case_id, data = made(number)
        yield case_id, data.split(b"\n")[:-1]
