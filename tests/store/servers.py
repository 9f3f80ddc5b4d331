"""A PostgreSQL server of the tests' own, started on a free port from the binaries of the system, and stopped afterwards."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

OWNER, OWNER_PASSWORD = "keeper", "red-42-house"
TECHNICIAN, TECHNICIAN_PASSWORD = "tess", "blue-17-barn"
FOREMAN, FOREMAN_PASSWORD = "frank", "green-88-gate"


def binaries() -> Path | None:
    """Where initdb and postgres are; None without them."""
    found = shutil.which("initdb")
    places = [Path(found).parent] if found else sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((p for p in places if (p / "initdb").exists() and (p / "postgres").exists()), None)


def why_not() -> str:
    """Why no server can be started here; empty when one can."""
    if binaries() is None:
        return "no PostgreSQL server is installed (Debian: apt-get install postgresql)"
    if os.name != "posix":
        return "the tests start a server on POSIX systems only"
    if os.geteuid() == 0 and shutil.which("runuser") is None:
        return "a server does not run as root, and there is no runuser"
    return ""


@dataclass
class Server:
    """A running server: where it is, and its password file."""

    folder: Path
    port: int
    process: subprocess.Popen[bytes]

    @property
    def passwords(self) -> Path:
        return self.folder / "pgpass"

    def url(self, user: str = OWNER, database: str = "cases") -> str:
        return f"postgresql://{user}@127.0.0.1:{self.port}/{database}"

    def run(self, statement: str, database: str = "postgres") -> None:
        """A statement of the owner, outside a transaction."""
        import psycopg

        address = f"host=127.0.0.1 port={self.port} user={OWNER} password={OWNER_PASSWORD} dbname={database}"
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(statement)


def _as_owner(command: list[str]) -> list[str]:
    """The command, as a user under which a server runs."""
    return ["runuser", "-u", "postgres", "--", *command] if os.geteuid() == 0 else command


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def server(*, safe: bool = False) -> Iterator[Server]:
    """A server with the two roles and one empty database `cases`. `safe`: it writes to the disk before it answers."""
    at = binaries()
    assert at is not None
    folder = Path(tempfile.mkdtemp(prefix="advisor-pg-"))
    try:
        (folder / "owner").write_text(OWNER_PASSWORD)
        if os.geteuid() == 0:
            shutil.chown(folder, "postgres")
            shutil.chown(folder / "owner", "postgres")
        data = folder / "data"
        begin = [str(at / "initdb"), "-D", str(data), "-U", OWNER, "--auth=scram-sha-256", f"--pwfile={folder / 'owner'}"]
        subprocess.run(_as_owner([*begin, "-E", "UTF8", "--no-sync"]), check=True, capture_output=True, cwd="/")
        port = _free_port()
        options = [
            "-p",
            str(port),
            "-k",
            str(folder),
            "-h",
            "127.0.0.1",
            "-c",
            f"fsync={'on' if safe else 'off'}",
            "-c",
            "max_connections=120",
        ]
        process = subprocess.Popen(
            _as_owner([str(at / "postgres"), "-D", str(data), *options]),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd="/",
        )
        try:
            yield _prepared(Server(folder, port, process))
        finally:
            process.terminate()  # of runuser, which passes it on
            process.wait(30)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _prepared(found: Server) -> Server:
    """Waits until it answers, then makes roles, the database and the password file."""
    import time

    import psycopg

    for _ in range(300):
        try:
            found.run("SELECT 1")
            break
        except psycopg.OperationalError:
            if found.process.poll() is not None:
                raise
            time.sleep(0.1)
    found.run("CREATE DATABASE cases")
    rows = [(OWNER, OWNER_PASSWORD)]
    for role, password in ((TECHNICIAN, TECHNICIAN_PASSWORD), (FOREMAN, FOREMAN_PASSWORD)):
        found.run(f"CREATE ROLE {role} LOGIN PASSWORD '{password}'")
        rows.append((role, password))
    found.passwords.write_text("".join(f"127.0.0.1:{found.port}:*:{user}:{password}\n" for user, password in rows))
    found.passwords.chmod(0o600)
    return found
