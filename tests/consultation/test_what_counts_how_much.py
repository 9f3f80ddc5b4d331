"""What an answer, a repair in vain and a reading weigh: the place, the discount, the next repair, the largest drop, the denial."""

from __future__ import annotations

import math

import pytest
from builders import MACHINE, MORNING, small_knowledge, small_machine, stamped, told
from folders import real_knowledge
from worlds import cause, check, knowledge

from advisor.consultation.consultation import Consultation
from advisor.consultation.episodes import episodes, retest_of
from advisor.consultation.in_force import failed
from advisor.consultation.tries import trying
from advisor.electrical.ends import judge_ends
from advisor.model.case import Answered, Case, Event, Opened, Ran, Reading, Repaired, Retested, fold
from advisor.model.finding import Suspect
from advisor.model.machine import Sensor
from advisor.model.rule import Rule
from advisor.reasoning.showing import Shown, showing_chance

OPENED = Opened(complaint="odd-reading")


def share(consultation: Consultation, case: Case, cause_id: str, place: str | None) -> float:
    found = consultation.assess(case, plan=False)
    return next(s for suspect, _, s in found.suspects if suspect == Suspect(cause_id, place))


def test_a_repair_in_vain_weighs_against_its_place_and_no_other() -> None:
    """A terminal that was renewed in vain is cleared; the next terminal of the same plug is not."""
    consultation, case = told()
    mended = Case((*case.events, Repaired(cause="poor-terminal-contact", place="bulkhead:2"), Ran(hours=2, recurrences=1)))
    ours, other = (
        share(consultation, mended, "poor-terminal-contact", place) / share(consultation, case, "poor-terminal-contact", place)
        for place in ("bulkhead:2", "bulkhead:3")
    )
    assert ours < 0.5
    assert other > 1.0


def test_an_answer_that_a_rule_calls_worth_less_weighs_half_as_much() -> None:
    """It still speaks the same way, with half the weight in decibans, and no more than that."""
    looks = check("look", {"one": {"bad": "very-likely"}, "otherwise": {"bad": "very-unlikely"}})
    plain = knowledge([cause("one"), cause("other")], [looks])
    rule = Rule.model_validate({
        "id": "doubt-it", "when": [{"complaint": "odd-reading"}], "then": [{"discount": "look"}], "because": "Made up.",
        "source": "from-memory",
    })  # fmt: skip
    doubted = plain.model_copy(update={"rules": {"doubt-it": rule}})
    case = Case((OPENED, Answered(check="look", result="bad")))
    full, half = (Consultation(k, small_machine()).evidence(fold(case)).witnesses[0].strength for k in (plain, doubted))
    assert half == pytest.approx(full / 2)
    none, less, most = (
        share(Consultation(k, small_machine()), c, "one", None)
        for k, c in ((plain, Case((OPENED,))), (doubted, case), (plain, case))
    )
    assert none < less < most


def test_what_follows_the_next_repair_says_nothing_of_the_one_before() -> None:
    """The fault came back after the second repair: the second was in vain, and the first is as it was."""
    consultation, case = told()
    again = stamped([
        *case.events, Repaired(cause="sensor-coupling-loose"), Retested(by=Answered(check="coupling-grip", result="tight")),
        Ran(hours=9), Repaired(cause="poor-terminal-contact", place="bulkhead:2"), Ran(hours=1, recurrences=2),
    ])  # fmt: skip
    first, second = episodes(consultation.knowledge, consultation.machine, fold(again))
    assert (first.came_back, first.hours, len(first.runs)) == (False, 9, 1)
    assert (second.came_back, second.hours) == (True, 1)
    assert [e.repair.cause for e in failed((first, second))] == ["poor-terminal-contact"]


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_the_load_test_with_the_largest_drop_is_the_one_repeated(order: tuple[int, int]) -> None:
    """Whichever was taken first."""
    drops = [("supply-a", 22.9), ("supply-b", 21.8)]
    events: list[Event] = [Opened(complaint="motion-without-steering", machine=MACHINE)]
    for i in order:
        circuit, loaded = drops[i]
        read = {"circuit": circuit, "from": "controller", "to": "sensor", "reference": 23.7, "loaded": loaded}
        events.append(Reading.model_validate(read))
    repair = Repaired(cause="high-resistance-splice", place="splice-7", at=MORNING)
    name, _, reading = retest_of(small_knowledge(), small_machine(), fold(Case(tuple(events))), repair)
    assert name == "load-test"
    assert reading is not None
    assert reading.circuit == "supply-b"


def test_a_cause_whose_proof_came_out_otherwise_is_not_tried_by_its_repair() -> None:
    """One asks for help before that, until all that was not found sound is less likely."""
    made = knowledge(
        [cause("one", proof={"look": "bad"}), cause("other", proof={"touch": "bad"}, retest="touch")],
        [
            check(name, {who: {"bad": "likely"}, "otherwise": {"bad": "unlikely"}})
            for name, who in (("look", "one"), ("touch", "other"))
        ],
    )
    consultation = Consultation(made, small_machine())
    situation = consultation.situation(Case((OPENED, Answered(check="look", result="good"))))
    one = next(i for i, s in enumerate(situation.space.suspects) if s.cause == "one")
    assert situation.denied("one", None)
    assert trying(situation).tries.minutes[one] == made.words.unlisted_minutes
    assert trying(situation).to_follow[one] == 0
    fresh = consultation.situation(Case((OPENED,)))
    assert trying(fresh).tries.minutes[one] < made.words.unlisted_minutes
    both = consultation.situation(Case((OPENED, Answered(check="look", result="good"), Answered(check="touch", result="good"))))
    assert float(both.shares[one]) > float(both.shares[-1])
    assert trying(both).tries.minutes[one] < made.words.unlisted_minutes
    step = consultation.assess(both.case).next
    assert step is not None
    assert (step.kind, "came out normal" in " ".join(step.reason)) == ("repair", True)


def test_of_two_checks_that_tell_alike_the_one_of_fewer_minutes_is_done_first() -> None:
    """And one that tells a little more is not worth ten times the minutes."""
    alike = {"one": {"bad": "very-likely"}, "other": {"bad": "very-unlikely"}, "otherwise": {"bad": "unlikely"}}
    more = {**alike, "one": {"bad": "almost-certain"}}
    proven = [cause(n, proof={"open-up": "bad"}, retest="open-up") for n in ("one", "other")]
    opens = check("open-up", {"one": {"bad": "almost-certain"}, "otherwise": {"bad": "almost-no-chance"}}, minutes=90)
    made = knowledge(proven, [check("a-long-look", more, minutes=50), check("short-look", alike, minutes=5), opens])
    step = Consultation(made, small_machine()).assess(Case((OPENED,))).next
    assert step is not None
    assert step.id == "short-look"


def test_an_end_off_the_makers_figure_is_said_in_degrees() -> None:
    """Half a volt of 3.8 V over 76 degrees is ten degrees, whichever way it is off."""
    sensor = Sensor(supply_volts=5.0, band_volts=(0.6, 4.4), span_degrees=76, plausibility_degrees=2.0, ends_volts=(1.0, 4.0))
    for first in ([1.5, 4.0], [4.0, 0.5 + 1.0]):
        found = judge_ends(sensor, first, 5.0)
        assert found.result == "ends-off"
        assert any("is 10.0 degrees off the maker's 1.00 V" in text for text in found.says)
    low = judge_ends(sensor, [1.0, 3.5], 5.0)
    assert any("3.50 V is 10.0 degrees off the maker's 4.00 V" in text for text in low.says)


def test_a_fault_that_was_counted_shows_as_often_as_its_count_says() -> None:
    """Six times in twelve hours, looked at for twenty minutes with worth 4: 1 - exp(-4 * 0.5 / 3); not certainty, and not never."""
    worth = knowledge([cause("one")], []).words.showing
    found = showing_chance(check("look", {"one": {"bad": "likely"}}, minutes=20), Shown(always=False, per_hour=0.5), worth)
    assert found == pytest.approx(1 - math.exp(-4 * 0.5 * 20 / 60))


def test_a_fault_that_stays_for_hours_once_it_has_come_is_mostly_found() -> None:
    """Told that it stays until it has dried, the same count lets a short look find it far more often."""
    opened = Opened(complaint="motion-without-steering", intake={"behaviour": ("comes-and-goes",)}, occurrences=6, hours=12)
    consultation = Consultation(real_knowledge(), small_machine())
    look = real_knowledge().checks["supply-at-sensor-loaded"]
    moment, dries = (
        consultation.situation(Case((opened, Answered(check="how-long", result=told)))).showing(look)
        for told in ("moment", "until-warm-or-dry")
    )
    assert moment == consultation.situation(Case((opened,))).showing(look)
    assert 1 - dries == pytest.approx(
        (1 - moment) * math.exp(-0.5 * real_knowledge().words.showing.lasts_hours["until-warm-or-dry"])
    )
