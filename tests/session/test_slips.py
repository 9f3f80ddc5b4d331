"""A slip in the middle of questions that belong together costs the last answer only, and never what was typed before it."""

from __future__ import annotations

import io
import json
from typing import Any

import pytest
from builders import small_knowledge
from session.test_repairing import COUPLING, event, offering, repaired
from terminal.talk import Talk, talk

from advisor.errors import InputError
from advisor.model.case import Case, Closed, Event, Moved, Noted, Opened, Reading, Repaired, Told
from advisor.session.lines import converse
from advisor.session.picking import pick
from advisor.session.session import Session
from advisor.terminal.client import play
from advisor.terminal.environment import Terminal

POINTS = small_knowledge().causes[COUPLING].repair.workmanship
BEGUN = ("other coupling-grip", "slips", f"repair {COUPLING}", "done")
AT = tuple(small_knowledge().intake)


def flat(found: Talk) -> str:
    return " ".join(found.printed.split())


def test_back_in_a_repair_asks_the_question_before_again() -> None:
    """What was fitted is typed anew, and what was found before it stays."""
    found = repaired("1", "a bolt", "back", "a clamp", "photos in the cab")
    assert (event(found).found, event(found).fitted, event(found).kept) == (("screw-loose",), "a clamp", "photos in the cab")
    assert found.printed.count("What was fitted?") == 2
    assert found.printed.count("What was found?") == 1


def test_back_at_the_minutes_keeps_every_tick() -> None:
    """One point is ticked again, the minutes are asked again, and nothing else."""
    ticks = ["yes"] * (len(POINTS) - 1) + ["no"]
    found = talk(*BEGUN, "1", "", "", *ticks, "back", "yes", "yes", "back", "yes", "30", knowledge=offering())
    told = event(found)
    assert told.found == ("screw-loose",)
    assert all(told.points.values())
    assert told.minutes == 30


def test_back_after_a_repair_asks_the_repair_again_and_keeps_what_was_said() -> None:
    """One word too many does not cost ten lines of typing: Enter keeps each of them, and what is typed takes its place."""
    ticks = ["yes"] * (len(POINTS) - 1) + ["no"]
    begun = talk(*BEGUN, "1; paint on it", "a bolt", "photos", *ticks, "1", "50 min", "back", knowledge=offering())
    assert "Repair: Coupling loose on the sensor stem" in begun.printed.rsplit("Taken back", 1)[1]
    again = talk("done", "", "a clamp", "", *[""] * len(POINTS), "", "", stored=begun.stored, knowledge=offering())
    told = [e for e in again.stored if isinstance(e, Repaired)][-1]
    assert (told.found, told.found_words, told.fitted, told.kept) == (("screw-loose",), "paint on it", "a clamp", "photos")
    assert list(told.points.values()) == [t == "yes" for t in ticks]
    assert (told.taught, told.minutes) == ("yes", 50)


def test_not_known_is_no_answer_to_a_step_and_names_skip() -> None:
    """Nobody is told only that it is not one of the answers."""
    said = flat(talk("other coupling-grip", "not sure"))
    assert "Type skip when nobody can tell" in said


def test_a_word_that_is_nearly_one_of_the_words_is_named() -> None:
    """A slip of the finger is no wrong answer."""
    assert "The word skip is known here" in flat(talk("skp"))


def test_two_numbers_where_one_answer_fits_are_refused_as_that() -> None:
    """They may be numbers of the list, so it is not said that they are none."""
    assert "one answer fits here, and more were typed" in flat(talk("other coupling-grip", "1 2"))


def test_a_step_that_was_chosen_tells_what_it_is_for_and_what_others_cost_against_it() -> None:
    """Its reason is not only that somebody chose it, and no other step seems to cost all the minutes to the end."""
    said = talk("other wiggle-harness", "why").printed.split("answer> why")[1]
    assert f"What it is for: {small_knowledge().checks['wiggle-harness'].purpose}" in " ".join(said.split())
    costs = [int(line.rsplit("now, ", 1)[1].split(" min")[0]) for line in said.splitlines() if "min now, " in line]
    assert costs
    assert max(costs) <= 1


def test_back_at_the_first_question_of_a_repair_is_back_at_the_step() -> None:
    """Nothing is written, and the step is asked again."""
    found = talk(*BEGUN, "back", knowledge=offering())
    assert "Back at the step. Nothing was changed." in found.printed
    assert not [e for e in found.stored if isinstance(e, Repaired | Noted)]


@pytest.mark.parametrize("end", ["pause", ""])
def test_a_repair_that_is_left_in_the_middle_is_kept_as_a_note(end: str) -> None:
    """With the word pause, or where the input ends: found, fitted and ticked are not typed for nothing."""
    typed = (*BEGUN, "1", "clamp with a new bolt", "", "yes")
    found = talk(*typed, *([end] if end else []), knowledge=offering())
    notes = [e.text for e in found.stored if isinstance(e, Noted)]
    assert len(notes) == 1
    assert notes[0].startswith("Repair begun, not finished: Coupling loose on the sensor stem.")
    assert all(text in notes[0] for text in ("Found: Clamp screw loose", "Fitted: clamp with a new bolt", f"Done: {POINTS[0]}"))
    assert not [e for e in found.stored if isinstance(e, Repaired)]


class Leaves:
    """Somebody who presses Ctrl-C where the lines end."""

    def __init__(self, *lines: str) -> None:
        self.lines = list(lines)

    def answer(self, prompt: Any) -> str:
        if not self.lines:
            raise KeyboardInterrupt
        return self.lines.pop(0)


def test_ctrl_c_in_a_repair_keeps_what_was_said() -> None:
    """It leaves at once, and the note is there."""
    events: list[Event] = []
    opened = Opened(complaint="motion-without-steering", occurrences=6, hours=14)
    session = Session.going_on(offering(), Case((opened,)), lambda *new: events.extend(new))
    with pytest.raises(KeyboardInterrupt):
        play(Terminal(output=io.StringIO()), Leaves(*BEGUN, "2"), session)
    assert [e.text for e in events if isinstance(e, Noted)] == [
        "Repair begun, not finished: Coupling loose on the sensor stem. Found: Bore worn"
    ]


def test_back_at_the_machine_hours_does_not_close_the_case() -> None:
    """The name can still be mended; only then the case is closed."""
    found = talk(*BEGUN[:2], "close", "yes", "fore", "back", "foreman", "4321 h")
    closed = [e for e in found.stored if isinstance(e, Closed)]
    assert [(c.by, c.machine_hours) for c in closed] == [("foreman", 4321)]
    left = talk(*BEGUN[:2], "close", "yes", "fore", "back", "back")
    assert not [e for e in left.stored if isinstance(e, Closed)]


def test_back_at_the_second_question_on_the_wiring_asks_the_first_again() -> None:
    """It does not fall back to the question before the wiring."""
    told = [Told(question=q) for q in ("codes", *AT, "occurrences", "hours")]
    found = talk("1", "back", "2", stored=[Opened(complaint="reads-low", asks=True), *told])
    assert [e.words for e in found.stored if isinstance(e, Told) and e.question == "layout"] == [("one-track",)]


def test_back_at_the_ends_of_a_run_asks_the_circuit_again() -> None:
    """Another circuit is chosen without typing the whole word anew."""
    found = talk("other load-test", "1", "back", "2", "1", "11.84 11.6")
    readings = [e for e in found.stored if isinstance(e, Reading)]
    assert len(readings) == 1
    assert found.printed.count("Which circuit?") == 2


@pytest.mark.parametrize("typed", ["", "7", "rubbish"])
def test_one_answer_alone_is_asked_for_by_its_number(typed: str) -> None:
    """Nobody reads 'from 1 to 1'."""
    with pytest.raises(InputError) as refused:
        pick(typed, (("splice-1", "The splice"),))
    assert refused.value.hint.startswith("Type 1")


def test_the_word_help_is_offered_once() -> None:
    """A refusal that names help does not name it again below."""
    found = talk(*BEGUN[:3], "rubbish", "rubbish", knowledge=offering())
    assert "help lists the words." not in found.printed.split("rubbish' is no answer to a repair")[-1].split("[why")[0]


def test_a_repair_over_json_lines_asks_each_question_as_data() -> None:
    """Found, fitted, kept, points, calibrated again, minutes: choices, what may be left out, and the reason stand in each."""
    events: list[Event] = []
    out: list[str] = []
    replies = ["1; paint on the thread", "new bolt", "photo in the cab", *["yes"] * len(POINTS), "not-needed", "45 min"]
    left = [json.dumps({"answer": text}) for text in (*BEGUN, *replies)]
    opened = Opened(complaint="motion-without-steering", occurrences=6, hours=14)
    session = Session.going_on(offering(), Case((opened,)), lambda *new: events.extend(new))
    converse(session, out.append, lambda: left.pop(0) if left else None, lambda: "CASE")
    asked = {o["kind"]: o for o in map(json.loads, out)}
    assert {"found", "fitted", "kept", "point", "taught", "minutes"} <= asked.keys()
    assert [c["id"] for c in asked["found"]["choices"]] == ["screw-loose", "bore-worn"]
    assert (asked["found"]["several"], asked["found"]["free"], asked["found"]["optional"]) == (True, True, True)
    assert [c["id"] for c in asked["taught"]["choices"]] == ["yes", "no", "not-needed"]
    assert asked["minutes"]["units"] == ["min", "h"]
    assert all(asked[kind]["why"] for kind in ("found", "fitted", "kept", "point", "taught", "minutes"))
    told = next(e for e in events if isinstance(e, Repaired))
    assert (told.found, told.found_words, told.fitted, told.kept) == (
        ("screw-loose",), "paint on the thread", "new bolt", "photo in the cab",
    )  # fmt: skip
    assert (told.taught, told.minutes, set(told.points.values())) == ("not-needed", 45, {True})


@pytest.mark.parametrize(
    ("typed", "example"),
    [("close zzz", "such as close splice"), ("run abc", "such as run 6.5 h"), ("skip zzzz", "such as skip splice")],
)
def test_a_refused_word_shows_an_example_of_that_word(typed: str, example: str) -> None:
    """No ids and no list that is not there: the hint can be typed as it stands."""
    found = flat(talk(typed))
    assert f"Not taken: '{typed.split()[1]}'" in found
    assert example in found
    assert "chafe-to-ground," not in found


def test_close_takes_words_of_a_title() -> None:
    """Nobody has to know the id of a cause."""
    found = talk("close valve leaks", "yes", "foreman", "seen on the bench", "")
    assert [e.cause for e in found.stored if isinstance(e, Closed)] == ["steering-valve-leak"]


def test_back_in_the_list_of_how_the_machine_stands_takes_one_change_back() -> None:
    """A slip there costs that change alone: what hands depend on is not told for nothing."""
    typed = ("no", "1", "blocked", "2", "back", "2", "1", "back", "done", "pause")
    found = talk(*typed, stored=[Opened(complaint="motion-without-steering", occurrences=6, hours=14)], resumed=True)
    moved = [e.to for e in found.stored if isinstance(e, Moved)]
    assert moved == [{"stand": "blocked"}]
    assert "Taken back." in found.printed


@pytest.mark.parametrize("typed", ["x", "yes", "7", "show"])
@pytest.mark.parametrize("before", [(), ("1",), ("1", "a bolt")])
def test_a_letter_or_a_word_of_the_step_is_no_account_of_a_repair(typed: str, before: tuple[str, ...]) -> None:
    """Found, fitted and kept ask again: nobody reads a slip of the finger in the record of a warranty claim."""
    found = talk(*BEGUN, *before, typed, "", "", "", knowledge=offering())
    assert f"'{typed}' " in found.printed or "there is no answer 7" in found.printed


def test_nothing_in_words_is_nothing_in_the_record() -> None:
    """Who types none or a dash says that there is nothing, and the record does not list it as a part."""
    told = event(repaired("1", "none", "-"))
    assert (told.fitted, told.kept) == ("", "")


@pytest.mark.parametrize("typed", ["1 and 2", "1+2", "1, 2"])
def test_findings_joined_as_people_join_numbers_are_chosen(typed: str) -> None:
    """They are not kept as words that say nothing."""
    assert event(repaired(typed, "a bolt", "")).found == ("screw-loose", "bore-worn")


def test_a_finding_typed_in_its_own_words_is_that_finding() -> None:
    """It counts like its number."""
    told = event(repaired("clamp screw loose", "a bolt", ""))
    assert (told.found, told.found_words) == (("screw-loose",), "")


def test_back_in_a_repair_shows_what_was_said_and_enter_keeps_it() -> None:
    """Two questions back and forth again cost two keys."""
    found = repaired("1", "a bolt", "back", "back", "", "", "photos")
    assert (event(found).found, event(found).fitted, event(found).kept) == (("screw-loose",), "a bolt", "photos")


def test_an_example_does_not_stand_beside_a_hint_that_names_another_number() -> None:
    """Type 2 for this answer, and below it you could type 1: nobody knows what to do."""
    asked = Opened(complaint="motion-without-steering", asks=True)
    told = [Told(question=q) for q in ("operator-words", "codes")]
    said = flat(talk("worse clod", stored=[asked, *told])).split("is not one of the answers")[1]
    assert "2 for: Worse cold" in said
    assert "you could type: 1" not in said


def test_a_misspelt_word_is_named_at_every_prompt() -> None:
    """A slip of the finger at a question of the intake is no wrong answer either."""
    asked = Opened(complaint="motion-without-steering", asks=True)
    assert "The word back is known here" in flat(talk("", "", "bakc", stored=[asked]))


def test_a_code_without_its_second_number_and_one_of_another_kind_are_told_apart() -> None:
    """What the display shows is not lost: the hint says how to keep it."""
    asked = Opened(complaint="motion-without-steering", asks=True)
    said = flat(talk("", "70123", "E-17", stored=[asked]))
    assert "after 70123 the second number is missing" in said
    assert "For a code of another kind type: note E-17" in said


def test_days_are_said_with_the_hours_that_they_count() -> None:
    """Who means days and nights sees the slip at once."""
    told = [Told(question=q) for q in ("operator-words", "codes", *AT, "occurrences")]
    assert "Taken as 16 hours. A day counts 8 h." in flat(talk("2 days", stored=[Opened(complaint="reads-low", asks=True), *told]))


def test_an_answer_in_other_words_is_said_back() -> None:
    """What was understood stands there before the next question."""
    asked = Opened(complaint="motion-without-steering", asks=True)
    assert "Taken as: Worse cold." in flat(talk("", "", "worse c", stored=[asked]))


def test_yes_or_no_is_asked_for_by_these_words() -> None:
    """Where no numbers stand, no numbers are asked for."""
    said = flat(talk(*BEGUN, "1", "", "", "perhaps", knowledge=offering())).split("perhaps' is not one of the answers")[1]
    assert said.startswith(". Type yes or no.")


def test_one_time_is_said_as_one() -> None:
    """Nobody reads '1 times'."""
    told = [Told(question=q) for q in ("operator-words", "codes", *AT)]
    assert "Taken as 1 time." in talk("once", stored=[Opened(complaint="reads-low", asks=True), *told]).printed
