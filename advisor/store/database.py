"""A database as a home of cases, SQLite or PostgreSQL: the home of SQLAlchemy and Alembic, which come with `advisor[shop]`.

Only complete cases come in, some in one transaction, their hash chain checked here and again by the database's own triggers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import URL, Connection, create_engine, event, func, insert, select, text
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from advisor.errors import AdvisorError, NotFound, StoreError
from advisor.store import passwords
from advisor.store.address import address
from advisor.store.arrivals import Arrivals, damage, refused
from advisor.store.home import Kept, Listing
from advisor.store.lines import own_id
from advisor.store.schema import CASES, EVENTS
from advisor.store.transfer import Taken

ASKED: Final = 1000  # cases that one question names
# The locks of a load are taken in one order, so no two loads can wait for each other.
LOCK: Final = """
SELECT pg_advisory_xact_lock(key) FROM (
  SELECT DISTINCT hashtextextended(own, 0) AS key FROM unnest(CAST(:owns AS text[])) AS own ORDER BY key
) AS keys
"""
LAST: Final = select(func.coalesce(func.max(EVENTS.c.arrived), 0))
SECONDS: Final = 30  # how long another writer is waited for
MIGRATIONS: Final = Path(__file__).parent / "migrations"
AGAIN: Final = "Nothing is lost: What arrived is complete. The next sync sends the rest."

# What a database says, in the words of its driver, and what it means.
_TROUBLE: Final = (
    ("cases only grow", "refuses to change a case", "Cases only grow; nothing was changed."),
    ("does not follow from the one above", "refuses a line that was changed", "Verify the case; nothing was changed."),
    (
        "password authentication failed",
        "does not accept the password",
        "Put it into the database's password file, or type: advisor store password STORE",
    ),
    ("no password supplied", "wants a password", "Put it into the database's password file, or type: advisor store password STORE"),
    ("does not exist", "is not there, or not for this user", "Check the name of the store and of the user."),
    ("permission denied", "does not allow that to this user", "Ask the person who keeps the store for the right."),
    ("readonly", "can only be read", "Ask the person who keeps the store, or use another."),
    ("read-only", "can only be read", "Ask the person who keeps the store, or use another."),
    ("is full", "is full", f"Make room there. {AGAIN}"),
    ("no space left", "is full", f"Make room there. {AGAIN}"),
    ("is locked", "is in use by somebody else, and the wait was too long", f"Try again. {AGAIN}"),
    ("not a database", "is no database", "Check the name of the store."),
    ("malformed", "is damaged", "Take its last good copy; nothing was changed here."),
    ("unable to open", "cannot be opened", "Check the name of the store and the permissions."),
)


class DatabaseHome:
    """The cases in a database."""

    def __init__(self, url: URL) -> None:
        self._url = url
        self._lite = url.get_backend_name() == "sqlite"
        options: dict[str, Any] = {"timeout": SECONDS} if self._lite else {"connect_timeout": 10}
        pool: dict[str, Any] = {"poolclass": NullPool} if self._lite else {"pool_size": 1, "max_overflow": 0, "pool_pre_ping": True}
        self._engine = create_engine(url, connect_args=options, **pool)
        if self._lite:
            event.listen(self._engine, "connect", _prepare)
            event.listen(self._engine, "begin", _begin)
        else:
            event.listen(self._engine, "do_connect", self._with_password)

    def _with_password(self, _dialect: Any, _record: Any, _arguments: Any, options: dict[str, Any]) -> None:
        """Hands the server the password of the system's keyring, where one is kept; else its own password file counts."""
        found = passwords.kept(self.name)
        if found is not None:
            options["password"] = found

    def close(self) -> None:
        """Lets go of the server."""
        self._engine.dispose()

    @property
    def name(self) -> str:
        return self._url.set(drivername=self._url.get_backend_name(), query={}).render_as_string(hide_password=True)

    @property
    def has_roles(self) -> bool:
        """Whether the server knows users with rights of their own."""
        return not self._lite

    def make(self) -> None:
        """Makes the tables, or brings older ones up to date. Raises StoreError."""
        if self._lite and self._url.database:
            try:
                Path(self._url.database).parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            except OSError as error:
                raise StoreError(f"{self.name} cannot be made ({error.strerror})", "Choose another place.") from None
        with self._connected(write=True) as connection:
            self._known(connection)
            config = _config()
            config.attributes["connection"] = connection
            command.upgrade(config, "head")

    def allow(self, role: str, *, write: bool) -> None:
        """Gives a role of a PostgreSQL server the right to read, or to read and add. No role may do more. Raises StoreError."""
        with self._connected(write=True) as connection:
            quoted = connection.dialect.identifier_preparer.quote(role)
            rights = "SELECT, INSERT" if write else "SELECT"
            connection.execute(text(f"REVOKE ALL ON cases, events, alembic_version FROM {quoted}"))
            connection.execute(text(f"GRANT {rights} ON cases, events TO {quoted}"))
            connection.execute(text(f"GRANT SELECT ON alembic_version TO {quoted}"))

    def open(self) -> DatabaseHome:
        """Itself, when it is a store that this program knows. Raises NotFound, StoreError."""
        if self._lite and self._url.database and not Path(self._url.database).exists():
            raise NotFound(f"there is no store {self.name}", f"Make one with: advisor store new {self.name}")
        with self._connected() as connection:
            if self._known(connection) != ScriptDirectory.from_config(_config()).get_current_head():
                raise StoreError(f"{self.name} has no tables for cases yet", f"Make them with: advisor store new {self.name}")
        return self

    def _known(self, connection: Connection) -> str | None:
        """The version of the tables, None when there are none. Raises StoreError for one that this program does not know."""
        version = MigrationContext.configure(connection).get_current_revision()
        known = {s.revision for s in ScriptDirectory.from_config(_config()).walk_revisions()}
        if version is not None and version not in known:
            what = f"{self.name} has tables of version {version}; this program knows {max(known)}"
            raise StoreError(what, "Install the newer advisor that made them; nothing was changed.")
        return version

    def kept(self, since: int = 0) -> Listing:
        """The cases with events that arrived since, each with its length and the check of its last line."""
        newest = select(EVENTS.c.kept_as, func.max(EVENTS.c.number).label("number")).where(EVENTS.c.arrived >= since)
        last = newest.group_by(EVENTS.c.kept_as).subquery()
        query = select(EVENTS.c.kept_as, EVENTS.c.number, EVENTS.c.sha).join(
            last, (EVENTS.c.kept_as == last.c.kept_as) & (EVENTS.c.number == last.c.number)
        )
        with self._connected() as connection:
            if self._lite:
                until = int(connection.execute(LAST).scalar_one()) + 1
            else:  # what transactions that are still open will bring is asked for again
                until = int(connection.execute(text("SELECT pg_snapshot_xmin(pg_current_snapshot())::text")).scalar_one())
            rows = connection.execute(query.order_by(EVENTS.c.kept_as)).all()
        return Listing(tuple(Kept(r.kept_as, r.number + 1, r.sha) for r in rows), (), until)

    def held(self, cases: Sequence[Kept]) -> frozenset[Kept]:
        """Those that are here up to that very line."""
        found: set[tuple[str, int]] = set()
        with self._connected() as connection:
            for some in _some([case.head for case in cases]):
                query = select(EVENTS.c.sha, EVENTS.c.number).where(EVENTS.c.sha.in_(some))
                found.update((sha, number) for sha, number in connection.execute(query))
        return frozenset(case for case in cases if (case.head, case.events - 1) in found)

    def lines(self, names: Sequence[str]) -> dict[str, bytes | AdvisorError]:
        """Cases as the bytes of their files."""
        whole: dict[str, list[bytes]] = {}
        with self._connected() as connection:
            for some in _some(names):
                headers = select(CASES.c.kept_as, CASES.c.header).where(CASES.c.kept_as.in_(some))
                whole.update((name, [_bytes(header)]) for name, header in connection.execute(headers))
                query = select(EVENTS.c.kept_as, EVENTS.c.line).where(EVENTS.c.kept_as.in_(some))
                for name, line in connection.execute(query.order_by(EVENTS.c.kept_as, EVENTS.c.number)):
                    whole[name].append(_bytes(line))
        return {name: self._checked(name, whole.get(name, [])) for name in names}

    def _checked(self, name: str, lines: Sequence[bytes]) -> bytes | AdvisorError:
        if not lines:
            return NotFound(f"there is no case {name} in {self.name}", "See them all with: advisor cases")
        data = b"".join(line + b"\n" for line in lines)
        return damage(self.name, name, data) or data

    def take(self, cases: Mapping[str, bytes]) -> list[Taken | AdvisorError]:
        """Takes in several cases in one transaction, which is whole or not at all."""
        bad = {case_id: error for case_id, data in cases.items() if (error := refused(case_id, data)) is not None}
        good = {case_id: data for case_id, data in cases.items() if case_id not in bad}
        taken = dict(zip(good, self._take(good), strict=True)) if good else {}
        return [bad[case_id] if case_id in bad else taken[case_id] for case_id in cases]

    def _take(self, cases: Mapping[str, bytes]) -> list[Taken]:
        owns = sorted({own_id(case_id) for case_id in cases})
        with self._connected(write=True) as connection:
            if not self._lite:
                connection.execute(text(LOCK), {"owns": owns})
            arrivals = Arrivals(self._here(connection, owns), self._next_arrival(connection))
            taken = [arrivals.take(case_id, data) for case_id, data in cases.items()]
            if arrivals.cases:
                connection.execute(insert(CASES), arrivals.cases)
            if arrivals.events:  # in order: each is checked against the one above
                connection.execute(insert(EVENTS), arrivals.events)
        return taken

    def _next_arrival(self, connection: Connection) -> int:
        """The count of transactions; a PostgreSQL server writes its own."""
        return (
            0 if not self._lite else int(connection.execute(select(func.coalesce(func.max(EVENTS.c.arrived), 0))).scalar_one()) + 1
        )

    def _here(self, connection: Connection, owns: Sequence[str]) -> dict[str, dict[str, list[str]]]:
        """The hashes of every continuation of each case, header first, by the name it is kept as."""
        found: dict[str, dict[str, list[str]]] = {own: {} for own in owns}
        query = select(CASES.c.kept_as, CASES.c.own_id, CASES.c.header).where(CASES.c.own_id.in_(owns))
        by_name = {}
        for kept_as, own, header in connection.execute(query):
            by_name[kept_as] = found[own][kept_as] = [sha256(_bytes(header)).hexdigest()]
        if by_name:
            lines = select(EVENTS.c.kept_as, EVENTS.c.sha).where(EVENTS.c.kept_as.in_(list(by_name)))
            for kept_as, sha in connection.execute(lines.order_by(EVENTS.c.kept_as, EVENTS.c.number)):
                by_name[kept_as].append(sha)
        return found

    @contextmanager
    def _connected(self, *, write: bool = False) -> Iterator[Connection]:
        """A connection with one transaction; what the database refuses becomes a StoreError, without any password."""
        try:
            with self._engine.connect().execution_options(advisor_write=write) as connection, connection.begin():
                yield connection
        except DBAPIError as error:
            raise self._told(error) from None
        except SQLAlchemyError as error:
            raise StoreError(f"{self.name} cannot be used ({type(error).__name__})", AGAIN) from None

    def _told(self, error: DBAPIError) -> StoreError:
        said = str(error.orig).lower()
        for words, what, hint in _TROUBLE:
            if words in said:
                return StoreError(f"{self.name} {what}", hint)
        return StoreError(f"{self.name} cannot be reached, or was cut off", f"Check the network and the name. {AGAIN}")


def database(name: str) -> DatabaseHome:
    """The database of this name, not opened yet. Raises UsageError for a name that is none, or that holds a password."""
    return DatabaseHome(address(name))


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def _bytes(value: Any) -> bytes:
    """A stored line. What somebody put there as text or as a number is no line, and the chain then shows it."""
    return bytes(value) if isinstance(value, bytes | memoryview) else str(value).encode()


def _some(values: Sequence[str]) -> Iterator[Sequence[str]]:
    """As many at a time as one question may name."""
    return (values[at : at + ASKED] for at in range(0, len(values), ASKED))


def _prepare(connection: Any, _record: Any) -> None:
    """A fresh connection of SQLite: the hash that its triggers use, constraints kept, and transactions begun by us alone."""
    connection.isolation_level = None
    connection.create_function("sha256", 1, _hashed, deterministic=True)
    connection.execute("PRAGMA foreign_keys = ON")


def _hashed(value: bytes | str) -> str:
    return sha256(value.encode() if isinstance(value, str) else value).hexdigest()


def _begin(connection: Connection) -> None:
    write = connection.get_execution_options().get("advisor_write")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")
