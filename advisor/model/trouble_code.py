"""Trouble codes as a controller or a tool shows them: SPN and FMI named, as a pair, or as the four bytes on the bus.

Layout of the four bytes (SAE J1939-73, version 4, from public test vectors; the standard's own text was not read):

    byte 1  SPN bits 7..0          byte 3  SPN bits 18..16 in bits 7..5, FMI in bits 4..0
    byte 2  SPN bits 15..8         byte 4  conversion method in bit 7, occurrence count in bits 6..0

With the conversion method at 1 the bytes follow one of three older layouts and do not tell which: no SPN is shown.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from advisor.errors import InputError

LARGEST_SPN = 2**19 - 1
LARGEST_FMI = 31
COUNT_NOT_AVAILABLE = 127  # from memory, no source read; taken as unknown, so that it never shortens the run afterwards

_HINT = "Write it as SPN 1208 FMI 3 OC 10, as 1208/3, or as its four bytes: B8 04 03 0A."
_LABELLED = re.compile(r"(?:(?:SPN|FMI|OC)[\s:=#]*[0-9]+[\s,;/.]*)+", re.IGNORECASE)
_LABEL = re.compile(r"(SPN|FMI|OC)[\s:=#]*([0-9]+)", re.IGNORECASE)
_PAIR = re.compile(r"([0-9]+)\s*[/.,;:]\s*([0-9]+)(?:[\s,;/]+OC[\s:=#]*([0-9]+))?", re.IGNORECASE)
_BYTES = re.compile(r"(?:(?:0x)?[0-9a-f]{1,2}[\s,;:-]+)+(?:0x)?[0-9a-f]{1,2}", re.IGNORECASE)
_JOINED_BYTES = re.compile(r"(?:0x)?[0-9a-f]{8}", re.IGNORECASE)


@dataclass(frozen=True)
class TroubleCode:
    """One trouble code; `spn` is None when the bytes do not tell it, `occurrences` when no count was given.

    `raw` is the text as typed, or the four bytes as "B8 04 03 0A" when bytes were typed.
    """

    spn: int | None
    fmi: int
    occurrences: int | None
    ambiguous: bool
    raw: str


def parse_code(text: str) -> TroubleCode:
    """Reads a trouble code as typed. Raises InputError that says what is wrong and what would be right."""
    typed = text.strip()
    if _LABELLED.fullmatch(typed):
        return _from_labels(typed)
    if pair := _PAIR.fullmatch(typed):
        spn, fmi, count = pair.groups()
        return _checked(spn, fmi, count, typed)
    if _JOINED_BYTES.fullmatch(typed):
        if typed.isdigit():
            raise InputError(
                f"{typed} can be four bytes or an SPN and an FMI written together",
                f"Write the bytes apart: {bytes.fromhex(typed).hex(' ')}, or put a / between SPN and FMI.",
            )
        return decode(bytes.fromhex(typed[-8:]))
    if _BYTES.fullmatch(typed):
        parts = re.split(r"[\s,;:-]+", typed)
        return decode(bytes(int(part, 16) for part in parts))
    raise InputError(f"{_shown(typed)} is no fault code", _HINT)


def decode(data: bytes) -> TroubleCode:
    """Reads the four bytes of one trouble code. Raises InputError for another length and for bytes without a fault."""
    if len(data) == 8:
        raise InputError(
            "eight bytes are a whole message: two bytes of lamps, then the fault code",
            f"Give bytes 3 to 6 alone: {data[2:6].hex(' ').upper()}.",
        )
    if len(data) != 4:
        raise InputError(f"a fault code has four bytes; {len(data)} were given", _HINT)
    raw = data.hex(" ").upper()
    if data == b"\xff\xff\xff\xff":
        raise InputError(f"{raw} is padding, not a fault", "Leave it out; the code stands in the bytes before it.")
    if data == b"\x00\x00\x00\x00":
        raise InputError(f"{raw} says that no fault is active", "Leave it out.")
    ambiguous = bool(data[3] & 0x80)
    spn = None if ambiguous else data[0] | data[1] << 8 | (data[2] & 0xE0) << 11
    count = data[3] & 0x7F
    return TroubleCode(spn, data[2] & 0x1F, None if count == COUNT_NOT_AVAILABLE else count, ambiguous, raw)


def encode(code: TroubleCode) -> bytes:
    """The four bytes of a code; an ambiguous one gives back the bytes it was read from."""
    if code.spn is None:
        return bytes.fromhex(code.raw)
    count = COUNT_NOT_AVAILABLE if code.occurrences is None else code.occurrences
    return bytes((code.spn & 0xFF, code.spn >> 8 & 0xFF, (code.spn >> 11 & 0xE0) | code.fmi, count))


def _from_labels(typed: str) -> TroubleCode:
    numbers: dict[str, str] = {}
    for label, number in _LABEL.findall(typed):
        name = label.upper()
        if name in numbers:
            raise InputError(f"{name} is given twice in {_shown(typed)}", "Enter one code at a time.")
        numbers[name] = number
    for name in ("SPN", "FMI"):
        if name not in numbers:
            raise InputError(f"{_shown(typed)} has no {name}", _HINT)
    return _checked(numbers["SPN"], numbers["FMI"], numbers.get("OC"), typed)


def _checked(spn: str, fmi: str, count: str | None, typed: str) -> TroubleCode:
    occurrences = None if count is None else _number("OC", count, COUNT_NOT_AVAILABLE)
    if occurrences == COUNT_NOT_AVAILABLE:
        occurrences = None
    return TroubleCode(_number("SPN", spn, LARGEST_SPN), _number("FMI", fmi, LARGEST_FMI), occurrences, ambiguous=False, raw=typed)


def _number(name: str, digits: str, largest: int) -> int:
    # The length is looked at first: turning thousands of digits into a number is refused by Python itself.
    if len(digits.lstrip("0")) > len(str(largest)) or int(digits) > largest:
        raise InputError(
            f"{name} {_short(digits)} cannot be: {name} goes from 0 to {largest}", f"Read {name} again on the display."
        )
    return int(digits)


def _shown(typed: str) -> str:
    """What was typed, short and without control characters, for a message of one line."""
    return repr(_short(typed))


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "..."
