"""Passwords of shared stores: in the system's keyring, and nowhere else."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import keyring
import pytest
from keyring.backend import KeyringBackend
from keyring.backends.fail import Keyring as NoKeyring
from keyring.errors import PasswordDeleteError
from store.servers import TECHNICIAN, TECHNICIAN_PASSWORD, Server

from advisor.cli import run
from advisor.store.passwords import kept

STORE = "postgresql://tess@yard/cases"


class InMemory(KeyringBackend):
    """A keyring that forgets at the end of the test."""

    priority = 1  # type: ignore[assignment]

    def __init__(self) -> None:
        super().__init__()
        self.held: dict[tuple[str, str], str] = {}

    def get_password(self, service: str, username: str) -> str | None:
        return self.held.get((service, username))

    def set_password(self, service: str, username: str, password: str) -> None:
        self.held[service, username] = password

    def delete_password(self, service: str, username: str) -> None:
        if self.held.pop((service, username), None) is None:
            raise PasswordDeleteError("none")


@pytest.fixture
def ring() -> Iterator[InMemory]:
    before, own = keyring.get_keyring(), InMemory()
    keyring.set_keyring(own)
    yield own
    keyring.set_keyring(before)


def typed(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(text))


def test_a_password_is_kept_in_the_keyring_alone(
    tmp_path: Path, ring: InMemory, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """By the name of the store; nothing of it is on the screen or in a file, and it can be taken away again."""
    monkeypatch.setenv("ADVISOR_CONFIG", str(tmp_path / "config"))
    typed(monkeypatch, "rosebud-9\n")
    assert run(["store", "password", STORE]) == 0
    assert kept(STORE) == "rosebud-9"
    said = capsys.readouterr()
    assert "rosebud-9" not in said.out + said.err
    assert list(tmp_path.iterdir()) == []
    assert run(["store", "password", STORE, "--forget"]) == 0
    assert kept(STORE) is None
    assert run(["store", "password", STORE, "--forget"]) == 1
    assert f"no password is kept for {STORE}" in capsys.readouterr().err


def test_a_computer_without_a_keyring_is_told_of_the_password_file(
    monkeypatch: pytest.MonkeyPatch, ring: InMemory, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line says so, and one says where the password belongs; asking for one finds none."""
    keyring.set_keyring(NoKeyring())
    typed(monkeypatch, "rosebud-9\n")
    assert run(["store", "password", STORE]) == 1
    said = capsys.readouterr().err.splitlines()
    assert said[0] == "advisor: this computer has no keyring that can be used"
    assert said[1].startswith("Put it into the database's password file")
    assert kept(STORE) is None


def test_no_password_and_a_store_without_one_are_refused(
    monkeypatch: pytest.MonkeyPatch, ring: InMemory, capsys: pytest.CaptureFixture[str]
) -> None:
    """An empty line keeps nothing; a store in one file has none to keep."""
    typed(monkeypatch, "\n")
    assert run(["store", "password", STORE]) == 2
    assert "no password was typed" in capsys.readouterr().err
    assert run(["store", "password", "sqlite:////tmp/x.db"]) == 2
    assert ring.held == {}


def test_a_server_takes_the_password_of_the_keyring(
    tmp_path: Path, postgres: tuple[Server, str], ring: InMemory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without any password file."""
    found, name = postgres
    monkeypatch.setenv("PGPASSFILE", str(tmp_path / "none"))
    url = found.url(TECHNICIAN, name)
    assert run(["sync", url, "--data-dir", str(tmp_path / "a")]) == 1
    typed(monkeypatch, f"{TECHNICIAN_PASSWORD}\n")
    assert run(["store", "password", url]) == 0
    assert run(["sync", url, "--data-dir", str(tmp_path / "a")]) == 0
