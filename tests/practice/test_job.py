"""A job charges every policy alike and ranks as the program does."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from builders import MACHINE, small_knowledge, small_machine

from advisor.consultation.consultation import Consultation
from advisor.model.case import Case, Opened
from advisor.model.finding import Suspect
from advisor.practice.job import Job, Setting
from advisor.practice.policies import POLICIES
from advisor.practice.simulated import simulate
from advisor.practice.trial import stream, work
from advisor.reasoning.likelihoods import space

COMPLAINT = "motion-without-steering"
SPLICE = Suspect("high-resistance-splice", "splice-7")


@cache
def setting() -> Setting:
    return Setting(space(small_knowledge(), small_machine(), COMPLAINT))


def job(number: int = 0, hidden: Suspect = SPLICE) -> Job:
    return Job(setting(), simulate(setting().space, COMPLAINT, hidden, stream(6, number)))


@pytest.mark.parametrize("number", range(3))
def test_the_ranking_is_that_of_the_program(number: int) -> None:
    """After the same answers and readings the shares are those of a consultation whose rules change no prior."""
    consultation, mine = Consultation(small_knowledge(), small_machine()), job(number)
    case = Case((Opened(complaint=COMPLAINT, machine=MACHINE),))
    rng = np.random.default_rng(number)
    for at in rng.permutation(len(mine.left()))[:5]:
        action = mine.setting.checks[at] if at < len(mine.setting.checks) else mine.setting.first_load_tests[0]
        if action.key in {d.key for d in mine.done}:
            continue
        done = mine.do(action)
        if done.kind == "reading":
            section = small_machine().section(*action.key[1:])
            assert section is not None
            case = case.then(mine.machine.readings[section])
        else:
            case = case.then(mine.machine.answer(action.key[0], action.key[1] or None))
    found = consultation.assess(case, plan=False)
    shares = {suspect: share for suspect, _, share in found.suspects}
    for suspect, share in zip(mine.setting.space.suspects, mine.ranking.shares, strict=True):
        assert share == pytest.approx(shares[suspect], abs=1e-9)


def test_setups_are_paid_once_while_they_last() -> None:
    """The second check behind the same setups costs its own minutes only."""
    mine = job()
    behind = [a for a in mine.left() if a.setups]
    first = next(a for a in behind if sum(b.setups == a.setups for b in behind) > 1)
    second = next(b for b in behind if b.setups == first.setups and b is not first)
    assert mine.do(first).minutes > first.minutes
    assert mine.do(second).minutes == second.minutes


def test_only_the_right_repair_cures() -> None:
    """A repair of another suspect leaves next to nothing of it in the ranking; that of the hidden one ends the job."""
    mine = job()
    wrong, right = (mine.setting.space.suspects.index(s) for s in (Suspect("sensor-coupling-loose"), SPLICE))
    assert mine.repair(wrong).result == "not cured"
    assert mine.shares[wrong] < 1e-6
    assert not mine.cured
    assert mine.repair(right).result == "cured"
    assert mine.cured


@pytest.mark.parametrize("name", POLICIES)
def test_every_policy_ends_and_does_nothing_twice(name: str) -> None:
    """No step is done twice, none costs less than nothing, and the last one cures."""
    mine = job(2)
    told = work(mine, POLICIES[name])
    keys = [(d.kind, d.key) for d in mine.done]
    assert len(keys) == len(set(keys))
    assert all(d.minutes >= 0 for d in mine.done)
    assert mine.done[-1].result == "cured"
    assert told.minutes == pytest.approx(sum(d.minutes for d in mine.done))
    assert told.checks + told.repairs == len(keys)
    assert 0 <= told.brier <= 2


def test_the_sheet_stops_at_the_first_finding() -> None:
    """On the printed sheet a repair follows just after the first check that is not normal."""
    mine = job(1)
    work(mine, POLICIES["fixed-order"])
    first = next(i for i, d in enumerate(mine.done) if d.kind == "repair" or mine.abnormal(d))
    assert mine.abnormal(mine.done[first])
    assert mine.done[first + 1].kind == "repair"
