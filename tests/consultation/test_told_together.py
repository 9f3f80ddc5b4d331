"""What the operator tells: answers that say together that nothing differs, and what the complaint itself has said already."""

from __future__ import annotations

import numpy as np
import pytest
from folders import real_knowledge

from advisor.consultation.actions import open_actions
from advisor.consultation.consultation import Consultation
from advisor.model.case import Answered, Case, Event, Opened, Skipped
from advisor.model.machine import generic_machine
from advisor.reasoning.likelihoods import space


def case(complaint: str, *events: Event, **intake: tuple[str, ...]) -> Case:
    return Case((Opened(complaint=complaint, intake=intake), *events))


def offered(found: Case) -> set[str]:
    """The checks and questions that the program could put next."""
    consultation = Consultation(real_knowledge(), generic_machine())
    return {action.key[0] for action in open_actions(consultation.situation(found))}


def test_wet_and_dry_together_say_nothing_of_water() -> None:
    """Whoever says that it comes in the wet and in the dry says that water makes no difference; the rest still counts."""
    suspects = space(real_knowledge(), generic_machine(), "position-erratic")
    at = suspects.first
    both, wet = suspects.told("weather", ("dry", "wet")), suspects.told("weather", ("wet",))
    assert wet[at["missing-seal"]] > 4 * wet[at["ball-joint-play"]]
    assert both[at["missing-seal"]] < 1.1 * both[at["ball-joint-play"]]
    washed = suspects.told("weather", ("dry", "wet", "after-washing"))
    assert washed[at["wash-water-or-wrong-grease"]] > 2 * washed[at["ball-joint-play"]]


@pytest.mark.parametrize(
    ("complaint", "question", "answer"), [("reads-high", "direction", "high"), ("guidance-drops-out", "guidance-fitted", "yes")]
)
def test_what_the_complaint_says_is_no_evidence_and_is_not_asked(complaint: str, question: str, answer: str) -> None:
    """How likely a cause is reported so counts in its share from the beginning; the same answer told again adds nothing."""
    suspects = space(real_knowledge(), generic_machine(), complaint)
    assert np.all(suspects.told(question, (answer,)) == 1.0)
    assert question not in offered(case(complaint))
    assert question in offered(case("position-erratic"))


def test_a_rule_knows_what_the_complaint_says() -> None:
    """Both tracks low at both ends is told by the complaint and two answers."""
    told = case("reads-low", Answered(check="at-position", result="both-ends"), Answered(check="track-named", result="both"))
    found = Consultation(real_knowledge(), generic_machine()).assess(told, plan=False)
    assert any("told-both-tracks-low-at-both-ends" in reason.rule for reason in found.because)


def test_what_only_comes_first_is_not_waited_for_where_it_cannot_be_done() -> None:
    """The tyres are compared by the distance that they roll although nobody has a gauge for their pressures."""
    seen = Answered(check="confirm-complaint", result="seen")
    assert "tyre-circumference-compared" not in offered(case("centre-offset", seen))
    assert "tyre-circumference-compared" in offered(case("centre-offset", seen, Skipped(check="tyre-pressures-look")))
    assert "bus-halved" not in offered(case("message-missing", seen, Skipped(check="bus-pair-ohms")))


def test_a_starved_unit_is_repaired_at_its_own_plug_once_fuse_and_ground_are_good() -> None:
    """The hold on its repair ends with a look at what else could starve it, for its own plug is left then."""
    consultation = Consultation(real_knowledge(), generic_machine())
    told = case(
        "message-missing", Answered(check="unit-list-watched", result="one-missing"),
        Answered(check="unit-feed-watched", result="starved"),
    )  # fmt: skip
    assert consultation.situation(told).held_repair("node-dropping-out")
    told = told.then(Answered(check="fuse-and-holder", result="sound"))
    assert consultation.situation(told).held_repair("node-dropping-out")
    assert not consultation.situation(told.then(Answered(check="ground-point-drop", result="within"))).held_repair(
        "node-dropping-out"
    )
