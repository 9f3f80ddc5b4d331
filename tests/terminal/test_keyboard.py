"""A paste of several lines answers one question and not the next ones, whatever edits the line on this system."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from types import ModuleType, SimpleNamespace

import pytest

from advisor.terminal import keyboard


@pytest.fixture(autouse=True)
def asked_anew() -> Iterator[None]:
    keyboard._edits.cache_clear()
    yield
    keyboard._edits.cache_clear()


def editing(monkeypatch: pytest.MonkeyPatch, doc: str | None) -> list[str]:
    """A library that edits lines; what it was told. None: there is none."""
    told: list[str] = []
    library = ModuleType("readline", doc)
    library.parse_and_bind = told.append  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "readline", library if doc is not None else None)
    return told


def flushed(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """What was thrown away before a question, on a system with such a call."""
    found: list[int] = []
    calls = SimpleNamespace(TCIFLUSH=7, error=OSError, tcflush=lambda handle, what: found.append(what))
    monkeypatch.setitem(sys.modules, "termios", calls)
    monkeypatch.setattr("sys.stdin", SimpleNamespace(fileno=lambda: 0))
    return found


def test_a_library_that_knows_pastes_is_asked_for_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """Then nothing that was typed ahead is thrown away."""
    told, thrown = (
        editing(monkeypatch, "Importing this module enables command line editing using GNU readline."),
        flushed(monkeypatch),
    )
    keyboard.ready()
    assert told == ["set enable-bracketed-paste on"]
    assert thrown == []


@pytest.mark.skipif(os.name == "nt", reason="another call there")
@pytest.mark.parametrize("doc", [None, "Importing this module enables command line editing using libedit readline."])
def test_without_such_a_library_what_was_pasted_before_a_question_does_not_answer_it(
    doc: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where there is none, and where it is the one of macOS, which knows no paste."""
    editing(monkeypatch, doc)
    thrown = flushed(monkeypatch)
    keyboard.ready()
    keyboard.ready()
    assert thrown == [7, 7]


def test_windows_throws_away_what_was_typed_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sign by sign, until none is left."""
    editing(monkeypatch, None)
    left = list("old\r")
    signs = SimpleNamespace(kbhit=lambda: bool(left), getwch=lambda: left.pop(0))
    monkeypatch.setitem(sys.modules, "msvcrt", signs)
    with monkeypatch.context() as windows:
        windows.setattr(os, "name", "nt")
        keyboard.ready()
    assert left == []
