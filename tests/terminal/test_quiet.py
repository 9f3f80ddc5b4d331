"""What a check says that found nothing while the fault may not have shown, and when enough is known."""

from __future__ import annotations

from builders import small_knowledge
from terminal.talk import talk

from advisor.consultation.consultation import Consultation
from advisor.model.case import Answered, Case, Event, Opened
from advisor.model.finding import QUIET
from advisor.model.machine import generic_machine

COMES = Opened(complaint="motion-without-steering", intake={"behaviour": ("comes-and-goes",)}, occurrences=2, hours=60)
ALWAYS = COMES.model_copy(update={"intake": {"behaviour": ("always-there",)}})
WIGGLE = ("other wiggle-harness", "quiet")


def test_a_quiet_look_at_a_fault_that_comes_and_goes_says_little() -> None:
    """The sentence stands after the answer with the chance that the fault shows, and once in `why`."""
    told = talk(*WIGGLE, "why all", opened=COMES, width=120)
    after, why = told.printed.split("answer> quiet")[-1].split("answer> why all")
    assert f"{QUIET} The fault shows in about" in after
    assert why.count(QUIET) == 1
    assert "move the harness and watch the reading" in why


def test_of_a_fault_that_is_always_there_a_quiet_look_says_what_it_says() -> None:
    """The sentence would be wrong."""
    assert QUIET not in talk(*WIGGLE, "why all", opened=ALWAYS).printed


def test_what_lasts_is_found_whenever_somebody_looks() -> None:
    """A coupling that is tight is tight, though the fault did not show."""
    assert QUIET not in talk("other coupling-grip", "tight", "why all", opened=COMES).printed


def test_a_reaction_is_no_quiet_look() -> None:
    """Only what was normal can be so because the fault did not show."""
    assert QUIET not in talk("other wiggle-harness", "jumps", opened=COMES).printed


def test_enough_is_known_stands_before_a_repair_that_no_open_check_can_improve() -> None:
    """The step is the repair, and says so first; without an open check it says that none is left."""
    consultation = Consultation(small_knowledge(), generic_machine())
    events: list[Event] = [ALWAYS]
    results = {"confirm-complaint": "shows", "watch-wheel-against-reading": "only-reading", "coupling-grip": "slips"}
    events += [Answered(check=check, result=result) for check, result in results.items()]
    step = consultation.assess(Case(tuple(events))).next
    assert step is not None
    assert (step.kind, step.id) == ("repair", "sensor-coupling-loose")
    assert step.reason[0].startswith("Enough is known. It is ")
    assert step.reason[1] == "No open check saves more minutes than it takes."
