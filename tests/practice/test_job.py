"""A job charges every policy alike and reasons about the machine as the program does."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from builders import small_knowledge, small_machine

from advisor.consultation.actions import open_actions
from advisor.consultation.consultation import Consultation
from advisor.model.finding import Step, Suspect
from advisor.practice.job import Job
from advisor.practice.policies import POLICIES, as_step
from advisor.practice.simulated import simulate
from advisor.practice.trial import stream, work
from advisor.reasoning.likelihoods import space

COMPLAINT = "motion-without-steering"
SPLICE = Suspect("high-resistance-splice", "splice-7")


@cache
def consultation() -> Consultation:
    return Consultation(small_knowledge(), small_machine())


def job(number: int = 0, hidden: Suspect = SPLICE) -> Job:
    world = space(small_knowledge(), small_machine(), COMPLAINT)
    return Job(consultation(), simulate(world, COMPLAINT, hidden, stream(6, number)))


def repair(mine: Job, cause: str, place: str | None = None) -> Step:
    return Step("repair", cause, cause, place, minutes=20.0)


@pytest.mark.parametrize("number", range(3))
def test_the_ranking_is_that_of_the_program(number: int) -> None:
    """The shares that a policy sees are those of the consultation on the job's own case."""
    mine, rng = job(number), np.random.default_rng(number)
    for _ in range(4):
        left = open_actions(mine.situation)
        mine.do(as_step(mine.situation, left[int(rng.integers(len(left)))]))
    found = consultation().assess(mine.case, plan=False).suspects
    whole = sum(share for *_, share in found)
    shares = {suspect: share / whole for suspect, _, share in found}
    for suspect, share in zip(mine.situation.space.suspects, mine.shares, strict=True):
        assert share == pytest.approx(shares[suspect], abs=1e-9)


def test_the_way_is_paid_once_while_the_machine_stands_so() -> None:
    """The second check that needs the same of the machine costs its own minutes only."""
    mine = job()
    s = mine.situation
    behind = [a for a in open_actions(s) if as_step(s, a).minutes > a.minutes]
    first = next(a for a in behind if sum(b.errand == a.errand for b in behind) > 1)
    second = next(b for b in behind if b.errand == first.errand and b.key != first.key)
    assert mine.do(as_step(s, first)).minutes > first.minutes
    assert mine.do(as_step(mine.situation, second)).minutes == second.minutes


def test_only_the_right_repair_cures() -> None:
    """A repair of another suspect leaves little of it in the ranking; that of the hidden one ends the job."""
    mine = job()
    wrong = mine.situation.space.suspects.index(Suspect("sensor-coupling-loose"))
    before = mine.shares[wrong]
    assert mine.do(repair(mine, "sensor-coupling-loose")).result == "not cured"
    assert mine.shares[wrong] < before / 2
    assert not mine.cured
    assert mine.do(repair(mine, SPLICE.cause, SPLICE.place)).result == "cured"
    assert mine.over


@pytest.mark.parametrize("name", POLICIES)
def test_every_policy_ends(name: str) -> None:
    """No step costs less than nothing, and the last one cures or asks for help."""
    mine = job(2)
    told = work(mine, POLICIES[name])
    assert all(d.minutes >= 0 for d in mine.done)
    assert mine.over
    assert mine.done[-1].kind in ("repair", "done")
    assert told.minutes == pytest.approx(sum(d.minutes for d in mine.done))
    assert told.checks + told.repairs <= len(mine.done)
    assert 0 <= told.brier <= 2


def test_the_sheet_stops_at_the_first_finding() -> None:
    """On the printed sheet a repair follows just after the first check that is not normal."""
    mine = job(1)
    work(mine, POLICIES["fixed-order"])
    first = next(i for i, d in enumerate(mine.done) if d.kind == "repair" or mine.abnormal(d))
    assert mine.abnormal(mine.done[first])
    assert mine.done[first + 1].kind == "repair"
