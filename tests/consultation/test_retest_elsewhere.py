"""A retest proves a repair only when it is that repair's own test, at its own place."""

from __future__ import annotations

from typing import Any

import pytest
from builders import small_knowledge, told
from terminal.talk import NOT_SAID, talk

from advisor.consultation.episodes import episodes
from advisor.model.case import Opened, fold


def load(kind: str, circuit: str, end: str, loaded: float) -> dict[str, Any]:
    return {kind: "load-test", "circuit": circuit, "from": "controller", "to": end, "reference": 24.6, "loaded": loaded}


SPLICE = (load("reading", "supply-a", "sensor", 23.2), {"repair": "high-resistance-splice", "place": "splice-7"})
GRIP = ({"check": "coupling-grip", "result": "slips"}, {"repair": "sensor-coupling-loose"})


def stands(*lines: dict[str, Any]) -> str:
    consultation, case = told(*lines)
    return episodes(consultation.knowledge, consultation.machine, fold(case))[-1].standing


@pytest.mark.parametrize(
    ("retest", "found"),
    [
        (load("retest", "supply-a", "sensor", 24.3), "passed"),
        (load("retest", "supply-a", "sensor", 23.2), "failed"),
        (load("retest", "signal-a", "sensor", 24.3), "untested"),  # not through the splice
        (load("retest", "supply-a", "bulkhead", 24.4), "untested"),  # through it, but not the run that was over
        ({"retest": "coupling-grip", "result": "tight"}, "untested"),
    ],
)
def test_a_splice_is_shown_by_the_run_that_was_over(retest: dict[str, Any], found: str) -> None:
    """Another circuit, another run or another test leaves the repair untested; the retest owed stays the next step."""
    assert stands(*SPLICE, retest) == found
    consultation, case = told(*SPLICE, retest)
    step = consultation.assess(case).next
    assert step is not None
    assert (step.kind == "retest") == (found == "untested")


def test_its_own_test_shows_a_repair() -> None:
    """The check that found it, done again."""
    assert stands(*GRIP, {"retest": "coupling-grip", "result": "tight"}) == "passed"


def test_the_dialogue_says_that_another_test_proves_nothing() -> None:
    """Before it is done, in words; nothing typed is lost."""
    points = len(small_knowledge().causes["sensor-coupling-loose"].repair.workmanship)
    start = ("other coupling-grip", "slips", "repair sensor-coupling-loose", "done", *NOT_SAID, *["yes"] * points, "yes", "20")
    said = talk(*start, "retest load-test supply-a controller sensor", "pause")
    assert "It does not prove the repair" in " ".join(said.printed.split())
    assert "the retest stays open" in said.printed


def test_a_retest_before_a_repair_is_refused() -> None:
    """There is nothing to retest yet, and the way to do the test as a check is named."""
    said = talk("retest coupling-grip", "pause")
    assert "nothing was repaired yet" in said.printed
    assert "other CHECK" in said.printed


def test_a_repair_of_what_has_no_share_is_said_and_taken() -> None:
    """The technician decides; the screen says that nothing speaks for it, and that a quiet run is hardly its doing."""
    points = len(small_knowledge().causes["sensor-coupling-loose"].repair.workmanship)
    opened = Opened(complaint="reads-low", occurrences=6, hours=14)
    lines = (
        "other coupling-grip",
        "tight",
        "repair sensor-coupling-loose",
        "done",
        *NOT_SAID,
        *["yes"] * points,
        "yes",
        "20",
        "retest coupling-grip",
        "tight",
        "run 2",
        "0",
        "pause",
    )
    said = talk(*lines, opened=opened)
    text = " ".join(said.printed.split())
    assert "Think again: it is 0.2% likely that the cause is coupling loose on the sensor stem." in text
    assert [e.event for e in said.stored if e.event != "moved"] == ["opened", "answered", "repaired", "retested", "ran"]
    assert "Chance that it is cured: 0.5%" in text


def test_hours_below_zero_are_refused_and_the_case_goes_on() -> None:
    """A run of minus three hours is told in one line; the question stands."""
    said = talk("run -3", "pause")
    assert "'-3' cannot be hours run" in said.printed
    assert len(said.stored) == 1
