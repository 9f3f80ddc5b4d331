"""What is recommended next: rules over arithmetic, and no repair on suspicion."""

from __future__ import annotations

import random
from functools import cache

import pytest

from advisor.commands.shared import knowledge_folder
from advisor.consultation.actions import done, possible
from advisor.consultation.answers import LOAD_TEST
from advisor.consultation.consultation import Consultation
from advisor.consultation.next_step import proofs
from advisor.library.parser import load
from advisor.model.case import Answered, Case, Limited, Opened, Repaired, Retested, SetupChanged, fold
from advisor.model.knowledge import Knowledge
from advisor.reasoning.likelihoods import check_places

SLIPS = (("confirm-complaint", "seen"), ("watch-wheel-against-reading", "reading-moves-alone"), ("coupling-grip", "slips"))


@cache
def knowledge() -> Knowledge:
    return load(knowledge_folder(None))


@cache
def consultation() -> Consultation:
    return Consultation(knowledge())


def case_of(complaint: str, *answers: tuple[str, str]) -> Case:
    return Case((Opened(complaint=complaint), *(Answered(check=c, result=r) for c, r in answers)))


@pytest.mark.parametrize("complaint", sorted(knowledge().complaints))
def test_the_complaint_is_confirmed_before_anything_else(complaint: str) -> None:
    """Whatever the complaint, the first step is to see it."""
    step = consultation().assess(case_of(complaint)).next
    assert step is not None
    assert (step.kind, step.id) == ("check", "confirm-complaint")


def test_a_direct_proof_of_the_leader_leads_to_its_repair() -> None:
    """Once the coupling was felt and seen to slip, its repair comes next, and the reason names what showed it."""
    step = consultation().assess(case_of("motion-without-steering", *SLIPS, ("coupling-stripe", "broken"))).next
    assert step is not None
    assert (step.kind, step.id) == ("repair", "sensor-coupling-loose")
    assert "Shown by" in step.reason[0]


def test_what_was_shown_once_is_made_surer_while_another_cause_may_still_be_true() -> None:
    """A coupling felt to slip holds two thirds: another look is advised first, and the repair at once is offered with its price."""
    found = consultation().assess(case_of("position-erratic", *SLIPS))
    assert found.next is not None
    assert (found.next.kind, found.next.id) == ("check", "coupling-stripe")
    assert "makes surer" in found.next.reason[0]
    repair = found.alternatives[0]
    assert (repair.kind, repair.id) == ("repair", "sensor-coupling-loose")
    assert repair.to_the_end > found.next.to_the_end


@pytest.mark.parametrize("seed", range(12))
def test_nothing_is_repaired_on_suspicion(seed: int) -> None:
    """A repair is recommended only when its cause was shown, or when each proof was tried or cannot be done here."""
    dice, k, c = random.Random(seed), knowledge(), consultation()
    complaint = dice.choice(sorted(k.complaints))
    case = case_of(complaint)
    if seed % 3 == 0:
        case = case.then(Limited(what="load-tester"))
    for _ in range(6):
        assessment = c.assess(case)
        step, state = assessment.next, fold(case)
        assert step is not None
        if step.kind == "repair":
            entry = k.causes[step.id]
            open_proofs = [
                name for name in entry.proof
                if possible(k, state, k.checks[name])
                and not done(state, name, step.place if k.checks[name].at not in (None, "section") else None)
            ]  # fmt: skip
            shown = set(proofs(c, state, step.id, step.place))
            assert shown - {LOAD_TEST} or set(open_proofs) <= shown
            return
        if step.kind != "check":
            return
        check = k.checks[step.id]
        assert step.place in check_places(check, c.machine)
        result = dice.choice(check.results).id
        case = case.then(Answered(check=step.id, result=result, place=step.place))


def test_live_setups_are_undone_before_hands_go_in() -> None:
    """Key and engine are off before a repair begins, however the check before it needed them."""
    case = case_of("motion-without-steering", *SLIPS, ("coupling-stripe", "broken"))
    for setup in ("key-on", "sensor-out"):
        case = case.then(SetupChanged(setup=setup, entered=True))
    step = consultation().assess(case).next
    assert step is not None
    assert step.kind == "repair"
    assert "key-on" in step.leaves
    assert "sensor-out" not in step.leaves


def test_what_was_made_last_is_undone_first() -> None:
    """Before the run the sensor goes back on before the chocks come away."""
    case = case_of("position-erratic", ("coupling-grip", "slips"))
    for setup in ("machine-blocked", "sensor-out"):
        case = case.then(SetupChanged(setup=setup, entered=True))
    case = case.then(Repaired(cause="sensor-coupling-loose"))
    case = case.then(Retested(by=Answered(check="coupling-grip", result="tight")))
    step = consultation().assess(case).next
    assert step is not None
    assert (step.kind, step.leaves) == ("run", ("sensor-out", "machine-blocked"))


def test_a_check_that_gains_next_to_nothing_does_not_put_off_the_proof_of_the_leader() -> None:
    """With the sensor already off, a glance at the locks would gain a minute; the second proof of the coupling comes first."""
    off = tuple(SetupChanged(setup=s, entered=True) for s in ("machine-blocked", "sensor-out"))
    found = consultation().assess(Case((*case_of("motion-without-steering", *SLIPS).events, *off)))
    assert found.next is not None
    assert found.next.id == "coupling-stripe"
