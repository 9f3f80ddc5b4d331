"""What a record says of finished, unfinished and unproven cases."""

from __future__ import annotations

import pytest
from builders import small_knowledge, small_machine
from record.tales import CASE_ID, FINISHED, FOUND, NOW, REPAIRED, RETESTED, load, record, record_of

from advisor.consultation.consultation import Consultation
from advisor.errors import InputError
from advisor.model.case import Answered, Case, Closed, Corrected, Moved, Overridden, Repaired, Retested, SetupChanged, Undone
from advisor.record.view import build


def test_a_repair_without_a_retest_is_not_proven() -> None:
    """A repair alone proves nothing: the record carries the alarm and names it first among the open points."""
    found = record(*REPAIRED).outcome
    assert (found.alarm, found.standing) == ("NOT PROVEN", "not-proven")
    assert found.open_points[0] == found.alarm_says


def test_a_retest_over_its_limit_is_not_proven_and_leaves_the_cause_open() -> None:
    """When the same test is over its limit again, the repaired cause is no longer given as the cause."""
    found = record(*REPAIRED, load("supply-a", "sensor", 24.60, 23.90, "retest")).outcome
    assert (found.alarm, found.standing) == ("NOT PROVEN", "failed")
    assert (found.cause, found.cause_title) == (None, "Not found yet")


def test_a_fault_that_comes_back_in_the_run_is_not_proven() -> None:
    """A passed retest does not stand against a recurrence."""
    found = record(*RETESTED, {"run": 3, "recurrences": 1}).outcome
    assert found.alarm == "NOT PROVEN"
    assert found.run is not None
    assert "came back 1 time" in found.run.says


def test_a_passed_retest_ends_the_alarm_but_the_run_stays_open() -> None:
    """Nothing is called NOT PROVEN after a passed retest; the quiet hours are still asked for."""
    found = record(*RETESTED).outcome
    assert (found.alarm, found.standing) == ("", "retest-passed")
    assert any("more hours to run without the fault" in p for p in found.open_points)


def test_the_proof_is_what_showed_the_cause_before_the_repair() -> None:
    """Only tests through the repaired place that were over their limit, taken before the repair, count as proof."""
    proof = record(*REPAIRED, load("supply-b", "bulkhead", 24.61, 23.85)).outcome.proof
    assert [p.rsplit("(", 1)[1] for p in proof] == ["step 7)", "step 8)", "step 9)"]


def test_closing_with_a_cause_and_without_a_repair_is_not_proven() -> None:
    """A cause that is only named on closing is shown with the alarm."""
    found = record_of(FOUND, Closed(cause="high-resistance-splice", place="splice-7")).outcome
    assert (found.alarm, found.cause) == ("NOT PROVEN", "high-resistance-splice")


def test_closing_without_a_cause_says_so() -> None:
    """A case that is closed with nothing found says that nothing was found."""
    assert record_of(FOUND, Closed(reason="sold")).outcome.alarm == "NO CAUSE FOUND"


def test_an_unfinished_case_says_what_leads_and_what_is_next() -> None:
    """Before any repair the record names the leader with its share, and the next step with its reason."""
    view = record(*FOUND[:6])
    assert view.outcome.cause_says.startswith("Leading now: Splice that does not carry its current (splice-7)")
    assert view.now.next is not None
    assert view.now.next.reason


def test_a_case_that_was_only_opened_has_a_record() -> None:
    """Without a single answer the record still tells complaint, generic layout, leading causes and next step."""
    view = record(machine=None)
    assert view.known.generic
    assert (view.steps, view.readings, view.harness, view.ruled_out) == ((), (), None, ())
    assert view.now.next is not None
    assert len(view.known.ranking) == 5


def test_a_case_without_its_opening_has_none() -> None:
    """There is nothing to write about before a complaint was entered."""
    with pytest.raises(InputError, match="no complaint yet"):
        build(Consultation(small_knowledge(), small_machine()), Case(), CASE_ID, NOW)


def test_a_corrected_answer_stays_visible_and_names_its_correction() -> None:
    """The first answer keeps its place and says which step replaced it; the rule that it fired counts no longer."""
    steps = {s.number: s for s in record(*FINISHED).steps}
    assert steps[2].replaced == "corrected in step 3"
    assert steps[2].came_back == "The frame really moves"
    assert [w.rule for w in steps[3].why if w.change == "gone"] == ["check:watch-wheel-against-reading:frame-moves"]


def test_an_answer_corrected_twice_and_then_taken_back_leaves_nothing_in_force() -> None:
    """Each of the three events names the step that ended it."""
    again = Corrected(number=2, by=Answered(check="watch-wheel-against-reading", result="frame-moves"))
    steps = {s.number: s.replaced for s in record_of(FOUND, again, Undone(number=2)).steps}
    last = len(FOUND) + 1
    assert (steps[2], steps[3], steps[last]) == (
        "corrected in step 3",
        f"corrected in step {last}",
        f"taken back in step {last + 1}",
    )


def test_a_reading_taken_back_is_listed_but_not_drawn() -> None:
    """The table keeps the reading with its fate; the picture of the harness leaves it out."""
    view = record_of(FOUND, Undone(number=8))
    assert [r.number for r in view.readings if r.replaced] == [8]
    assert view.harness is not None
    assert not any("step 8:" in b.text for row in view.harness.rows for b in row.brackets)


def test_the_ranking_moves_with_signs_that_add_up() -> None:
    """The change shown under a step is the share after it less the share before it."""
    view = record(*FOUND)
    before = {s.cause: s.share for s in view.known.ranking}
    assert [p.change for p in view.steps[0].ranking] == pytest.approx([p.share - before[p.cause] for p in view.steps[0].ranking])
    assert any(p.change < 0 for p in view.steps[0].ranking)


def test_new_rules_of_a_step_carry_their_weights() -> None:
    """The low supply fires the rule on it, with a weight below zero for the coupling and above zero for the splice."""
    why = {w.rule: {x.cause: x.decibans for x in w.weights} for w in record(*FOUND).steps[5].why}
    assert why["rule:supply-sags"]["sensor-coupling-loose"] == pytest.approx(-3.98, abs=0.01)  # a factor of 0.4
    assert why["check:supply-at-sensor-loaded:low"]["high-resistance-splice"] > 0


def test_rules_that_only_make_something_wait_have_a_list_of_their_own() -> None:
    """What counted from the start are the conditions and the code; the two holds stand among the holds."""
    view = record()
    assert {w.rule for w in view.known.why} == {"rule:hot-means-joint", "rule:harness-work-before", "code:2"}
    assert [h.waits for h in view.holds] == [("Checks that unplug something",)]


def test_only_what_a_test_spoke_against_is_ruled_out() -> None:
    """The tight coupling is named with the test and its step; the valve fell because others rose, and is not named."""
    found = record(*FOUND, {"check": "coupling-grip", "result": "tight"}).ruled_out
    coupling = next(r for r in found if r.cause == "sensor-coupling-loose")
    assert coupling.most >= 0.05 > 0.01 > coupling.now
    assert [(a.says, a.step) for a in coupling.against] == [("Grip of the coupling on the sensor stem: It is tight", 12)]
    assert "steering-valve-leak" not in [r.cause for r in found]


def test_the_trail_has_a_row_a_step_with_the_moves_made_for_it() -> None:
    """A move of 7 minutes stands with the check of 6 that it was made for; moves that nothing follows have a row of their own."""
    blocked = Moved(move="block-machine", to={"stand": "blocked"})
    seen = Answered(check="confirm-complaint", result="shows")
    rows = record_of((), blocked, seen, Moved(move="free-machine", to={"stand": "free"})).trail
    assert [(r.number, r.title, r.minutes) for r in rows] == [(2, "See the complaint yourself", 13), (3, "Machine put back", 3)]
    assert rows[0].prepared == ("Block the machine against rolling and folding",)


def test_the_head_holds_what_the_case_knows() -> None:
    """Machine, day, codes and minutes are filled in; what is given by hand stands before what the case knows."""
    view = record(*FINISHED)
    head = dict((*view.blanks, *view.job))
    assert (head["Machine and its number"], head["Date of work"]) == ("Tracked dumper with hinge (invented)", "2031-03-04")
    assert head["Codes"] == "SPN 520211 FMI 2 OC 6"
    assert head["Minutes, all steps"] == f"{view.minutes.total:.0f} min"
    assert dict(record(details={"date": "2031-03-05"}).blanks)["Date of work"] == "2031-03-05"
    assert dict(record(machine=None).blanks)["Machine and its number"] == ""


def test_before_and_after_stand_side_by_side() -> None:
    """The retest stands beside the reading that found the fault, not beside an earlier retest that failed."""
    again = {"repair": "high-resistance-splice", "place": "splice-7"}
    failed, good = load("supply-a", "sensor", 24.60, 23.95, "retest"), load("supply-a", "sensor", 24.60, 24.45, "retest")
    pairs = record(*REPAIRED, failed, again, good).pairs
    assert [(p.before_step, p.passed) for p in pairs] == [(7, False), (13, True)]
    pairs = record(*REPAIRED, failed, good).pairs
    assert [(p.before_step, p.passed) for p in pairs] == [(7, False), (7, True)]


def test_a_retest_by_a_check_is_compared_with_its_earlier_answer() -> None:
    """A check that found the fault and comes out normal afterwards is a passed retest."""
    lines = (
        {"check": "coupling-grip", "result": "slips"},
        {"repair": "sensor-coupling-loose"},
        {"retest": "coupling-grip", "result": "tight"},
    )
    pair = record(*lines).pairs[0]
    assert (pair.before, pair.after, pair.passed) == ("It turns or rocks on the stem", "It is tight", True)


def test_workmanship_points_tell_what_was_ticked_off() -> None:
    """Each point of the knowledge is yes, no or open; a no is an open point of the record."""
    points = {"Adhesive seen at both ends of the sleeve": False}
    view = record_of(FOUND, Repaired(cause="high-resistance-splice", place="splice-7", points=points, early=True))
    repair = view.outcome.repairs[0]
    assert {p.text: p.answer for p in repair.points} == {
        "Splice held against a firm pull": "open",
        "Adhesive seen at both ends of the sleeve": "no",
    }
    assert repair.early
    assert "Workmanship point not met: Adhesive seen at both ends of the sleeve" in view.outcome.open_points


@pytest.mark.parametrize("stop", ["", "."])
def test_a_hold_that_was_overridden_names_the_step(stop: str) -> None:
    """Unplugging before the harness was moved is written down with the hold; older cases have its words with a full stop."""
    early = Overridden(check="terminal-drag", hold=f"The harness was moved with everything plugged in{stop}")
    view = record_of(FOUND[:1], early, Answered(check="terminal-drag", result="drags", place="bulkhead:2"))
    hold = next(h for h in view.holds if h.waits == ("Checks that unplug something",))
    assert (hold.from_step, hold.gone_step, hold.overridden) == (0, None, (2,))


def test_what_has_to_come_first_is_said_once_with_what_waits() -> None:
    """An unfinished record does not repeat a hold for every repair that it holds."""
    points = record({"check": "confirm-complaint", "result": "shows"}).outcome.open_points
    first = [p for p in points if p.startswith("First: ")]
    said = "First: The harness was moved with everything plugged in. Then: Checks that unplug something."
    assert said in first
    assert len(first) == len({p.split(". Then: ")[0] for p in first})


def test_a_hold_ends_with_the_step_that_met_it() -> None:
    """Moving the harness in step 5 ends the hold on unplugging."""
    assert next(h for h in record(*FOUND).holds if h.waits == ("Checks that unplug something",)).gone_step == 5


def test_cautions_name_what_they_were_shown_for() -> None:
    """The test load's warning belongs to the load test; the repair's warning names the repair."""
    shown = {c.id: c.shown_for for c in record(*FINISHED).cautions}
    assert "Load test of a circuit between two points" in shown["load-gets-hot"]
    assert "Repair: Splice that does not carry its current" in shown["do-not-pierce"]


def test_minutes_add_up_from_what_was_done() -> None:
    """A check of 6 minutes, a move of 7, and a repair of 50 minutes that were written down."""
    blocked = Moved(move="block-machine", to={"stand": "blocked"})
    repaired = Repaired(cause="high-resistance-splice", place="splice-7", minutes=50)
    found = record_of(({"check": "confirm-complaint", "result": "shows"},), blocked, repaired).minutes
    assert (found.checks_minutes, found.moves_minutes, found.repairs_minutes, found.total) == (6, 7, 50, 63)
    assert found.elapsed == 12  # four events four minutes apart


def test_a_move_made_twice_is_paid_for_twice() -> None:
    """Moves are counted as often as they were made; how the machine still stands is an open point."""
    twice = [
        Moved(move="block-machine", to={"stand": "blocked"}),
        Moved(move="free-machine", to={"stand": "free"}),
        Moved(move="block-machine", to={"stand": "blocked"}),
    ]
    view = record_of((), *twice)
    assert [(m.title, m.times, m.steps) for m in view.machine_moves] == [
        ("Block the machine against rolling and folding", 2, (1, 3)),
        ("Take lock and chocks away", 1, (2,)),
    ]
    assert view.minutes.moves_minutes == 17
    assert "Still so: Machine blocked against rolling and folding" in view.outcome.open_points


def test_a_setup_of_an_older_case_is_read_into_the_state() -> None:
    """A case written before there were moves names setups: they are shown, and the machine stands as they left it."""
    view = record_of((), SetupChanged(setup="machine-blocked", entered=True))
    assert [(m.title, m.steps) for m in view.machine_moves] == [("Machine blocked", (1,))]
    assert "Still so: Machine blocked against rolling and folding" in view.outcome.open_points


def test_details_fill_the_blanks_and_none_is_lost() -> None:
    """Known keys fill their blank or signature, other keys become lines of their own."""
    view = record(details={"order": "4711", "shop": "B. Sample", "weather": "rain"})
    assert dict(view.blanks)["Order number"] == "4711"
    assert dict(view.signatures)["Shop"] == "B. Sample"
    assert view.extra == (("weather", "rain"),)


def test_times_are_shown_in_the_zone_of_the_writer() -> None:
    """The case began at 07:30 UTC; who writes the record two hours east reads 09:34 for the step four minutes later."""
    view = record(*FOUND)
    assert (view.zone, view.steps[0].when, view.steps[0].at) == ("UTC+02:00", "2031-03-04 09:34", "2031-03-04T07:34:00+00:00")


def test_every_kind_of_event_has_words() -> None:
    """A retest by a check without a repair before it, as an odd case has it, is told like any other step."""
    view = record_of((), Retested(by=Answered(check="coupling-grip", result="tight")), Closed(by="R. Example"))
    assert [s.title for s in view.steps] == ["Retest. Grip of the coupling on the sensor stem", "Closed"]
    assert view.pairs[0].before == "Not tested before"
