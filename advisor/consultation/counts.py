"""Counts, hours and minutes within what can be true: one home for the dialogue, the scenario and a case read again."""

from __future__ import annotations

import math
from typing import Any, Final

from advisor.errors import InputError
from advisor.model.case import HOURS, OCCURRENCES
from advisor.reasoning.proof import MOST_RECURRENCES

# More is a slip of the fingers; judgements, no source.
MOST_TIMES: Final = MOST_RECURRENCES
MOST_RUN_HOURS: Final = 100_000.0
MOST_MINUTES: Final = 10_000.0  # of one repair: a week, day and night


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
    if unit is not None or found is None or found != int(found) or not 0 <= found <= MOST_TIMES:
        raise InputError(f"{_shown(value, unit)} is not a number of times", f"Type 0, 1, 2 and so on, {MOST_TIMES} at most.")
    return int(found)


def run_hours(value: Any, unit: str | None = None) -> float:
    """Hours run since a repair. Raises InputError."""
    found = _number(value)
    if unit not in (None, "h") or found is None or not 0 <= found < MOST_RUN_HOURS:
        raise InputError(f"{_shown(value, unit)} cannot be hours run", "Give the hours as a number of 0 or more.")
    return found


def minutes(value: Any, unit: str | None = None) -> float | None:
    """Minutes that a repair took; None stays not known. Raises InputError."""
    if value is None:
        return None
    found = _number(value)
    if unit not in (None, "min") or found is None or not 0 <= found <= MOST_MINUTES:
        hint = f"Type minutes from 0 to {MOST_MINUTES:g}, or leave them out."
        raise InputError(f"{_shown(value, unit)} cannot be the minutes of a repair", hint)
    return found


def counted(question: str, value: Any, unit: str | None = None) -> float | None:
    """How often the fault came (OCCURRENCES), or in how many hours of work (HOURS); None stays not known. Raises InputError."""
    if value is None:
        return None
    if question == OCCURRENCES:
        return times(value, unit)
    assert question == HOURS
    found = _number(value)
    if unit not in (None, "h") or found is None or not 0 < found < MOST_RUN_HOURS:
        raise InputError(f"{_shown(value, unit)} cannot be working hours", "Type a number above 0, such as 14.")
    return found


def _shown(value: Any, unit: str | None) -> str:
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return f"'{text if len(text) <= 40 else text[:40] + '...'}{' ' + unit if unit else ''}'"
