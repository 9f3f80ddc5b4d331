"""What is told of an answer, a scenario and a rule: the very number, the very word, and a refusal for what is neither."""

from __future__ import annotations

from typing import Any

import pytest
from builders import scenario, small_knowledge, small_machine, told, trade_knowledge

from advisor.consultation.ground import features
from advisor.consultation.heard import heard_answers
from advisor.consultation.rule_cases import failures
from advisor.consultation.scenario import events_of, replay
from advisor.errors import InputError
from advisor.model.case import HEARD, Answered, Case, Opened, State, Told, fold
from advisor.model.machine import generic_machine

OPENED = Opened(complaint="motion-without-steering")


def state(*events: Any) -> State:
    return fold(Case((OPENED, *events)))


@pytest.mark.parametrize("given", [["x", 4.4], [True, 4.4], [0.5, None], [[0.5], 4.4], {"a": 1}, "0.5 4.4"])
def test_ends_of_travel_that_are_no_numbers_are_refused(given: Any) -> None:
    """As the value or as the supply given with it; numbers are taken as they stand."""
    line = {"reading": "output-at-both-ends", "values": [0.52, 4.4]}
    for wrong in ({"values": given}, {"supply": given}):
        with pytest.raises(InputError, match="is not a number"):
            list(events_of(trade_knowledge(), scenario({**line, **wrong})))
    found = [e for _, e, _ in events_of(trade_knowledge(), scenario({**line, "supply": 5}))]
    assert [(e.values, e.supply) for e in found if isinstance(e, Answered)] == [((0.52, 4.4), 5)]


@pytest.mark.parametrize(("fires", "says"), [(True, "no case that fires it"), (False, "no case that does not fire it")])
def test_a_rule_needs_a_case_of_each_kind(fires: bool, says: str) -> None:
    """Whichever is taken away is missed, by the rule's name, and no other rule is."""
    k = small_knowledge()
    kept = tuple(c for c in k.rule_cases if c.rule != "supply-sags" or c.fires != fires)
    assert list(failures(k)) == []
    assert list(failures(k.model_copy(update={"rule_cases": kept}))) == [f"rule-cases: supply-sags has {says}"]


def test_a_case_that_does_the_opposite_is_named() -> None:
    """With what the rule does and what the case tells."""
    k = small_knowledge()
    turned = tuple(c.model_copy(update={"fires": not c.fires}) if c.rule == "supply-sags" else c for c in k.rule_cases)
    first, second = failures(k.model_copy(update={"rule_cases": turned}))
    assert first.startswith("rule-cases: supply-sags fires on a case that says the opposite: ")
    assert second.startswith("rule-cases: supply-sags does not fire on a case")
    assert "supply-at-sensor-loaded" in first


def test_only_questions_to_the_operator_tell_what_the_machine_is() -> None:
    """A look at the machine tells nothing of it, nor does an answer whose check is no longer in the knowledge."""
    k, machine = trade_knowledge(), generic_machine()
    bare = features(k, machine, state())
    asked = Answered(check="tried", result="sensor-replaced", also=("plugs-cleaned",))
    looked, gone = Answered(check="coupling-grip", result="tight"), Answered(check="no-such", result="x")
    assert features(k, machine, state(looked, gone)) == bare
    assert features(k, machine, state(looked, asked)) == {**bare, "tried": ("sensor-replaced", "plugs-cleaned")}


def test_answers_heard_become_answers_once() -> None:
    """The first is the answer, others go with it; what was answered since is not told again."""
    k, machine = trade_knowledge(), small_machine()
    one = Told(question=f"{HEARD}tried", words=("sensor-replaced",))
    two = Told(question=f"{HEARD}tried", words=("sensor-replaced", "plugs-cleaned"))
    assert heard_answers(k, machine, state()) == ()
    assert heard_answers(k, machine, state(one)) == (Answered(check="tried", result="sensor-replaced"),)
    assert heard_answers(k, machine, state(two)) == (Answered(check="tried", result="sensor-replaced", also=("plugs-cleaned",)),)
    assert heard_answers(k, machine, state(one, Answered(check="tried", result="sensor-replaced"))) == ()


def expected(**expect: Any) -> tuple[str, ...]:
    """What differs from an expectation after an answer, its correction and another; the coupling leads from the second on."""
    lines = ({"check": "coupling-grip", "result": "tight"}, {"correct": "coupling-grip", "result": "slips"},
             {"check": "wiggle-harness", "result": "quiet"})  # fmt: skip
    told_of = scenario(*lines, expect={"leading": "sensor-coupling-loose", **expect})
    return replay(small_knowledge(), told_of).differs


def test_an_expectation_counts_the_answers_until_a_cause_leads_for_good() -> None:
    """It leads from the second line on: within two that is right, within one it is told how many it took."""
    assert expected(within=2) == ()
    assert expected(within=1) == ("sensor-coupling-loose leads for good only after 2 answers, not within 1",)


def test_an_expectation_is_held_to_its_cause_and_its_share() -> None:
    """Each difference in one line; the wrong cause is told alone."""
    lead = replay(small_knowledge(), scenario({"check": "coupling-grip", "result": "slips"})).final.leading
    assert expected(share=1.0)[0].startswith("sensor-coupling-loose holds 0.")
    assert expected(share=lead.share / 2) == ()
    assert expected(place="splice-7") != ()
    wrong = expected(leading="steering-valve-leak", share=1.0, within=1)
    assert len(wrong) == 1
    assert wrong[0].startswith("steering-valve-leak should lead, but sensor-coupling-loose does (")


def test_a_run_that_was_long_enough_says_only_what_it_showed() -> None:
    """Neither how long to run nor under which conditions: that is over."""
    lines = ({"check": "coupling-grip", "result": "slips"}, {"repair": "sensor-coupling-loose"},
             {"retest": "coupling-grip", "result": "tight"}, {"run": 90})  # fmt: skip
    consultation, case = told(*lines, intake={"occurrences": 5, "hours": 16, "temperature": "cold"})
    step = consultation.assess(case).next
    assert step is not None
    assert step.id == "close"
    assert any("long enough" in text for text in step.reason)
    assert not any("first thing in the morning" in text or "If it comes back" in text for text in step.reason)
