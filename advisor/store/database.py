"""A database as a home of cases, SQLite or PostgreSQL: the home of SQLAlchemy and Alembic, which come with `advisor[shop]`.

Only complete cases come in, one a transaction, their hash chain checked here and again by the database's own triggers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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

from advisor.errors import CaseDamaged, InputError, NotFound, StoreError
from advisor.store import passwords
from advisor.store.address import address
from advisor.store.home import Kept, Listing, heads
from advisor.store.lines import own_id, scan
from advisor.store.schema import CASES, EVENTS
from advisor.store.transfer import Taken

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
                until = int(connection.execute(select(func.coalesce(func.max(EVENTS.c.arrived), 0))).scalar_one()) + 1
            else:  # what transactions that are still open will bring is asked for again
                until = int(connection.execute(text("SELECT pg_snapshot_xmin(pg_current_snapshot())::text")).scalar_one())
            rows = connection.execute(query.order_by(EVENTS.c.kept_as)).all()
        return Listing(tuple(Kept(r.kept_as, r.number + 1, r.sha) for r in rows), (), until)

    def holds(self, case: Kept) -> bool:
        """Whether a case is here up to that very line."""
        query = select(EVENTS.c.kept_as).where(EVENTS.c.sha == case.head, EVENTS.c.number == case.events - 1).limit(1)
        with self._connected() as connection:
            return connection.execute(query).first() is not None

    def lines(self, kept_as: str) -> bytes:
        """A case as the bytes of its file."""
        with self._connected() as connection:
            header = connection.execute(select(CASES.c.header).where(CASES.c.kept_as == kept_as)).scalar_one_or_none()
            query = select(EVENTS.c.line).where(EVENTS.c.kept_as == kept_as).order_by(EVENTS.c.number)
            rows = connection.execute(query).scalars().all()
        if header is None:
            raise NotFound(f"there is no case {kept_as} in {self.name}", "See them all with: advisor cases")
        data = b"".join(_bytes(line) + b"\n" for line in (header, *rows))
        found = scan(f"{self.name}: {kept_as}", kept_as, data)
        if found.problem is not None:
            raise CaseDamaged(str(found.problem))
        return data

    def take(self, case_id: str, data: bytes) -> Taken:
        found = scan(case_id, case_id, data)
        if found.problem is not None or found.tail:
            raise InputError(str(found.problem or f"{case_id}: the last line is not complete"), "Nothing of it was taken in.")
        own, shas = own_id(case_id), heads(data)
        with self._connected(write=True) as connection:
            if not self._lite:  # one lock a transaction, so no two can wait for each other
                connection.execute(text("SELECT pg_advisory_xact_lock(hashtextextended(:own, 0))"), {"own": own})
            here = self._here(connection, own)
            alike = {name: _alike(have, shas) for name, have in here.items()}
            for name, have in here.items():
                if alike[name] == len(shas):
                    return Taken(case_id, name, "same" if len(have) == len(shas) else "longer-here", len(shas) - 1)
                if alike[name] == len(have):
                    self._add(connection, name, data, shas, len(have))
                    return Taken(case_id, name, "extended", len(shas) - 1, len(have) - 1)
            name = next(n for n in (own, *(f"{own}.{i}" for i in range(2, 10_000))) if n not in here)
            connection.execute(insert(CASES).values(kept_as=name, own_id=own, header=data.split(b"\n", 1)[0]))
            self._add(connection, name, data, shas, 1)
        most = max(0, max(alike.values(), default=0) - 1)
        return Taken(case_id, name, "beside" if here else "added", len(shas) - 1, most)

    def _here(self, connection: Connection, own: str) -> dict[str, list[str]]:
        """The hashes of every continuation of a case, header first, by the name it is kept as, in the order they came."""
        cases = connection.execute(select(CASES.c.kept_as, CASES.c.header).where(CASES.c.own_id == own)).all()
        found = {}
        for kept_as, header in sorted(cases, key=lambda row: int(row[0].partition(".")[2] or 1)):
            query = select(EVENTS.c.sha).where(EVENTS.c.kept_as == kept_as).order_by(EVENTS.c.number)
            found[kept_as] = [sha256(_bytes(header)).hexdigest(), *connection.execute(query).scalars()]
        return found

    def _add(self, connection: Connection, name: str, data: bytes, shas: Sequence[str], first: int) -> None:
        """Inserts the lines from `first` on; the header is line 0."""
        arrived = 0  # a PostgreSQL server writes the number of the transaction itself
        if self._lite:
            arrived = int(connection.execute(select(func.coalesce(func.max(EVENTS.c.arrived), 0))).scalar_one()) + 1
        lines = data.split(b"\n")[:-1]
        rows = [
            {"kept_as": name, "number": n - 1, "line": lines[n], "sha": shas[n], "arrived": arrived}
            for n in range(first, len(lines))
        ]
        for row in rows:  # one by one and in order: each is checked against the one above
            connection.execute(insert(EVENTS).values(**row))

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


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    """Lines at the beginning that are the same in both, the header with them."""
    same = 0
    for a, b in zip(one, other, strict=False):
        if a != b:
            break
        same += 1
    return same


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
