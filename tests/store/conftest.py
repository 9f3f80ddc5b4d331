"""Homes of cases for the tests: folder, SQLite file, and a database of a PostgreSQL server of the tests' own."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from store.servers import FOREMAN, TECHNICIAN, Server, server, why_not

from advisor.store.database import DatabaseHome, database
from advisor.store.folder import CaseStore
from advisor.store.home import FolderHome, Home

_COUNT = itertools.count()


@pytest.fixture(scope="session")
def running_server() -> Iterator[Server]:
    reason = why_not()
    if reason:
        pytest.skip(reason)
    with server() as found:
        yield found


@pytest.fixture
def postgres(running_server: Server, monkeypatch: pytest.MonkeyPatch) -> tuple[Server, str]:
    """The server and the name of a fresh database with the tables and both roles."""
    monkeypatch.setenv("PGPASSFILE", str(running_server.passwords))
    name = f"cases{next(_COUNT)}"
    running_server.run(f"CREATE DATABASE {name}")
    with closing(database(running_server.url(database=name))) as home:
        home.make()
        home.allow(TECHNICIAN, write=True)
        home.allow(FOREMAN, write=False)
    return running_server, name


@pytest.fixture
def sqlite(tmp_path: Path) -> Iterator[DatabaseHome]:
    with closing(database(f"sqlite:///{tmp_path / 'shared.db'}")) as home:
        home.make()
        yield home.open()


@pytest.fixture(params=["folder", "sqlite", "postgres"])
def home(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Home]:
    """Each of the three homes, empty; the PostgreSQL one as the technician sees it."""
    if request.param == "folder":
        yield FolderHome(CaseStore(tmp_path / "shared"))
    elif request.param == "sqlite":
        yield request.getfixturevalue("sqlite")
    else:
        found, name = request.getfixturevalue("postgres")
        with closing(database(found.url(TECHNICIAN, name))) as opened:
            yield opened.open()
