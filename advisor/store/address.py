"""The name of a database to its address: no password in it, and TLS to every other computer."""

from __future__ import annotations

import os
from typing import Final

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from advisor.errors import UsageError

FORMS: Final = "Write sqlite:///FILE or postgresql://USER@COMPUTER/NAME."
_HERE: Final = ("localhost", "127.0.0.1", "::1", "")
_OPEN: Final = ("disable", "allow", "prefer")  # of PostgreSQL's sslmode: what may end without TLS
_DRIVERS: Final = {"sqlite": "sqlite+pysqlite", "postgresql": "postgresql+psycopg"}
_SECRET: Final = ("password", "sslpassword", "passfile")


def address(name: str) -> URL:
    """The address of a store. Raises UsageError; no message repeats a password."""
    try:
        url = make_url(name)
    except (ArgumentError, ValueError):
        raise UsageError("the name of the store cannot be read", FORMS) from None
    backend = url.drivername.partition("+")[0]
    if backend not in _DRIVERS:
        raise UsageError(f"there is no store of the kind '{backend}'", FORMS)
    if url.password is not None or any(key in url.query for key in _SECRET[:2]):
        hint = "Leave it out, and put it into the database's password file (PGPASSFILE, or .pgpass in your home folder)."
        raise UsageError("a password stands in the name of the store", hint)
    if not url.database:
        raise UsageError("the name of the store lacks its last part", FORMS)
    url = url.set(drivername=_DRIVERS[backend])
    return url if backend == "sqlite" else _guarded(url)


def _guarded(url: URL) -> URL:
    """With TLS, the other side's certificate checked, unless the server is on this computer."""
    hosts = [url.host or os.environ.get("PGHOST", ""), os.environ.get("PGHOSTADDR", ""), *_hosts(url)]
    if "service" not in url.query and all(host in _HERE or host.startswith("/") for host in hosts):
        return url
    mode = url.query.get("sslmode")
    if mode in _OPEN:
        raise UsageError(f"sslmode={mode} could send cases in the clear", "Leave sslmode out: the certificate is then checked.")
    return url if mode is not None else url.update_query_dict({"sslmode": "verify-full"})


def _hosts(url: URL) -> list[str]:
    """Computers that the rest of the name speaks of."""
    given = [url.query.get(key, ()) for key in ("host", "hostaddr")]
    named = [one for value in given for one in ([value] if isinstance(value, str) else value)]
    return [host for one in named for host in one.split(",")]
