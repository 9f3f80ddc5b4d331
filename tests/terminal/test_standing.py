"""How the machine stands is shown on going on with a case, and the person beside it has the last word."""

from __future__ import annotations

import pytest
from terminal.talk import Talk, talk

from advisor.model.case import Answered, Event, Moved, Opened, Undone

OPENED = Opened(complaint="motion-without-steering", occurrences=6, hours=14)
BLOCKED = Moved(move="block-machine", to={"stand": "blocked"})


def resumed(*typed: str, width: int = 80, events: tuple[Event, ...] = (BLOCKED,)) -> Talk:
    return talk(*typed, width=width, stored=[OPENED, *events], resumed=True)


def told(found: Talk) -> list[Moved]:
    return [e for e in found.stored if isinstance(e, Moved) and e.found]


@pytest.mark.parametrize(("events", "stands"), [((BLOCKED,), "Machine blocked against"), ((), "Machine free to roll")])
def test_going_on_shows_how_the_machine_stands(events: tuple[Event, ...], stands: str) -> None:
    """All of it is named, also where nothing was done: a key that was out may be in again."""
    found = resumed("yes", "show", events=events)
    shown, _, _ = found.printed.partition("Does the machine still stand so?")
    assert stands in shown
    assert "Key out" in shown
    assert told(found) == []


def test_what_is_different_is_written_down_and_the_way_begins_there() -> None:
    """Somebody took the blocks away: the case holds it, and the next step that needs them asks for them again."""
    found = resumed("no", "1", "Machine free", "done", "other coupling-grip", "why")
    assert [e.to for e in told(found)] == [{"stand": "free"}]
    assert "First: Block the machine against rolling and folding" in found.printed


@pytest.mark.parametrize("typed", ["", "perhaps", "7"])
def test_no_answer_is_not_taken_for_yes(typed: str) -> None:
    """Hands depend on it: it is asked until somebody says yes or no."""
    found = resumed(typed, "yes", "show")
    assert found.printed.count("Does the machine still stand so?") == 2


def test_back_does_not_take_back_how_it_was_found() -> None:
    """`back` takes the answer back with its moves; what somebody saw of the machine stays."""
    found = resumed("no", "1", "Machine free", "done", "other output-sweep", "smooth", "back")
    gone = {found.stored[e.number].event for e in found.stored if isinstance(e, Undone)}
    assert "answered" in gone
    numbers = {e.number for e in found.stored if isinstance(e, Undone)}
    assert not any(found.stored[n] in told(found) for n in numbers)
    assert any(isinstance(found.stored[n], Answered) for n in numbers)


def test_pause_leaves_at_once() -> None:
    """Somebody who only looked in is not kept."""
    assert resumed("pause").stored == [OPENED, BLOCKED]


def test_the_word_stands_does_the_same_at_any_step() -> None:
    """Not only on going on: machines are moved during a break too."""
    found = talk("stands", "no", "1", "Machine free", "done", stored=[OPENED, BLOCKED])
    assert [e.to for e in told(found)] == [{"stand": "free"}]


def test_forty_columns_are_enough() -> None:
    """No line of it is longer."""
    assert max(map(len, resumed("no", "done", "pause", width=40).printed.splitlines())) <= 40
