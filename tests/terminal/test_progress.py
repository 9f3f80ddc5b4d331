"""Long work says on standard error that it goes on: on a terminal only, after a while, and in plain words where asked."""

from __future__ import annotations

import io
import time

import pytest

from advisor.commands import own
from advisor.terminal.progress import Progress, lasting


class Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def shown(stream: io.StringIO, words: str) -> bool:
    """Whether words come to stand on a stream; looked for as long as a slow machine may need."""
    for _ in range(2000):
        if words in stream.getvalue():
            return True
        time.sleep(0.005)
    return False


def test_a_terminal_shows_what_goes_on_and_takes_it_away() -> None:
    """The line names the work, its part and how many are done; at the end it is erased."""
    screen = Screen()
    with Progress("Trial", 40, "machines", screen, first=0.01) as told:
        assert shown(screen, "Trial, 40 machines")
        told(7, "Second trial")
        assert shown(screen, "7/40")
        assert shown(screen, "Second trial")
    assert screen.getvalue().rstrip("\n").endswith(("\x1b[2K", "\x1b[0m", "\x1b[?25h\r\x1b[1A\x1b[2K"))


def test_work_without_a_number_shows_how_long_it_takes() -> None:
    """Where nobody knows how many parts there are, the time that went by stands in the line."""
    screen = Screen()
    with Progress("Working out the record", stream=screen, first=0.01):
        assert shown(screen, "0:00:0")


@pytest.mark.parametrize("spoken", [False, True])
def test_short_work_shows_nothing(spoken: bool) -> None:
    """Before the first two seconds the screen stays as it was."""
    screen = Screen()
    with Progress("Trial", 40, "machines", screen, spoken=spoken, first=3600) as told:
        told(39)
    assert screen.getvalue() == ""


def test_a_pipe_gets_nothing() -> None:
    """A stream that is no terminal is left to messages."""
    pipe = io.StringIO()
    with Progress("Trial", 40, "machines", pipe, first=0.0) as told:
        told(7)
        told.clear()
    assert pipe.getvalue() == ""


def test_a_screen_reader_gets_a_plain_line() -> None:
    """No bar, no sign that moves: one statement, with what is left where it is known."""
    screen = Screen()
    with Progress("Trial", 40, "machines", screen, spoken=True, first=0.01) as told:
        told(10)
        assert shown(screen, "Please wait. 10 of 40 machines done, about ")
    assert "\x1b" not in screen.getvalue()
    assert screen.getvalue().startswith("Trial. Please wait.")
    assert screen.getvalue().endswith(" to go.\n")


def test_the_line_gives_way_to_what_is_printed() -> None:
    """`clear` erases it, and it comes back when the work goes on."""
    screen = Screen()
    with Progress("Keeping in step", stream=screen, first=0.01) as told:
        assert shown(screen, "Keeping in step")
        told.clear()
        screen.truncate(0)
        assert shown(screen, "Keeping in step")


@pytest.mark.parametrize(("term", "accessible", "spoken"), [("xterm", "", False), ("dumb", "", True), ("xterm", "1", True)])
def test_who_gets_plain_lines(term: str, accessible: str, spoken: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """A dumb terminal and a screen reader."""
    monkeypatch.setenv("TERM", term)
    monkeypatch.setenv("ACCESSIBLE", accessible)
    assert own.progress("Trial").spoken is spoken


@pytest.mark.parametrize(("seconds", "words"), [(12.4, "12 s"), (89, "89 s"), (150, "2 min")])
def test_what_is_left_is_told_shortly(seconds: float, words: str) -> None:
    """Seconds up to a minute and a half, then minutes."""
    assert lasting(seconds) == words
