"""Lines of a case file: what is written is read back, and every tampering is named by its line."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from hashlib import sha256

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import CaseNewer, InputError
from advisor.model.case import (
    Answered,
    Closed,
    Corrected,
    Event,
    KnowledgeChanged,
    Limited,
    Noted,
    Opened,
    Overridden,
    Ran,
    Reading,
    Reopened,
    Repaired,
    Retested,
    SetupChanged,
    Skipped,
    Undone,
)
from advisor.store.lines import DIGITS, LETTERS, Header, check_code, event_line, header_line, scan

NOON = datetime(2031, 3, 9, 12, 0, 0, 250_000, tzinfo=UTC)
CASE = "20310309-h4"

texts = st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=20)
numbers = st.floats(allow_nan=False, allow_infinity=False)
maybe_text = st.none() | texts
counts = st.integers(0, 10**6)
answers = st.builds(Answered, check=texts, result=texts, place=maybe_text, value=st.none() | numbers, unit=maybe_text)
readings = st.fixed_dictionaries(
    {"circuit": texts, "from": texts, "to": texts, "reference": numbers, "loaded": numbers},
    optional={"load_ohms": numbers, "load_amps": numbers, "adapter": texts, "copper_celsius": numbers},
).map(Reading.model_validate)
plain = st.recursive(
    st.none() | st.booleans() | st.integers() | numbers | texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=6,
)
opened = st.builds(
    Opened, complaint=texts, machine=st.none() | st.dictionaries(texts, plain, max_size=3),
    codes=st.lists(texts, max_size=3).map(tuple), occurrences=st.none() | counts, hours=st.none() | numbers,
    intake=st.dictionaries(texts, st.lists(texts, max_size=2).map(tuple), max_size=3), alone=st.booleans(),
    unavailable=st.lists(texts, max_size=2).map(tuple),
)  # fmt: skip
later: st.SearchStrategy[Event] = st.one_of(
    answers,
    readings,
    st.builds(Skipped, check=texts, place=maybe_text, why=texts),
    st.builds(Undone, number=counts),
    st.builds(Corrected, number=counts, by=answers | readings),
    st.builds(Noted, text=texts),
    st.builds(SetupChanged, setup=texts, entered=st.booleans()),
    st.builds(Limited, what=texts, available=st.booleans()),
    st.builds(
        Repaired, cause=texts, place=maybe_text, minutes=st.none() | numbers, early=st.booleans(),
        points=st.dictionaries(texts, st.booleans(), max_size=2),
    ),
    st.builds(Retested, by=answers | readings),
    st.builds(Ran, hours=st.floats(0, 1e6), recurrences=counts),
    st.builds(Overridden, check=texts, hold=texts),
    st.builds(Closed, cause=maybe_text, place=maybe_text, by=texts, reason=texts),
    st.builds(Reopened, reason=texts),
    st.builds(KnowledgeChanged, digest=texts, before=st.dictionaries(texts, numbers, max_size=2)),
)  # fmt: skip
moments = st.datetimes(min_value=datetime(2020, 1, 1), max_value=datetime(2100, 1, 1), timezones=st.just(UTC))


def written(events: list[Event], at: datetime = NOON) -> bytes:
    """A whole file with these events."""
    lines = [header_line(Header(case=CASE, knowledge="aa" * 32, created=at))]
    for number, event in enumerate(events):
        lines.append(event_line(number, event, at, lines[-1])[0])
    return b"\n".join(lines) + b"\n"


SAMPLE: list[Event] = [
    Opened(complaint="reads-high"),
    Answered(check="visual", result="chafed"),
    Noted(text="Wäsche \u2028 at 4 °C\nsecond line"),
    Ran(hours=3.25),
]


@settings(max_examples=120, deadline=None)
@given(opened, st.lists(later, max_size=4), moments)
def test_events_come_back_as_they_were(first: Opened, rest: list[Event], at: datetime) -> None:
    """Every kind of event, with any text and any number, is read back equal and with the time it was written."""
    contents = scan("f", CASE, written([first, *rest], at))
    assert contents.problem is None
    assert contents.events == tuple(event.model_copy(update={"at": at}) for event in (first, *rest))
    assert contents.tail == b""


@settings(max_examples=60, deadline=None)
@given(st.one_of(opened, later))
def test_the_event_handed_back_is_the_one_that_will_be_read(event: Event) -> None:
    """What the case holds in memory after a write equals what a later reading of the line gives."""
    _, kept = event_line(0, event, NOON, b"x")
    assert kept == event.model_copy(update={"at": NOON})


def test_the_times_are_utc() -> None:
    """A time given in another zone is written as the same moment in UTC, on the line and nowhere else."""
    east = NOON.astimezone(timezone(timedelta(hours=9)))
    line, kept = event_line(0, SAMPLE[0].model_copy(update={"at": NOON - timedelta(days=1)}), east, b"x")
    data = json.loads(line)
    assert data["at"] == "2031-03-09T12:00:00.250000Z"
    assert "at" not in data["event"]
    assert kept.at == NOON


def test_each_line_names_the_one_before() -> None:
    """Every event line carries its number and the hash of the bytes of the line above."""
    lines = written(SAMPLE).split(b"\n")
    for number in range(len(SAMPLE)):
        data = json.loads(lines[number + 1])
        assert data["number"] == number
        assert data["previous"] == sha256(lines[number]).hexdigest()


def test_one_event_is_one_line() -> None:
    """Newlines and line separators inside a note never split its line."""
    assert written(SAMPLE).count(b"\n") == 1 + len(SAMPLE)


@pytest.mark.parametrize(
    "event",
    [
        Noted(text="\udcff"),
        Reading.model_validate({"circuit": "c", "from": "a", "to": "b", "reference": float("nan"), "loaded": 1.0}),
        Reading.model_validate({"circuit": "c", "from": "a", "to": "b", "reference": 1.0, "loaded": float("inf")}),
        Ran(hours=float("inf")),
        Opened(complaint="c", machine={"deep": [{"x": float("nan")}]}),
        Opened(complaint="c", machine={"x": "\ud800"}),
    ],
)
def test_what_no_file_can_hold_is_refused_before_it_is_written(event: Event) -> None:
    """A number that is not finite or half a character is refused; it would be a line nobody can read again."""
    with pytest.raises(InputError, match="cannot be kept"):
        event_line(0, event, NOON, b"x")


def chained(lines: list[bytes]) -> bytes:
    """Lines joined into a file, each given its number and the hash of the one before, but no hash of its own."""
    rows = [lines[0]]
    for line in lines[1:]:
        data = json.loads(line)
        data.pop("own", None)
        data["previous"] = sha256(rows[-1]).hexdigest()
        rows.append(json.dumps(data, separators=(",", ":")).encode())
    return b"\n".join(rows) + b"\n"


def unsealed() -> bytes:
    """The sample as it was written before lines had a hash of their own."""
    return chained(written(SAMPLE).splitlines())


@pytest.mark.parametrize("line", [2, 3, 4, 5])
def test_a_changed_line_is_named(line: int) -> None:
    """An edit that leaves a line readable shows at that line, the very last one too."""
    lines = written(SAMPLE).split(b"\n")
    lines[line - 1] = lines[line - 1].replace(b'"at":"2031', b'"at":"2032')
    contents = scan("f", CASE, b"\n".join(lines))
    assert contents.problem is not None
    assert contents.problem.location.line == line
    assert "changed" in contents.problem.what
    assert len(contents.events) == line - 2


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_no_changed_byte_stays_hidden(data: st.DataObject) -> None:
    """Whichever byte of a file is changed, the reading says so."""
    whole = bytearray(written(SAMPLE))
    place = data.draw(st.integers(0, len(whole) - 1))
    new = data.draw(st.integers(0, 255).filter(lambda byte: byte != whole[place]))
    whole[place] = new
    try:
        contents = scan("f", CASE, bytes(whole))
    except CaseNewer:
        return
    assert contents.problem is not None or contents.tail


def test_lines_of_an_older_program_are_read() -> None:
    """Lines without a hash of their own are read as they are, and lines with one follow them."""
    old = unsealed()
    contents = scan("f", CASE, old)
    assert contents.problem is None
    assert not contents.sealed
    assert contents.events == scan("f", CASE, written(SAMPLE)).events
    line, _ = event_line(len(SAMPLE), SAMPLE[2], NOON, contents.last_line)
    after = scan("f", CASE, old + line + b"\n")
    assert after.problem is None
    assert after.sealed


def test_an_old_line_changed_shows_at_the_line_after_it() -> None:
    """Without a hash of its own, a changed line shows by the chain."""
    problem = scan("f", CASE, unsealed().replace(b"chafed", b"broken")).problem
    assert problem is not None
    assert problem.location.line == 4
    assert problem.what == "the line above was changed after this line was written"


def test_a_hash_of_its_own_cannot_be_taken_off() -> None:
    """Once a line has its own hash, a later line without one was edited."""
    rows = written(SAMPLE).splitlines()
    last = json.loads(rows[-1])
    del last["own"]
    bare = b"\n".join([*rows[:-1], json.dumps(last, separators=(",", ":")).encode()]) + b"\n"
    problem = scan("f", CASE, bare).problem
    assert problem is not None
    assert problem.location.line == len(rows)


def test_a_wrong_number_shows_although_the_chain_holds() -> None:
    """A line that follows the one above but counts wrongly is not what was written."""
    data = written(SAMPLE[:2])
    stray, _ = event_line(7, SAMPLE[2], NOON, data.split(b"\n")[-2])
    problem = scan("f", CASE, data + stray + b"\n").problem
    assert problem is not None
    assert "should be event 2 and says 7" in problem.what


def test_a_changed_header_shows_at_the_first_event() -> None:
    """The header is part of the chain too."""
    data = written(SAMPLE).replace(b"aa" * 32, b"ab" * 32)
    problem = scan("f", CASE, data).problem
    assert problem is not None
    assert problem.location.line == 2


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (lambda rows: rows.pop(2), 3),
        (lambda rows: rows.insert(3, rows[2]), 4),
        (lambda rows: rows.insert(2, rows.pop(3)), 3),
        (lambda rows: rows.insert(2, b""), 3),
    ],
)
def test_a_line_taken_out_added_or_moved_is_named(change: Callable[[list[bytes]], object], line: int) -> None:
    """Missing, doubled, exchanged and blank lines are named where the order breaks."""
    rows = written(SAMPLE).split(b"\n")
    change(rows)
    problem = scan("f", CASE, b"\n".join(rows)).problem
    assert problem is not None
    assert problem.location.line == line


@pytest.mark.parametrize(
    "bad",
    [
        b"", b"{", b"\x00" * 40, b"\xff\xfe", b"[" * 5000, b"{}", b"null", b"[1]", b'{"number":3}',
        b'{"number":3,"at":"2031-03-09T12:00:00Z","previous":"","event":{"event":"sung"}}',
        b'{"number":true,"at":"2031-03-09T12:00:00Z","previous":"","event":{"event":"reopened"}}',
    ],
)  # fmt: skip
def test_a_complete_bad_line_is_named(bad: bytes) -> None:
    """A line that ends with a newline and holds no event is named by file and number."""
    problem = scan("some/file", CASE, written(SAMPLE[:2]) + bad + b"\n").problem
    assert problem is not None
    assert str(problem).startswith("some/file:4:1: this line ")


def test_line_endings_changed_by_another_program_are_seen() -> None:
    """A file whose newlines became carriage return and newline is no longer what was written."""
    problem = scan("f", CASE, written(SAMPLE).replace(b"\n", b"\r\n")).problem
    assert problem is not None


@pytest.mark.parametrize("version", [2, 7])
def test_a_newer_format_is_told_from_damage(version: int) -> None:
    """A later format is refused as newer, whatever else its lines hold."""
    with pytest.raises(CaseNewer, match=f"format {version}"):
        scan("f", CASE, b'{"format":%d,"new":[]}\nwho knows\n' % version)


@pytest.mark.parametrize(
    "data",
    [
        b"", b"\n", b"\n\n", b"\x7fELF\x02\x01\n\x00\xff", b"plain words\n", b"{}\n", b'{"format":"1"}\n',
        b'{"format":0}\n', b'{"format":true}\n', b'{"format":1}\n', b"\xef\xbb\xbf" + written(SAMPLE), b"no newline",
    ],
)  # fmt: skip
def test_what_is_no_case_file_is_said_to_be_none(data: bytes) -> None:
    """Empty, binary and foreign files give one clear line and no events."""
    contents = scan("f", CASE, data)
    assert contents.problem is not None
    assert contents.problem.location.line == 1
    assert contents.events == ()
    assert "\n" not in str(contents.problem)


def test_a_renamed_file_is_told_its_name() -> None:
    """A file under another name than its case is refused, and the right name is given."""
    problem = scan("f", "20310309-x9", written(SAMPLE)).problem
    assert problem is not None
    assert f"{CASE}.jsonl" in problem.hint


def test_the_first_event_must_open_the_case() -> None:
    """A file whose first event is anything else is not what was written."""
    problem = scan("f", CASE, written([Noted(text="no complaint")])).problem
    assert problem is not None
    assert problem.location.line == 2


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=80), st.booleans())
def test_no_bytes_make_the_reading_fail(data: bytes, after_a_case: bool) -> None:
    """Any bytes, alone or after good lines, give contents, never an exception and never a lost event."""
    contents = scan("f", CASE, (written(SAMPLE) if after_a_case else b"") + data)
    assert contents.events == (tuple(e.model_copy(update={"at": NOON}) for e in SAMPLE) if after_a_case else ())
    assert (contents.problem is None) == (after_a_case and b"\n" not in data)


@given(st.binary(max_size=40))
def test_a_check_code_is_four_signs_twice(line: bytes) -> None:
    """Letters and digits that nobody mistakes for others, in two groups for a card."""
    assert re.fullmatch(f"[{LETTERS}{DIGITS}]{{4}}-[{LETTERS}{DIGITS}]{{4}}", check_code(line))


def test_another_line_has_another_check_code() -> None:
    """Over a thousand lines no two are alike, and every sign is used at every place."""
    codes = {check_code(str(n).encode()) for n in range(1000)}
    assert len(codes) == 1000
    assert all({code[at] for code in codes} == set(LETTERS + DIGITS) for at in (0, 1, 2, 3, 5, 6, 7, 8))
