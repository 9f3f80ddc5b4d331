"""Counts, hours and minutes within what can be true: one home for the dialogue, the scenario and a case read again."""

from __future__ import annotations

import math
from typing import Any, Final

from advisor.consultation.quantities import number, unit_words
from advisor.errors import InputError
from advisor.model.case import HOURS, OCCURRENCES
from advisor.reasoning.proof import MOST_RECURRENCES

# More is a slip of the fingers; judgements, no source.
MOST_TIMES: Final = MOST_RECURRENCES
MOST_RUN_HOURS: Final = 100_000.0
MOST_MINUTES: Final = 10_000.0  # of one repair: a week, day and night
DAY_HOURS: Final = 8.0  # hours of work in a day that is given as a day; common practice, no source
WEEK_HOURS: Final = 5 * DAY_HOURS  # common practice, no source
_HOURS: Final = {None: 1.0, "h": 1.0, "min": 1 / 60, "d": DAY_HOURS, "shift": DAY_HOURS, "week": WEEK_HOURS}  # of one such unit


def _number(value: Any) -> float | None:
    """A finite number; None for anything else, a truth value too."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        found = float(value)
    except OverflowError:
        return None
    return found if math.isfinite(found) else None


def times(value: Any, unit: str | None = None) -> int:
    """How often something happened. Raises InputError."""
    found = _number(value)
    if unit not in (None, "times") or found is None or found != int(found) or not 0 <= found <= MOST_TIMES:
        raise InputError(f"{_shown(value, unit)} is not a number of times", f"Type 0, 1, 2 and so on, {MOST_TIMES} at most.")
    return int(found)


def run_hours(value: Any, unit: str | None = None) -> float:
    """Hours run since a repair. Raises InputError."""
    found = _number(value)
    if unit not in _HOURS or found is None or not 0 <= found * _HOURS[unit] < MOST_RUN_HOURS:
        raise InputError(
            f"{_shown(value, unit)} cannot be hours run", "Type the hours, such as 6.5 or 6.5 h. A day counts 8 h, a week 40 h."
        )
    return found * _HOURS[unit]


def hours_say(hours: float, text: str) -> str:
    """Hours as they were understood from a text, with what a day or a week counts where those were typed."""
    unit = number(text)[1]
    counts = {
        "d": f"A day counts {DAY_HOURS:g} h",
        "shift": f"A shift counts {DAY_HOURS:g} h",
        "week": f"A week counts {WEEK_HOURS:g} h",
    }
    return f"Taken as {hours:g} hours." + (f" {counts[unit]}." if unit in counts else "")


def hour_meter(value: Any, unit: str | None = None) -> float:
    """What the hour meter of a machine shows. Raises InputError."""
    found = _number(value)
    if unit not in (None, "h") or found is None or not 0 <= found < MOST_RUN_HOURS:
        raise InputError(f"{_shown(value, unit)} cannot be machine hours", "Type what the hour meter shows, such as 4321.")
    return found


def minutes(value: Any, unit: str | None = None) -> float | None:
    """Minutes that a repair took; None stays not known. Raises InputError."""
    if value is None:
        return None
    found = _number(value)
    each = {None: 1.0, "min": 1.0, "h": 60.0}.get(unit)
    if each is None or found is None or not 0 <= found * each <= MOST_MINUTES:
        hint = f"Type minutes from 0 to {MOST_MINUTES:g}, such as 50 or 50 min, or leave them out."
        raise InputError(f"{_shown(value, unit)} cannot be the minutes of a repair", hint)
    return found * each


def counted(question: str, value: Any, unit: str | None = None) -> float | None:
    """How often the fault came (OCCURRENCES), or in how many hours of work (HOURS); None stays not known. Raises InputError."""
    if value is None:
        return None
    if question == OCCURRENCES:
        return times(value, unit)
    assert question == HOURS
    found = _number(value)
    if unit not in _HOURS or found is None or not 0 < found * _HOURS[unit] < MOST_RUN_HOURS:
        hint = "Type a number above 0, such as 14 or 14 h. A day counts 8 h, a week 40 h."
        raise InputError(f"{_shown(value, unit)} cannot be working hours", hint)
    return found * _HOURS[unit]


def _shown(value: Any, unit: str | None) -> str:
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return f"'{text if len(text) <= 40 else text[:40] + '...'}{' ' + unit_words(unit, _number(value) or 0) if unit else ''}'"
