"""Before a repair that may be in vain: the checks that tell more together than one by one."""

from __future__ import annotations

import numpy as np
import pytest
from builders import small_machine
from numpy.typing import NDArray
from worlds import cause, knowledge
from worlds import check as check_entry

from advisor.consultation.actions import Trying, enough, most_telling, tried_first
from advisor.consultation.consultation import Consultation
from advisor.model.case import Answered, Case, Opened, Skipped
from advisor.reasoning.planning import Action, Plan, Setups, Tries, Valued, plan

NO_SETUPS = Setups({}, {}, {})
NOTHING: frozenset[str] = frozenset()
REPAIR = 1000.0  # minutes of trying either suspect by its repair
CHECKS = 6

Floats = NDArray[np.float64]


def check(number: int, chance: float, minutes: float) -> Action:
    """A check that is not normal with one chance for the first suspect and the other way round for the second."""
    return Action((str(number), ""), np.array([[1 - chance, chance], [chance, 1 - chance]]), minutes)


def ways(by: tuple[str, str] | None = None) -> Trying:
    return Trying(Tries(np.full(2, REPAIR), (NOTHING, NOTHING)), np.zeros(2), (by, by))


def chosen(shares: Floats, left: list[Action], by: tuple[str, str] | None = None) -> tuple[Plan, Valued | None]:
    found = plan(shares, ways(by).tries, left, NO_SETUPS, NOTHING)
    return found, most_telling(found, ways(by), shares, NO_SETUPS, NOTHING)


def minutes_to_the_end(shares: Floats, left: list[Action]) -> float:
    """Expected minutes of taking the telling checks, then repairing the likelier suspect first."""
    _, telling = chosen(shares, left)
    if telling is None:
        return REPAIR * (1 + float(shares.min()))
    joint = telling.action.table * shares
    rest = [a for a in left if a is not telling.action]
    return telling.now + sum(float(row.sum()) * minutes_to_the_end(row / row.sum(), rest) for row in joint)


def test_checks_that_change_nothing_one_by_one_are_taken_where_they_pay_together() -> None:
    """Two more looks would not change what is repaired, six would: they are taken, and that costs less than repairing at once."""
    shares, left = np.array([0.85, 0.15]), [check(i, 0.35, 3.0) for i in range(CHECKS)]
    found, telling = chosen(shares, left)
    assert tried_first(found, ways(), shares)  # two steps see no gain
    assert telling is not None
    assert minutes_to_the_end(shares, left) < REPAIR * 1.15 - 5.0


def test_a_check_whose_bits_are_worth_less_than_its_minutes_is_not_taken() -> None:
    """The same looks at an hour each cost more than the repair in vain that they may spare."""
    assert chosen(np.array([0.85, 0.15]), [check(i, 0.35, 60.0) for i in range(CHECKS)])[1] is None


def test_what_is_tried_by_a_check_needs_no_telling_one_before_it() -> None:
    """A proof is a check itself, and nothing is repaired in vain by it."""
    assert chosen(np.array([0.85, 0.15]), [check(i, 0.35, 3.0) for i in range(CHECKS)], by=("proof", ""))[1] is None


@pytest.mark.parametrize("minutes", [0.0, 5.0])
def test_a_check_that_no_suspect_changes_is_never_taken(minutes: float) -> None:
    """Not even where it costs nothing."""
    assert chosen(np.array([0.6, 0.4]), [check(0, 0.5, minutes)])[1] is None


def test_without_a_check_left_nothing_is_taken() -> None:
    """The repair is all there is."""
    assert chosen(np.array([0.6, 0.4]), [])[1] is None


def test_the_check_that_tells_most_a_minute_comes_first() -> None:
    """A sharper look at the same price goes before a blunter one."""
    telling = chosen(np.array([0.95, 0.05]), [check(0, 0.4, 3.0), check(1, 0.3, 3.0), check(2, 0.35, 3.0)])[1]
    assert telling is not None
    assert telling.action.key == ("1", "")


@pytest.mark.parametrize(
    ("share", "seen", "is_enough"),
    [(0.99, (), False), (0.93, ("a",), False), (0.93, ("a", "a"), False), (0.93, ("a", "b"), True), (0.95, ("a",), True)],
)
def test_one_proof_must_leave_less_open_than_two(share: float, seen: tuple[str, ...], is_enough: bool) -> None:
    """93 % is repaired when two different checks have shown it, and looked at once more when one has, however often."""
    assert enough(share, seen) is is_enough


def test_before_a_repair_on_suspicion_the_telling_check_is_advised_and_the_repair_is_offered_with_its_price() -> None:
    """No proof can be done here: the looks that part the two causes come first, one by one, and then the repair."""
    parting = {"one": {"bad": "unlikely"}, "otherwise": {"bad": "likely"}}
    looks = [check_entry(f"look-{i}", parting, minutes=3) for i in range(CHECKS)]
    causes = [cause("one", frequency="very-common"), cause("other", frequency="rare")]
    consultation = Consultation(knowledge(causes, [check_entry("look", {}), *looks]), small_machine())
    case = Case((Opened(complaint="odd-reading"), Skipped(check="look")))
    for _ in range(CHECKS):
        found = consultation.assess(case)
        assert found.next is not None
        if found.next.kind != "check":
            break
        assert found.next.reason[0] == "It makes surer of this first: one. A repair in vain is counted as 24 hours."
        assert [(a.kind, a.id) for a in found.alternatives][:1] == [("repair", "one")]
        case = case.then(Answered(check=found.next.id, result="good"))
    assert len(case.events) > 3
    step = consultation.assess(case).next
    assert step is not None
    assert (step.kind, step.id) == ("repair", "one")
