"""The closed cases of a folder in an SQLite file beside them, for quick questions. It is made from the cases and may go."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from advisor.errors import AdvisorError, StoreError
from advisor.model.summary import Alike, Given, Summary
from advisor.model.tally import ShopFigures, Tally, Timed
from advisor.store.folder import CaseStore
from advisor.store.index_tables import FORMAT, TABLES, add, forget
from advisor.store.open_case import StoredCase
from advisor.store.tally import shop_figures, tally

NAME = ".closed.db"
CACHE = 64_000  # KiB of the file kept in memory while it is open
_COLUMNS = "c.case_id, c.machine, c.cause, c.place, c.proven, c.minutes, c.closed"
Summarize = Callable[[StoredCase], Summary | None]


@dataclass
class ClosedIndex:
    """The index of one folder. `summarize` gives a closed case in brief, with names as of `knowledge` (a digest)."""

    store: CaseStore
    summarize: Summarize
    knowledge: str

    @property
    def path(self) -> Path:
        return self.store.folder / NAME

    def refresh(self) -> tuple[str, ...]:
        """Takes in what changed in the folder since the last time; the cases that cannot be read, as told. Raises StoreError."""
        if not self.store.folder.is_dir():
            return ()
        trouble = []
        with self._open() as db:
            known = dict(db.execute("SELECT case_id, stamp FROM files"))
            here = {case_id: ":".join(map(str, stamp)) for case_id, stamp in self.store.stamps() if stamp is not None}
            for case_id in known.keys() - here.keys():
                self._forget(db, case_id)
            for case_id, stamp in here.items():
                if known.get(case_id) == stamp:
                    continue
                self._forget(db, case_id)
                try:
                    found = self.summarize(self.store.read(case_id))
                except AdvisorError as error:
                    trouble.append(f"{case_id}: {error.what}")
                    found = None
                if found is not None:
                    self.add(db, found)
                db.execute("INSERT INTO files VALUES (?, ?)", (case_id, stamp))
        return tuple(trouble)

    def nearest(
        self, complaint: str, answers: Collection[Given], worth: Mapping[Given, float], *, most: int, but: str = ""
    ) -> list[Alike]:
        """The closed cases of a complaint whose answers are most like these, the likest first; the case `but` is left out."""
        alone = but.partition(".")[0]  # with every continuation of it
        own = math.sqrt(sum(worth.get(g, 0.0) ** 2 for g in answers))
        if not own or not self.path.exists():
            return []
        with self._open() as db:
            self._weigh(db, worth)
            db.execute("CREATE TEMP TABLE wanted (given INTEGER PRIMARY KEY, square REAL)")
            rows = [(worth[given] ** 2, complaint, *given) for given in set(answers) if given in worth]
            query = "INSERT INTO wanted SELECT given, ? FROM givens WHERE complaint = ? AND asked = ? AND result = ?"
            db.executemany(query, rows)
            query = f"""
                SELECT m.shared / (c.norm * ?) AS likeness, {_COLUMNS}
                FROM (SELECT a.id, sum(w.square) AS shared FROM wanted w CROSS JOIN answers a ON a.given = w.given GROUP BY a.id) m
                JOIN closed c ON c.id = m.id
                WHERE c.case_id <> ? AND c.case_id NOT LIKE ? AND c.norm > 0
                ORDER BY likeness DESC, c.closed DESC, c.case_id LIMIT ?"""
            found = db.execute(query, (own, alone, f"{alone}.%", most)).fetchall()
            db.execute("DROP TABLE wanted")
        return [_alike(row) for row in found]

    def holding(self, words: str, *, most: int) -> list[Alike]:
        """The closed cases whose notes hold every word, by the index's own order; likeness is 0."""
        wanted = " ".join(f'"{word}"' for word in words.replace('"', " ").split())
        if not wanted or not self.path.exists():
            return []
        query = f"SELECT 0.0, {_COLUMNS} FROM words JOIN closed c ON c.id = words.rowid WHERE words MATCH ? ORDER BY rank LIMIT ?"
        with self._open() as db:
            return [_alike(row) for row in db.execute(query, (wanted, most))]

    def count(self) -> int:
        """How many closed cases there are."""
        if not self.path.exists():
            return 0
        with self._open() as db:
            return int(db.execute("SELECT count(*) FROM closed").fetchone()[0])

    def add(self, db: sqlite3.Connection, one: Summary) -> None:
        """One closed case into the tables."""
        add(db, one)

    def _forget(self, db: sqlite3.Connection, case_id: str) -> None:
        forget(db, case_id)
        db.execute("DELETE FROM files WHERE case_id = ?", (case_id,))

    def _weigh(self, db: sqlite3.Connection, worth: Mapping[Given, float]) -> None:
        """Gives every case the length of its vector, where the weights or the cases are not those of the last time."""
        digest = sha256(json.dumps(sorted((*key, w) for key, w in worth.items())).encode()).hexdigest()
        if db.execute("SELECT value FROM meta WHERE key = 'worth'").fetchone() != (digest,):
            db.execute("UPDATE closed SET norm = NULL")
            db.execute("INSERT OR REPLACE INTO meta VALUES ('worth', ?)", (digest,))
        if db.execute("SELECT 1 FROM closed WHERE norm IS NULL LIMIT 1").fetchone() is None:
            return
        db.execute("CREATE TEMP TABLE worth (asked TEXT, result TEXT, square REAL, PRIMARY KEY (asked, result))")
        db.executemany("INSERT INTO worth VALUES (?, ?, ?)", [(*key, w**2) for key, w in worth.items()])
        db.execute("CREATE TEMP TABLE squares (given INTEGER PRIMARY KEY, square REAL)")
        db.execute("INSERT INTO squares SELECT g.given, w.square FROM givens g JOIN worth w USING (asked, result)")
        db.execute("""
            UPDATE closed SET norm = coalesce((SELECT sqrt(sum(s.square)) FROM answers a
            JOIN squares s ON s.given = a.given WHERE a.id = closed.id), 0) WHERE norm IS NULL""")
        db.execute("DROP TABLE worth")
        db.execute("DROP TABLE squares")

    def tally(self, minutes: Mapping[Timed, float]) -> Tally:
        """What the closed cases add up to; `minutes` are those that the knowledge gives each check and repair."""
        if not self.path.exists():
            return Tally()
        with self._open() as db:
            return tally(db, minutes)

    def shop(self, minutes: Mapping[Timed, float]) -> ShopFigures:
        """What the shop's work adds up to, for the foreman."""
        if not self.path.exists():
            return ShopFigures()
        with self._open() as db:
            return shop_figures(db, minutes)

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        """The file in one transaction; one that is damaged or of another knowledge is made anew. Raises StoreError."""
        try:
            with closing(self._connected()) as db, db:
                yield db
        except sqlite3.Error as error:
            raise StoreError(f"{self.path} cannot be used ({error})", "Delete it: it is made again from the cases.") from None

    def _connected(self) -> sqlite3.Connection:
        for again in (False, True):
            db = sqlite3.connect(self.path, timeout=30)
            db.create_function("sqrt", 1, math.sqrt, deterministic=True)
            try:
                db.execute(f"PRAGMA cache_size = -{CACHE}")
                found = dict(db.execute("SELECT key, value FROM meta WHERE key IN ('format', 'knowledge')"))
                if found == {"format": FORMAT, "knowledge": self.knowledge}:
                    return db
            except sqlite3.DatabaseError as error:
                if "locked" in str(error):
                    raise
            db.close()
            if again:
                break
            self.path.unlink(missing_ok=True)
            with closing(sqlite3.connect(self.path, timeout=30)) as fresh, fresh:
                fresh.executescript(TABLES)
                fresh.executemany("INSERT INTO meta VALUES (?, ?)", [("format", FORMAT), ("knowledge", self.knowledge)])
            self.path.chmod(0o600)
        raise sqlite3.DatabaseError("it does not stay as it was made")


def _alike(row: Sequence[object]) -> Alike:
    likeness, case_id, machine, cause, place, proven, minutes, closed = row
    return Alike(
        str(case_id),
        float(str(likeness)),
        str(machine),
        None if cause is None else str(cause),
        None if place is None else str(place),
        bool(proven),
        float(str(minutes)),
        str(closed),
    )
