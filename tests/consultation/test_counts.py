"""Counts, hours and minutes: the same limits for what is typed, for a scenario and for a case read again."""

from __future__ import annotations

from typing import Any

import pytest
from builders import scenario, small_knowledge
from terminal.talk import NOT_SAID, talk

from advisor.consultation import counts
from advisor.consultation.again import first_unfit
from advisor.consultation.quantities import number
from advisor.consultation.scenario import events_of, opening, repair, run
from advisor.errors import InputError
from advisor.model.case import HOURS, OCCURRENCES, Case, Opened, Ran, Repaired, Told
from advisor.model.machine import generic_machine

COUPLING = "sensor-coupling-loose"


@pytest.mark.parametrize("given", [-1, 20_000, 2.7, True, "3", None, float("nan"), float("inf"), 10**400, [1], {}])
def test_what_cannot_be_a_number_of_times_is_refused(given: Any) -> None:
    """A negative, broken or impossible count is no count."""
    with pytest.raises(InputError, match="number of times"):
        counts.times(given)


def test_the_most_that_can_be_is_taken_and_one_more_is_not() -> None:
    """Ten thousand times, and ten thousand minutes of one repair."""
    assert counts.times(10_000) == 10_000
    assert counts.minutes(10_000) == 10_000
    for refused in (lambda: counts.times(10_001), lambda: counts.minutes(10_001)):
        with pytest.raises(InputError):
            refused()


@pytest.mark.parametrize("text", ["-3", "2.7", "300mV", "20000", "9" * 400])
def test_typed_and_written_recurrences_meet_the_same_limit(text: str) -> None:
    """What the dialogue refuses is asked again, and the number typed then counts."""
    points = ["yes"] * len(small_knowledge().causes[COUPLING].repair.workmanship)
    slips = ("other coupling-grip", "slips", f"repair {COUPLING}", "done", *NOT_SAID, *points, "yes", "30")
    found = talk(*slips, "retest coupling-grip", "tight", "run 8", text, "1")
    assert [e.recurrences for e in found.stored if isinstance(e, Ran)] == [1]


@pytest.mark.parametrize("given", [-5, 1e30, float("nan"), "an hour", [3], True])
def test_minutes_of_a_repair_that_cannot_be_are_refused(given: Any) -> None:
    """Neither less than none nor longer than a week."""
    with pytest.raises(InputError):
        repair(small_knowledge(), generic_machine(), COUPLING, None, given)


@pytest.mark.parametrize("typed", ["-5", "1e30", "9" * 30, "300 mV"])
def test_minutes_typed_that_cannot_be_are_asked_again(typed: str) -> None:
    """The same limits stand at the prompt."""
    points = ["yes"] * len(small_knowledge().causes[COUPLING].repair.workmanship)
    found = talk("other coupling-grip", "slips", f"repair {COUPLING}", "done", *NOT_SAID, *points, "yes", typed, "40")
    assert [e.minutes for e in found.stored if isinstance(e, Repaired)] == [40]


@pytest.mark.parametrize("given", [-0.5, 100_000, float("inf"), "6", None, True])
def test_hours_run_that_cannot_be_are_refused(given: Any) -> None:
    """Hours run are a number from 0 to what a machine lives."""
    with pytest.raises(InputError):
        run(given)


@pytest.mark.parametrize("intake", [{"occurrences": 20_000, "hours": 5}, {"occurrences": 6, "hours": 1_000_001}])
def test_a_scenario_with_an_impossible_intake_is_refused(intake: dict[str, Any]) -> None:
    """What no prompt would take, no scenario may say: or its typing would never end."""
    with pytest.raises(InputError):
        opening(small_knowledge(), scenario(intake=intake))


def test_a_scenario_with_impossible_minutes_is_refused_before_a_case_is_begun() -> None:
    """The line is named."""
    told = scenario({"check": "coupling-grip", "result": "slips"}, {"repair": COUPLING, "minutes": 1_000_000})
    with pytest.raises(InputError, match=r"answer 2: .*minutes of a repair"):
        list(events_of(small_knowledge(), told))


@pytest.mark.parametrize(
    "event",
    [
        Told(question=OCCURRENCES, number=2.5), Told(question=HOURS, number=0), Told(question="no-such", words=("x",)),
        Told(question="codes", words=("no code",)), Told(question="temperature", words=("purple",)),
    ],
)  # fmt: skip
def test_a_case_that_tells_what_no_prompt_takes_is_named_by_its_event(event: Told) -> None:
    """A file that was edited is held to the same limits."""
    found = first_unfit(small_knowledge(), Case((Opened(complaint="motion-without-steering"), event)))
    assert found is not None
    assert found[0] == 1


@pytest.mark.parametrize("text", ["9" * 400, "1" + "0" * 309, "--3", "²", "1e5"])
def test_a_number_that_no_meter_shows_is_refused_in_one_line(text: str) -> None:
    """However long it is, it is not repeated whole."""
    with pytest.raises(InputError) as refused:
        number(text)
    assert len(refused.value.what) < 100


def test_a_question_read_from_a_file_is_the_one_the_program_knows() -> None:
    """It is another text with the same letters, and its number is held to the same limits."""
    assert counts.counted(OCCURRENCES.encode().decode(), 3) == 3
