"""After a repair: the retest has a verdict, like is compared with like, and closing asks what nobody has said."""

from __future__ import annotations

from builders import small_knowledge
from terminal.talk import NOT_SAID, Talk, talk

from advisor.consultation.retest_words import not_repeated
from advisor.model.case import Answered, Closed, Noted, Opened, Ran, Reading, Retested, fold
from advisor.model.machine import generic_machine

POINTS = len(small_knowledge().causes["sensor-coupling-loose"].repair.workmanship)
REPAIRED = ("other coupling-grip", "slips", "repair sensor-coupling-loose", "done", *NOT_SAID, *["yes"] * POINTS, "yes", "20")
RUN = "load-test supply-a controller sensor"


def flat(said: Talk) -> str:
    return " ".join(said.printed.split())


def closed(said: Talk) -> Closed:
    return next(e for e in said.stored if isinstance(e, Closed))


def test_a_retest_says_its_verdict_and_what_it_was_before() -> None:
    """Passed or failed in so many words, with the result before and now."""
    assert "Retest passed. Before the repair: it turns or rocks on the stem. Now: it is tight." in flat(talk(*REPAIRED, "tight"))
    assert "Retest failed. The fault is still there, and the search goes on." in flat(talk(*REPAIRED, "slips"))


def test_a_load_test_done_again_says_its_volts_before_and_now() -> None:
    """The volts lost before the repair and now stand beside the verdict."""
    said = flat(talk(f"other {RUN}", "11.84 10.54", *REPAIRED, f"retest {RUN}", "11.84 11.74", "1"))
    assert "Retest passed. Before the repair: 1.30 V lost. Now: 0.10 V lost." in said


def test_how_warm_the_machine_is_is_asked_where_numbers_are_compared() -> None:
    """A load test that was done before is compared at the same warmth; Enter says that nobody knows."""
    start = (f"other {RUN}", "11.84 10.54", *REPAIRED, f"retest {RUN}", "11.84 11.74")
    for typed, like in (
        ("colder", "colder"),
        ("cooler", "colder"),
        ("hotter", "warmer"),
        ("the same", "like"),
        ("1", "like"),
        ("", None),
    ):
        done = next(e for e in talk(*start, typed).stored if isinstance(e, Retested))
        assert done.like == like
    assert "How warm is the machine" not in talk(*REPAIRED, "tight").printed


def test_a_failed_test_that_nobody_repeated_is_kept_in_mind() -> None:
    """A load test over its limit before the repair is open until it is done again."""
    over = Reading.model_validate(
        {"circuit": "supply-a", "from": "controller", "to": "sensor", "reference": 11.84, "loaded": 10.54}
    )
    said = talk(f"other {RUN}", "11.84 10.54", *REPAIRED, "tight")
    named = ["load test of supply-a from controller to sensor"]
    assert list(not_repeated(small_knowledge(), generic_machine(), fold(said.case))) == named
    again = said.case.then(Retested(by=over.model_copy(update={"loaded": 11.74})))
    assert list(not_repeated(small_knowledge(), generic_machine(), fold(again))) == []


def test_a_fault_that_came_back_is_asked_for_its_conditions() -> None:
    """Hours, how often, and under which conditions; then the search goes on."""
    said = talk(*REPAIRED, "tight", "run 5", "2", "on a hot day")
    assert [(e.hours, e.recurrences) for e in said.stored if isinstance(e, Ran)] == [(5, 2)]
    assert [e.text for e in said.stored if isinstance(e, Noted)] == ["It came back: on a hot day"]
    assert "-- Run" not in said.printed.rsplit("how it came back> ", 1)[1]


def test_a_fault_that_stayed_away_is_not_asked_for_conditions() -> None:
    """No recurrence, no question."""
    assert "In which work" not in talk(*REPAIRED, "tight", "run 5", "0").printed


def test_a_fault_that_was_always_there_is_looked_for_once_more() -> None:
    """The retest shows the part and not the complaint: one look for the fault closes it, and no hours are asked for."""
    always = Opened(complaint="motion-without-steering", intake={"behaviour": ("always-there",)})
    said = talk(*REPAIRED, "tight", "run 0.2", "0", "close", "foreman", opened=always)
    assert "So one look shows whether it is gone, and no hours are needed." in flat(said)
    assert "The retest passed. The fault was always there, and now it is not." in flat(said)
    assert "Close it all the same?" not in said.printed
    assert closed(said).by == "foreman"


def test_a_fault_that_was_always_there_is_not_closed_on_its_retest_alone() -> None:
    """Who closes without a look for the fault is asked twice."""
    always = Opened(complaint="motion-without-steering", intake={"behaviour": ("always-there",)})
    said = talk(*REPAIRED, "tight", "close", "yes", "foreman", opened=always)
    assert "Nobody looked for the fault itself since the retest, and the record will say so." in flat(said)
    assert "Close it all the same?" in said.printed


def test_closing_asks_for_the_hour_meter() -> None:
    """The hours of the machine are asked once, and go into the record."""
    said = closed(talk(*REPAIRED, "tight", "close", "yes", "foreman", "4321 h"))
    assert (said.by, said.machine_hours) == ("foreman", 4321)


def test_a_slip_at_the_hour_meter_is_asked_again_and_pause_leaves_it_open() -> None:
    """The case is closed although the last question was left."""
    said = talk(*REPAIRED, "tight", "close", "yes", "foreman", "many", "pause")
    assert closed(said).machine_hours is None
    assert "Not taken: 'many' is not a number." in flat(said)


def test_an_answer_kept_before_the_questions_were_asked_is_still_read() -> None:
    """A retest and a closing of an older case have none of them."""
    old = {"event": "retested", "by": {"event": "answered", "check": "coupling-grip", "result": "tight"}}
    assert Retested.model_validate(old).like is None
    assert isinstance(Retested.model_validate(old).by, Answered)
    assert Closed.model_validate({"event": "closed", "cause": None}).machine_hours is None
