"""Events of one reply stand together: a step's moves and its answer are both in the case, or neither is."""

from __future__ import annotations

from pathlib import Path

import pytest
from attacks.dialogues import only_events
from benchmarks.kills import at_every_call
from builders import MORNING

from advisor.model.case import Answered, Event, Moved, Noted, Opened
from advisor.store.folder import CaseStore
from advisor.store.lines import Header, event_line, header_line, rest_of, scan
from advisor.store.transfer import complete_lines, send, take_in, unpack

OPENED = Opened(complaint="motion-without-steering")
REPLY: tuple[Event, ...] = (
    Moved(to={"key": "off"}), Answered(check="coupling-grip", result="tight"), Moved(to={"key": "on"}),
)  # fmt: skip
REPLIES: tuple[tuple[Event, ...], ...] = ((OPENED,), REPLY, (Noted(text="one"),), REPLY)


def a_case(folder: Path) -> tuple[CaseStore, str, bytes]:
    """A case of four replies: the store, its id, and its bytes."""
    store = CaseStore(folder)
    with store.create(OPENED, "d" * 64, MORNING) as case:
        for reply in REPLIES[1:]:
            case.append_all(reply, MORNING)
    return store, case.stored.case_id, case.data


def upto(count: int) -> list[str]:
    """The events of the first replies, as texts."""
    return only_events(tuple(e for reply in REPLIES[:count] for e in reply))


def ends(data: bytes) -> list[int]:
    """Where each reply ends in a file."""
    lines = data.splitlines(keepends=True)
    return [sum(map(len, lines[: n + 1])) for n, line in enumerate(lines) if n and not rest_of(line)]


def test_a_file_cut_at_any_byte_holds_whole_replies(tmp_path: Path) -> None:
    """What stands behind the last whole reply is moved aside, all of it, and the case goes on and verifies."""
    store, name, data = a_case(tmp_path)
    for size in range(ends(data)[0], len(data)):
        store.path(name).write_bytes(data[:size])
        count = sum(end <= size for end in ends(data))
        assert only_events(store.read(name).case.events) == upto(count)
        assert complete_lines(store, name) == data[: ends(data)[count - 1]]
        torn = size - ends(data)[count - 1]
        assert bool(store.read(name).messages) == (store.verify(name).problem is not None) == bool(torn)
    with store.open(name) as case:
        assert "moved to" in case.messages[0]
        case.append(Noted(text="it goes on"), MORNING)
    aside = store.path(name).with_suffix(".torn-1").read_bytes()
    assert data[: ends(data)[2]] + aside == data[:-1]
    assert only_events(store.read(name).case.events) == [*upto(3), *only_events((Noted(text="it goes on"),))]
    assert store.verify(name).problem is None


@pytest.mark.parametrize("line", [2, 3, 4])
def test_a_reply_with_a_damaged_line_is_left_out_whole(line: int, tmp_path: Path) -> None:
    """Neither reading nor a copy of what is sound has its moves without its answer; verify names the very event."""
    store, name, data = a_case(tmp_path)
    lines = data.splitlines(keepends=True)
    lines[line] = lines[line].replace(b'"event"', b'"Event"', 1)
    store.path(name).write_bytes(b"".join(lines))
    assert store.verify(name).good == line - 1
    assert only_events(store.read(name, damaged=True).case.events) == upto(1)
    copied = store.read(store.copy_sound(name))
    assert only_events(copied.case.events) == upto(1)
    assert copied.messages == ()


def test_a_reply_that_lacks_a_line_in_its_middle_is_damaged() -> None:
    """Even where somebody computes every hash anew."""
    lines = [header_line(Header(case="20310304-ab", knowledge="d" * 64, created=MORNING))]
    for number, (event, rest) in enumerate(((OPENED, 0), (REPLY[0], 2), (REPLY[2], 0))):
        lines.append(event_line(number, event, MORNING, lines[-1], rest)[0])
    found = scan("f", "20310304-ab", b"\n".join(lines) + b"\n")
    assert found.problem is not None
    assert "does not go on with the reply" in found.problem.what


def test_a_case_of_an_older_program_is_read_as_before() -> None:
    """Its lines say nothing of replies, so each counts by itself."""
    lines = [header_line(Header(case="20310304-ab", knowledge="d" * 64, created=MORNING))]
    for number, event in enumerate((OPENED, *REPLY)):
        lines.append(event_line(number, event, MORNING, lines[-1])[0])
    assert b"rest" not in b"".join(lines)
    found = scan("f", "20310304-ab", b"\n".join(lines[:-1]) + b"\n")
    assert (found.problem, found.tail, len(found.events)) == (None, b"", 3)


def test_only_whole_replies_travel_and_a_part_of_one_is_replaced_by_the_whole(tmp_path: Path) -> None:
    """A computer whose file was cut within a reply gets the reply from the other, and keeps the part aside."""
    store, name, data = a_case(tmp_path / "a")
    send(store, tmp_path / "whole.zip", [name])
    store.path(name).write_bytes(data[:-3])
    send(store, tmp_path / "part.zip", [name])
    assert unpack(tmp_path / "part.zip") == {name: data[: ends(data)[2]]}
    (taken,) = take_in(store, unpack(tmp_path / "whole.zip"))
    assert (taken.kept_as, taken.did) == (name, "extended")
    assert store.path(name).read_bytes() == data


def test_a_kill_at_any_write_leaves_moves_and_answer_or_neither(tmp_path: Path) -> None:
    """Before a call, half-way through a write, and after it: the case stands exactly where some reply had left it."""
    found = list(at_every_call(seed=3, length=16))
    assert len(found) > 30
    assert [k for k in found if k.lost or k.doubled or not k.whole or k.same is not True] == []


def test_two_kills_in_a_row_leave_no_moves_without_their_answer(tmp_path: Path) -> None:
    """Killed half-way through a reply, gone on with, and killed half-way through the same reply again."""
    store, name, data = a_case(tmp_path)
    for _ in range(2):
        store.path(name).write_bytes(data[:-9])
        with store.open(name) as case:
            assert only_events(case.case.events) == upto(3)
    assert len(list(tmp_path.glob("*.torn-*"))) == 2
