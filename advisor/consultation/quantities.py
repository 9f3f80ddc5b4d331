"""Numbers as people type them: with units in words or signs, a comma, a word before them, or the number as a word."""

from __future__ import annotations

import math
import re

from advisor.errors import InputError, short

# How people write units.
_UNITS = {
    "v": "V", "volt": "V", "volts": "V", "mv": "mV", "millivolt": "mV", "millivolts": "mV",
    "ohm": "ohm", "ohms": "ohm", "\u03c9": "ohm", "r": "ohm", "kohm": "kohm", "k": "kohm", "k\u03c9": "kohm",
    "kiloohm": "kohm", "kilo-ohm": "kohm",
    "a": "A", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A", "ma": "mA", "milliamp": "mA", "milliamps": "mA",
    "mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "deg": "deg", "degree": "deg", "degrees": "deg", "\u00b0": "deg", "bar": "bar", "bars": "bar",
    "%": "per-cent", "per-cent": "per-cent", "percent": "per-cent", "per cent": "per-cent", "hz": "Hz", "hertz": "Hz",
    "degc": "degC", "c": "degC", "\u00b0c": "degC", "deg c": "degC", "degrees c": "degC", "celsius": "degC",
    "h": "h", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "working hours": "h",
    "min": "min", "mins": "min", "minute": "min", "minutes": "min", "d": "d", "day": "d", "days": "d", "working days": "d",
    "shift": "shift", "shifts": "shift", "week": "week", "weeks": "week", "wk": "week", "wks": "week",
    "x": "times", "time": "times", "times": "times", "try": "times", "tries": "times",
}  # fmt: skip
_ABOUT = re.compile(r"^(about|around|roughly|approx\.?|nearly|some|ca\.?|circa|~|\u2248)\s*", re.IGNORECASE)
_SPOKEN = {
    word: number
    for number, word in enumerate(
        ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]
    )
} | {"once": 1, "twice": 2, "thrice": 3, "never": 0, "none": 0, "a": 1, "an": 1, "dozen": 12}  # fmt: skip
_ALONE = ("once", "twice", "thrice", "never")  # these hold their unit
_CLOCK = re.compile(r"(\d{1,5})(?: ?(?:h|hr|hrs|hour|hours) ?|:)(\d{1,2}) ?(?:min|mins|minutes|m)?\.?", re.IGNORECASE)
_PART = re.compile(r"(?:(\d{1,5}) (?:and )?)?([1-9])/([1-9]) (.+)")
_HALF = re.compile(r"half (?:an?|of an?) (.+)", re.IGNORECASE)
_NOT_ONE = "/:\u2013\u2026"  # after digits: two numbers, or a range


def number(text: str) -> tuple[float, str | None]:
    """A number with an optional unit: `4.71`, `4,71 V`, `300mV`, `about 14 hours`, `twice`. Raises InputError."""
    kept = _ABOUT.sub("", text.strip()).replace(",", ".").replace("\N{OHM SIGN}", "\u03c9")
    time = _spoken_time(kept)
    if time is not None:
        return time
    first, _, rest = kept.partition(" ")
    if first.lower() in _SPOKEN and (rest or first.lower() not in ("a", "an")):
        value, unit = float(_SPOKEN[first.lower()]), rest.strip()
        return value, _unit(unit) if unit else "times" if first.lower() in _ALONE else None
    split = next((i for i, c in enumerate(kept) if c not in "+-.0123456789"), len(kept))
    head, unit = kept[:split], kept[split:].strip()
    if head and any(sign in unit for sign in _NOT_ONE):
        raise InputError(f"'{short(text)}' is not one number", "Type one number, with or without its unit.")
    try:
        value = float(head)
        if not math.isfinite(value):  # four hundred nines
            raise ValueError
    except ValueError:
        raise InputError(f"'{short(text)}' is not a number", "Type the number, with or without its unit.") from None
    return value, _unit(unit) if unit else None


def _spoken_time(text: str) -> tuple[float, str] | None:
    """Hours and minutes, a half and other parts of a unit: `1 h 30`, `1:30`, `half an hour`, `2 1/2 days`; None for others."""
    if clock := _CLOCK.fullmatch(text):
        return int(clock[1]) + int(clock[2]) / 60, "h"
    if half := _HALF.fullmatch(text):
        return 0.5, _unit(half[1])
    if part := _PART.fullmatch(text):
        return int(part[1] or 0) + int(part[2]) / int(part[3]), _unit(part[4])
    return None


def spoken_number(text: str) -> bool:
    """Whether a text without digits begins with a number in words."""
    return (text.lower().split() or [""])[0] in _SPOKEN.keys() - {"a", "an", "none", "never"}


def unit_words(unit: str, value: float = 0) -> str:
    """A unit as people write it after a value."""
    words = {"d": "days", "per-cent": "%", "shift": "shifts", "week": "weeks"}.get(unit, unit)
    return words.removesuffix("s") if value == 1 else words


def _unit(text: str) -> str:
    found = _UNITS.get(text.lower().rstrip("."))
    if found is None:
        raise InputError(
            f"'{short(text)}' is not a unit known here", "Type the number alone, or with a unit that fits the question."
        )
    return found


def volts(words: list[str]) -> list[float]:
    """Voltages as typed, each with or without its unit: `11.84 11.52`, `11.84 V 11.52 V`, `420mV`. Raises InputError."""
    joined: list[str] = []
    for word in (part for w in words for part in re.split(r"[/;]", w) if part):
        if joined and not any(c.isdigit() for c in word):
            joined[-1] += f" {word}"
        else:
            joined.append(word)
    found = []
    for word in joined:
        value, unit = number(word)
        if unit not in (None, "V", "mV"):
            raise InputError(f"'{short(word)}' is not a voltage", "Type both readings in volts.")
        found.append(value / 1000 if unit == "mV" else value)
    return found
