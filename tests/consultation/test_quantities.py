"""Numbers as people type them."""

from __future__ import annotations

import pytest

from advisor.consultation import counts
from advisor.consultation.quantities import number, volts
from advisor.errors import InputError


@pytest.mark.parametrize(
    ("typed", "value", "unit"),
    [
        ("14 h", 14, "h"), ("20 hours", 20, "h"), ("6,5", 6.5, None), ("6,5 h", 6.5, "h"), ("50 min", 50, "min"),
        ("240 mins", 240, "min"), ("30 tries", 30, "times"), ("4.98V", 4.98, "V"), ("28 mV", 28, "mV"), ("4,98 volts", 4.98, "V"),
        ("2 days", 2, "d"), ("about 14 hours", 14, "h"), ("twice", 2, "times"), ("three times", 3, "times"), ("never", 0, "times"),
        ("1 h 30", 1.5, "h"), ("1:30", 1.5, "h"), ("half an hour", 0.5, "h"), ("2 1/2 days", 2.5, "d"),
        ("two shifts", 2, "shift"),
        ("a week", 1, "week"), ("-3", -3, None), ("12 Ω", 12, "ohm"),
        ("0.6 °", 0.6, "deg"), ("40 per cent", 40, "per-cent"), ("1.2 kΩ", 1.2, "kohm"),
    ],
)  # fmt: skip
def test_units_in_words_and_signs_are_understood(typed: str, value: float, unit: str | None) -> None:
    """As it is said at the machine."""
    assert number(typed) == (value, unit)


@pytest.mark.parametrize("typed", ["", "a", "hours", "1.2.3", "every time", "many times", "1/2", "2 1/2", "30-40", "11.84/11.52"])
def test_what_is_no_number_is_not_guessed(typed: str) -> None:
    """Nothing is stored for a word that holds no number."""
    with pytest.raises(InputError):
        number(typed)


def test_a_unit_that_is_not_known_names_no_other() -> None:
    """A hint at ohms would be a riddle where hours are asked."""
    with pytest.raises(InputError) as refused:
        number("14 moons")
    assert "ohm" not in f"{refused.value.what} {refused.value.hint}"


def test_hours_minutes_and_days_come_to_one_unit() -> None:
    """A working day counts eight hours; the record keeps hours, and minutes for a repair."""
    assert counts.run_hours(90, "min") == 1.5
    assert counts.counted("hours", 2, "d") == 16
    assert counts.counted("hours", 2, "shift") == 16
    assert counts.counted("hours", 2, "week") == 80
    assert counts.run_hours(1, "week") == 40
    assert counts.minutes(1.5, "h") == 90
    assert counts.times(3, "times") == 3


@pytest.mark.parametrize("unit", ["V", "ohm", "h"])
def test_a_unit_of_something_else_is_no_count(unit: str) -> None:
    """Three volts are not three times."""
    with pytest.raises(InputError):
        counts.times(3, unit)


def test_volts_take_both_units_in_one_line() -> None:
    """Each number has its own."""
    assert volts(["4.98V", "28", "mV"]) == [4.98, 0.028]
    assert volts(["11.84/11.52"]) == [11.84, 11.52]


@pytest.mark.parametrize("typed", ["14 h", "4.98V", "28 mV", "1/2", "-3", "6,5", "a week"])
def test_a_count_is_refused_with_what_a_count_is(typed: str) -> None:
    """What was typed is named as people write it, and no unit that has nothing to do with the question."""
    with pytest.raises(InputError) as refused:
        counts.counted("occurrences", *number(typed))
    said = f"{refused.value.what} {refused.value.hint}"
    assert "number" in said
    assert "ohm" not in said
    assert " d " not in said
