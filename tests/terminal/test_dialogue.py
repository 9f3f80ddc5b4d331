"""The session: every word at the prompt, and what bad input gets."""

from __future__ import annotations

import re

import pytest
from builders import small_knowledge as small
from terminal.talk import NOT_SAID, talk

from advisor.errors import ExitCode
from advisor.model.case import (
    Answered,
    Corrected,
    Limited,
    Noted,
    Overridden,
    Ran,
    Reading,
    Repaired,
    Retested,
    Skipped,
    Undone,
    fold,
)


def test_an_answer_is_stored_and_the_ranking_says_in_words_what_moved() -> None:
    """An answer by number is stored as an event; each line of the ranking shows its share, and words say where it moved."""
    said = talk("other coupling-grip", "1")
    answer = next(e for e in said.stored if isinstance(e, Answered))
    assert (answer.check, answer.result) == ("coupling-grip", "slips")
    after = said.printed.rsplit("Likely causes", 1)[1]
    assert " 1. " in after
    assert re.search(r"1\. +\d+% [#.]+ (far )?up +Coupling loose", after)
    assert not re.search(r" [+-]\d", after.split("-- Repair")[0])


def test_the_cautions_stand_before_the_steps_and_the_question() -> None:
    """Cautions come first, then the setup, then the steps, then the question."""
    said = talk("other load-test supply-a controller sensor").printed
    shown = said[said.index("Load test of a circuit between two points: supply-a") :]
    order = [shown.index(word) for word in ("! CAUTION", "First: ", "Do:", "reference volts, then loaded volts?")]
    assert order == sorted(order)


def test_why_names_each_result_and_the_next_best_checks() -> None:
    """`why` says how likely each result is, what it would lead to, and what else could be done at what price."""
    said = talk("why").printed
    assert "leads with" in said
    assert "Instead: " in said
    assert "min to the end" in said


def test_after_a_word_only_the_question_is_repeated() -> None:
    """A word such as `why` does not print all the steps of the check a second time."""
    said = talk("why").printed
    assert said.count("-- Next") == 1
    assert said.rstrip().endswith("does the coupling turn or rock on its stem?")


def test_answers_that_stand_near_above_are_not_printed_again() -> None:
    """After a note and one refusal the question alone is asked; after a second refusal its answers stand with it again."""
    said = talk("note hot today", "rubbish").printed
    assert said.count("  1  It turns or rocks") == said.count("[why skip other back") == 1
    assert said.count("does the coupling turn or rock on its stem?") == 3
    assert talk("rubbish", "rubbish").printed.count("  1  It turns or rocks") == 2


def test_answers_that_have_left_the_screen_are_printed_again() -> None:
    """After the long list of words nobody sees them any more."""
    said = talk("help").printed
    assert said.count("  1  It turns or rocks") == said.count("[why skip other back") == 2


def test_why_fits_one_screen_with_its_question_and_why_all_tells_the_rest() -> None:
    """What waits, and what the other steps tell, comes only when it is asked for; how sure the leader is, too."""
    said = talk("why", "why all").printed
    short, whole = said.split("answer> why\n")[1].split("answer> why all\n")
    assert len(short.splitlines()) < 24
    assert "Most likely now: 29% coupling loose on the sensor stem" in short
    assert "why all: " in short
    assert "Wait until" not in short
    assert "Wait until" in whole
    assert "with one estimate changed" not in short
    assert "with one estimate changed" in whole


def test_back_takes_the_last_answer_back_and_keeps_it_visible() -> None:
    """`back` undoes the last answer; the event stays in the case and the ranking is as before."""
    said = talk("other coupling-grip", "slips", "back")
    assert isinstance(said.stored[-1], Undone)
    assert fold(said.case).answers == {}
    assert any(isinstance(e, Answered) for e in said.stored)


def test_back_with_nothing_to_take_back_says_so() -> None:
    """`back` on a fresh case is one line that says what and one that says what to do."""
    assert "Not taken: nothing is left to take back." in talk("back").printed


def test_skip_leaves_the_step_out_and_asks_something_else() -> None:
    """A skipped check is not asked again."""
    said = talk("skip")
    left_out = next(e for e in said.stored if isinstance(e, Skipped))
    title = small().checks[left_out.check].title
    assert title not in said.printed.rsplit("-- Next", 1)[1]


def test_a_note_is_stored_word_for_word() -> None:
    """`note` keeps what was typed."""
    said = talk("note odd [red] tape near the hinge")
    assert said.stored[-1] == Noted(text="odd [red] tape near the hinge")


def test_show_lists_what_was_done() -> None:
    """`show` prints the ranking and every event so far."""
    said = talk("other wiggle-harness", "2", "show").printed
    assert "Done so far" in said
    assert small().checks["wiggle-harness"].title in said.rsplit("Done so far", 1)[1]


def test_help_explains_every_word_of_the_prompt() -> None:
    """Each word that the prompt offers has a line in the help."""
    said = talk("help").printed
    for word in ("why", "skip", "other", "back", "note", "show", "pause"):
        assert f"  {word}" in said


def test_correct_replaces_an_answer() -> None:
    """`correct` changes an earlier answer and both stay in the case."""
    said = talk("other coupling-grip", "slips", "correct coupling-grip = tight")
    assert isinstance(said.stored[-1], Corrected)
    assert [a.result for a in fold(said.case).answers.values()] == ["tight"]


def test_a_missing_tool_routes_the_plan_around_it() -> None:
    """After `missing load-resistor` no load test is recommended or listed among the alternatives."""
    said = talk("missing load-resistor", "why")
    assert said.stored[-1] == Limited(what="load-resistor")
    assert "load-test" not in said.printed.rsplit("-- Next", 1)[1]


def test_going_on_against_a_hold_is_written_down() -> None:
    """A check done although a rule says to wait is taken, and the case says that it was."""
    said = talk("other load-test supply-a controller sensor", "11.84 11.10")
    assert any(isinstance(e, Overridden) for e in said.stored)
    assert any(isinstance(e, Reading) for e in said.stored)
    assert "A rule says: wait until" in said.printed


def test_what_waits_is_named_in_words() -> None:
    """A held stage is not named by its id, and what it waits for is part of the sentence."""
    said = " ".join(talk("why all").printed.split())
    assert "Wait until the harness was moved with everything plugged in: checks that unplug something." in said


def test_only_the_repairs_of_likely_causes_are_said_to_wait() -> None:
    """What the repair of a cause waits for is told while the cause holds 5% or more; the others are counted."""
    assert ": repair of fault inside the sensor." in " ".join(talk("why all").printed.split())
    said = talk("other coupling-grip", "it turns", "why all").printed.rsplit("> why", 1)[1]
    assert "repair of fault inside the sensor" not in said
    assert "1 unlikely repair not listed (below 5%)." in said


def test_a_load_test_is_explained_in_volts_and_ohms() -> None:
    """A reading over the limit says the drop, the limit, the certainty, the ohms, and what it does to the sensor."""
    said = talk("other load-test supply-a controller sensor", "11.84 11.10").printed
    assert "0.74 V dropped, 0.45 V allowed" in said
    assert "ohm too much" in said
    assert "degrees" in said


@pytest.mark.parametrize(
    ("typed", "line"),
    [
        ("11.10 11.84", "swapped"),
        ("11840 11520", "V"),
        ("11.84", "a load test has two readings"),
        ("green 11", "'green' is not a number"),
        ("11.84 11.10 lead=b", "'lead' does not belong to a load test"),
        ("11.84 A 11", "'11.84 A' is not a voltage"),
    ],
)
def test_a_bad_reading_is_refused_and_the_case_keeps_its_place(typed: str, line: str) -> None:
    """A reading that cannot be is refused in one line, and nothing is stored."""
    said = talk("other load-test supply-a controller sensor", typed)
    refused = said.printed.rsplit("Not taken: ", 1)[1]
    assert line in refused
    assert not any(isinstance(e, Reading) for e in said.stored)


def test_an_answer_that_is_none_names_the_nearest() -> None:
    """A misspelt answer is refused with the nearest right one."""
    said = talk("other coupling-grip", "slisp").printed
    assert "Not taken: 'slisp' is not one of the answers." in said
    assert "Type 1 for: It turns or rocks on the stem." in said


def test_from_repair_over_retest_and_run_to_the_closed_case() -> None:
    """Repair with its checklist, the test that found it, the hours run, and the closing end the session with 0."""
    points = len(small().causes["sensor-coupling-loose"].repair.workmanship)
    said = talk(
        "other coupling-grip", "slips", "repair sensor-coupling-loose", "done", *NOT_SAID, *["yes"] * points, "yes", "30",
        "retest coupling-grip", "tight", "run 8", "0", "close", "foreman",
    )  # fmt: skip
    assert said.code == ExitCode.OK
    state = fold(said.case)
    assert [type(e) for e in said.stored if isinstance(e, Repaired | Retested)] == [Repaired, Retested]
    assert state.closed is not None
    assert state.closed.cause == "sensor-coupling-loose"
    assert "90% sure" in said.printed


@pytest.mark.parametrize("given", ["", "-1", "1.5", "2 V"])
def test_only_a_number_says_that_the_fault_stayed_away(given: str) -> None:
    """Enter alone is not "it did not come back": it is asked until a number is typed."""
    points = ["yes"] * len(small().causes["sensor-coupling-loose"].repair.workmanship)
    slips = ("other coupling-grip", "slips", "repair sensor-coupling-loose", "done", *NOT_SAID, *points, "yes", "30")
    found = talk(*slips, "retest coupling-grip", "tight", "run 8", given, "0")
    assert [e.recurrences for e in found.stored if isinstance(e, Ran)] == [0]
    assert "Type 0" in found.printed


def test_pausing_without_a_result_ends_with_five() -> None:
    """`pause` before any cause is found ends with the documented code."""
    assert talk("pause").code == ExitCode.PAUSED


def test_the_end_of_input_pauses() -> None:
    """When the input ends, the case is paused and nothing is lost."""
    assert talk().code == ExitCode.PAUSED


@pytest.mark.parametrize("width", [20, 24, 30, 40, 80, 200])
def test_no_line_is_wider_than_the_window(width: int) -> None:
    """From 20 columns on every printed line fits."""
    said = talk("why", "other", "show", "other coupling-grip", "1", "help", width=width).printed
    too_wide = [line for line in said.splitlines() if len(line) > width and not line.startswith(("answer>", "which>"))]
    assert too_wide == []


def test_control_characters_never_reach_the_screen() -> None:
    """An escape sequence typed into a note is stored and printed without its control characters."""
    said = talk("note \x1b[2Jgone", "show")
    assert "\x1b" not in said.printed
    assert said.stored[-1] == Noted(text="[2Jgone")


def test_a_case_goes_on_where_it_was() -> None:
    """A second session on the stored events shows the same ranking as the first."""
    first = talk("other coupling-grip", "slips")
    second = talk("show", stored=list(first.stored))
    top = first.printed.rsplit("Likely causes", 1)[1].splitlines()[1].split()[1]
    assert top in second.printed.split("Likely causes", 1)[1].splitlines()[1]


def test_show_draws_each_circuit_with_its_readings() -> None:
    """`show` has a line for each circuit with its points and splices, and each reading with its limit under it."""
    said = talk("other load-test supply-a controller sensor", "11.84 11.10", "show").printed
    drawn = said.rsplit("-- Harness", 1)[1]
    assert "supply-a: [controller:1*] --*-- <splice-1*>" in drawn
    assert "controller to sensor: 0.74 V of 0.45 V, OVER" in drawn


@pytest.mark.parametrize(("typed", "result", "value"), [("4.2", "low", 4.2), ("4200 mV", "low", 4.2), ("normal", "normal", None)])
def test_a_measuring_check_takes_a_number_or_a_word(typed: str, result: str, value: float | None) -> None:
    """The number is judged by the check's limits; a word stands for the maker's figure where those do not fit."""
    said = talk("other supply-at-sensor-loaded", typed)
    answer = next(e for e in said.stored if isinstance(e, Answered))
    assert (answer.result, answer.value) == (result, value)


def test_a_number_that_cannot_be_is_refused() -> None:
    """A voltage outside what the meter can have shown is refused with the range it must lie in."""
    said = talk("other supply-at-sensor-loaded", "480")
    assert "cannot be read here" in said.printed
    assert not any(isinstance(e, Answered) for e in said.stored)


@pytest.mark.parametrize(
    ("line", "check", "why"),
    [
        ("skip why no key for this panel", None, "no key for this panel"),
        ("skip wiggle-harness why  rain: why wait", "wiggle-harness", "rain: why wait"),
        ("skip wiggle-harness", "wiggle-harness", ""),
        ("skip wiggle-harness why", "wiggle-harness", ""),
    ],
)
def test_a_skip_keeps_its_reason(line: str, check: str | None, why: str) -> None:
    """What stands after the word why is stored word for word; without it the reason is empty."""
    left_out = next(e for e in talk(line).stored if isinstance(e, Skipped))
    assert left_out.why == why
    assert check in (None, left_out.check)


def test_a_skip_at_one_place_keeps_its_reason() -> None:
    """A check left out at one place of the layout takes a reason too."""
    left_out = next(
        e for e in talk("skip open-splice-and-pull splice-1 why it is behind the tank").stored if isinstance(e, Skipped)
    )
    assert (left_out.place, left_out.why) == ("splice-1", "it is behind the tank")


def test_a_check_at_a_point_may_be_answered_at_no_plug_in_particular() -> None:
    """Its plugs are offered; Enter alone means that nobody said which, and a plug that is typed is kept."""
    knowledge = small()
    wiggle = knowledge.checks["wiggle-harness"].model_copy(update={"at": "point"})
    rocked = knowledge.model_copy(update={"checks": {**knowledge.checks, "wiggle-harness": wiggle}})
    for typed, place in ((("other wiggle-harness", "", "2"), None), (("other wiggle-harness", "bulkhead", "2"), "bulkhead")):
        said = talk(*typed, knowledge=rocked)
        assert "Enter alone: not known" in said.printed
        answer = next(e for e in said.stored if isinstance(e, Answered))
        assert answer.place == place
    answer = next(e for e in talk("other wiggle-harness sensor", "2", knowledge=rocked).stored if isinstance(e, Answered))
    assert answer.place == "sensor"
    assert "no point 'cab' in this layout" in talk("other wiggle-harness cab", knowledge=rocked).printed
