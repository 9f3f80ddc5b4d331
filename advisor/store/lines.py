"""The lines of a case file, format 1: bytes to events and back, no files touched.

The first line is the header; every other line holds one event:

    {"format":1,"case":"20260131-h4","knowledge":"<SHA-256>","created":"2026-01-31T09:00:00Z"}
    {"number":0,"at":"2026-01-31T09:00:00Z","previous":"<SHA-256 of the line above>","event":{"event":"opened",...},
     "own":"<SHA-256 of this line without its own>"}

`previous` is taken over the bytes of the line above without its newline, so that a changed, missing or added line shows
at the line after it. `own` shows a change to the line itself, for the very last one has no line after it; lines that
were written before there was an `own` are read without it, but once there is one, every later line must have its own.
What no line can show: lines cut off at the end, and an edit by somebody who computes every hash anew.

Events of one reply belong together. All of their lines but the last say in `"rest":2` how many lines of the reply follow.
A reply that a power cut left without its last line is read as one torn line: all of it counts, or nothing.
A file of a later format is refused by its number; a format 2 would be read by a module of its own beside this one.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from typing import Annotated, Final, Literal, NoReturn

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StrictInt, StringConstraints, ValidationError
from pydantic_core import PydanticSerializationError

from advisor.errors import CaseNewer, InputError, Location, Problem
from advisor.model.case import Event, Opened

FORMAT: Final = 1
ABOVE: Final = "the line above was changed after this line was written"
_OWN: Final = re.compile(rb',"own":"([0-9a-f]{64})"\}\Z')
_REST: Final = re.compile(rb'\{"number":[0-9]+,"at":"[^"]*","previous":"[0-9a-f]{64}","rest":([1-9][0-9]{0,5}),')

CaseId = Annotated[str, StringConstraints(pattern=r"^[0-9]{8}-[a-z0-9]{2,7}$")]


class _AnyHeader(BaseModel):
    """What a header of every format has."""

    model_config = ConfigDict(defer_build=True)

    format: StrictInt = Field(ge=1)


class Header(BaseModel):
    """First line of a case file."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    format: Literal[1] = FORMAT
    case: CaseId
    knowledge: str
    created: AwareDatetime


class _Line(BaseModel):
    """Every other line; the event's time stands on the line and not in the event."""

    # Not-a-number must reach the check in event_line: as `null` it would be a line that cannot be read again.
    model_config = ConfigDict(frozen=True, extra="forbid", ser_json_inf_nan="constants", defer_build=True)

    number: StrictInt
    at: AwareDatetime
    previous: str
    rest: StrictInt | None = Field(default=None, ge=1)
    event: Annotated[Event, Field(discriminator="event")]
    own: str | None = None


@dataclass(frozen=True)
class Contents:
    """What a case file holds: everything before the first bad line, that line's problem, and a torn tail.

    A reply that is not whole at the end is part of the tail. Before a bad line its events are there, and `rests` tells.
    """

    header: Header | None = None
    events: tuple[Event, ...] = ()
    last_line: bytes = b""  # the last line read, without its newline
    tail: bytes = b""  # bytes after the last whole reply
    problem: Problem | None = None
    sealed: bool = False  # the last line read carries its own hash
    rests: tuple[int, ...] = ()  # for each event, how many more of its reply follow

    @property
    def good(self) -> int:
        """How many events stand before the first that is not as it was written."""
        above = self.problem is not None and self.problem.what == ABOVE
        return max(0, len(self.events) - above)

    @property
    def sound(self) -> tuple[Event, ...]:
        """The same events, without a reply of which the rest is damaged."""
        return self.events[: whole_replies(self.rests[: self.good])]


def header_line(header: Header) -> bytes:
    """The header as a line, without its newline."""
    return header.model_dump_json().encode()


def event_line(number: int, event: Event, at: datetime, previous: bytes, rest: int = 0) -> tuple[bytes, Event]:
    """The line for an event, without its newline, and the event as it will be read from that line.

    `at` is an aware time and replaces the event's own; `previous` is the line before, without its newline; `rest` further
    events of the same reply follow. Raises InputError for an event that could not be read back: text that is no Unicode, a
    number that is not finite.
    """
    line = _Line(number=number, at=at.astimezone(UTC), previous=sha256(previous).hexdigest(), rest=rest or None, event=event)
    try:
        text = line.model_dump_json(by_alias=True, exclude_none=True, exclude={"event": {"at"}})
        json.loads(text, parse_constant=_refuse_constant)
        data = text.encode()
        own = f',"own":"{sha256(data).hexdigest()}"}}'.encode()
        return data[:-1] + own, _read_event(data)
    except (ValueError, PydanticSerializationError) as error:
        raise InputError(
            f"this entry ({event.event}) cannot be kept: it holds a character or a number that no file can hold",
            "Type it again with plain letters and ordinary numbers.",
        ) from error


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(name)


def _read_event(line: bytes) -> Event:
    read = _Line.model_validate_json(line)
    return read.event.model_copy(update={"at": read.at})


def scan(path: str, case_id: str, data: bytes) -> Contents:
    """Reads a whole case file, stopping at the first bad line.

    `path` names the file in problems; `case_id` is the id that the file's name stands for: the case's own, or with `.2`
    behind it when another continuation of the case lies beside it. Raises CaseNewer.
    """
    *lines, tail = data.split(b"\n")
    if not data:
        return _bad(path, 1, "the file is empty")
    if not lines:
        return _bad(path, 1, "the first line is not complete; this is no case file")
    header = _read_header(path, case_id, lines[0])
    if isinstance(header, Problem):
        return Contents(problem=header)
    events: list[Event] = []
    rests: list[int] = []
    sealed = False
    for number, line in enumerate(lines[1:]):
        event = _checked_event(line, number, lines[number], sealed, rests[-1] if rests else 0)
        if isinstance(event, str):
            problem = Problem(Location(path, number + 2, 1), event)
            return Contents(header, tuple(events), lines[number], tail, problem, sealed, tuple(rests))
        events.append(event)
        rests.append(rest_of(line))
        sealed = _OWN.search(line) is not None
    whole = whole_replies(rests)
    if not whole:
        return Contents(header, problem=Problem(Location(path, 2, 1), "the event that opens the case is missing"))
    tail = b"".join(line + b"\n" for line in lines[1 + whole :]) + tail
    sealed = _OWN.search(lines[whole]) is not None
    return Contents(header, tuple(events[:whole]), lines[whole], tail, sealed=sealed, rests=tuple(rests[:whole]))


def rest_of(line: bytes) -> int:
    """How many more lines of the same reply follow a line."""
    found = _REST.match(line)
    return int(found[1]) if found else 0


def whole_replies(rests: Sequence[int]) -> int:
    """How many events stand before a reply at the end that is not whole; all of them where it is."""
    whole = len(rests)
    while whole and rests[whole - 1]:
        whole -= 1
    return whole


def parted(data: bytes) -> tuple[bytes, bytes]:
    """The lines of a case up to its last whole reply, and what stands behind them."""
    cut = data.rfind(b"\n") + 1
    while cut and rest_of(data[(above := data.rfind(b"\n", 0, cut - 1) + 1) : cut]):
        cut = above
    return data[:cut], data[cut:]


# Letters and digits that are not mistaken for one another on a dirty screen or in handwriting.
LETTERS: Final = "acdefhjkmnprtuvwxy"
DIGITS: Final = "23456789"


def check_code(last_line: bytes) -> str:
    """Eight letters and digits that stand for a line and so for all lines above it, for a job card: 37 bits of its SHA-256."""
    left, code, signs = int.from_bytes(sha256(last_line).digest(), "big"), "", LETTERS + DIGITS
    for _ in range(8):
        left, sign = divmod(left, len(signs))
        code += signs[sign]
    return f"{code[:4]}-{code[4:]}"


def own_id(case_id: str) -> str:
    """The id a case was given, without the number of a continuation that is kept beside it."""
    return case_id.partition(".")[0]


def _bad(path: str, line: int, what: str) -> Contents:
    return Contents(problem=Problem(Location(path, line, 1), what))


def _read_header(path: str, case_id: str, line: bytes) -> Header | Problem:
    """The header, or what is wrong with it."""
    place = Location(path, 1, 1)
    try:
        version = _AnyHeader.model_validate_json(line).format
        if version > FORMAT:
            raise CaseNewer(f"{path} has format {version}; this program reads format {FORMAT}")
        header = Header.model_validate_json(line)
    except ValidationError:
        return Problem(place, "the first line is no case header; this is no case file")
    if header.case != own_id(case_id):
        return Problem(place, f"the file holds case {header.case}", f"name the file {header.case}.jsonl again")
    return header


def _checked_event(line: bytes, number: int, previous: bytes, sealed: bool, awaited: int) -> Event | str:
    """The event on a line that must have this number and follow that line, or what is wrong with it.

    `sealed`: the line before carries its own hash, so this one must. `awaited`: lines of the same reply that must follow it.
    """
    try:
        read = _Line.model_validate_json(line)
    except ValidationError as error:
        broken = error.errors(include_url=False)[0]["type"] == "json_invalid"
        return "this line is not JSON" if broken else "this line holds no event that format 1 knows"
    if read.number != number:
        return f"this line should be event {number} and says {read.number}; a line was taken out, added or moved"
    own = _OWN.search(line)
    if own is None and (read.own is not None or sealed):
        return "this line was changed after it was written: its own hash is gone"
    if own is not None and own[1] != sha256(line[: own.start()] + b"}").hexdigest().encode():
        return "this line was changed after it was written"
    if read.previous != sha256(previous).hexdigest():
        return ABOVE
    if (read.rest or 0) != rest_of(line) or (awaited and awaited - 1 != (read.rest or 0)):
        return "this line does not go on with the reply of the line above"
    if number == 0 and not isinstance(read.event, Opened):
        return "the first event does not open the case"
    return read.event.model_copy(update={"at": read.at})
