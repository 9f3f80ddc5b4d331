"""The next step: minutes of setups, expected minutes of repairing and checking, what is never worth doing."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest
from grounds import NOTHING
from hypothesis import given, settings
from hypothesis import strategies as st
from worlds import shares_of

from advisor.practice.optimum import Setups
from advisor.reasoning.planning import Action, Tries, expected_cost, one_step, plan

SETUPS = Setups({"cover-off": 4.0, "key-on": 1.5, "unplugged": 8.0})
MANY = settings(max_examples=60, deadline=None)


def action(name: str, bad: Sequence[float], minutes: float = 5.0, *needs: str) -> Action:
    """A check of two results; `bad` is its chance of the first for each suspect."""
    return Action((name,), np.array([bad, [1 - b for b in bad]]), minutes, frozenset(needs))


def tries(minutes: Sequence[float], *needs: frozenset[str]) -> Tries:
    """Repairs of these minutes; without `needs` none asks for a setup."""
    return Tries(np.array(minutes, dtype=float), needs or (NOTHING,) * len(minutes))


@dataclass(frozen=True)
class Drawn:
    """Shares, repairs, up to four checks and the setups in place."""

    shares: np.ndarray
    tries: Tries
    actions: list[Action]
    present: frozenset[str]


@st.composite
def problems(draw: st.DrawFn, *, bare: bool = False) -> Drawn:
    """A problem; `bare`: its repairs need no setups."""
    count = draw(st.integers(2, 5))
    minutes = draw(st.lists(st.floats(1, 200), min_size=count, max_size=count))
    chances = st.lists(st.floats(0.01, 0.99), min_size=count, max_size=count)
    needs = st.lists(st.sampled_from(list(SETUPS.enter)), max_size=2, unique=True).map(frozenset)
    actions = [action(f"check-{i}", draw(chances), draw(st.floats(0, 25)), *draw(needs)) for i in range(draw(st.integers(1, 4)))]
    wanted = [NOTHING] * count if bare else [draw(needs) for _ in range(count)]
    return Drawn(draw(shares_of(count)), tries(minutes, *wanted), actions, draw(needs))


def paid(done: Tries, order: Sequence[int], present: frozenset[str]) -> list[float]:
    """Minutes of each repair in this order: a setup that is missing is made once."""
    found, made = [], set(present)
    for i in order:
        found.append(float(done.minutes[i]) + sum(SETUPS.enter[s] for s in done.errands[i] - made))
        made |= done.errands[i]
    return found


def repair_all(shares: Sequence[float], done: Tries, order: Sequence[int], present: frozenset[str] = NOTHING) -> float:
    """Expected minutes of repairing in this order until the fault is gone, told step by step."""
    left, total = 1.0, 0.0
    for i, minutes in zip(order, paid(done, order, present), strict=True):
        total += left * minutes
        left -= shares[i]
    return total


def by_odds(shares: Sequence[float], done: Tries, present: frozenset[str]) -> float:
    """Repairs in order of chance over minutes, each with all that it would have to pay if it came first."""
    order = sorted(range(len(shares)), key=lambda i: -shares[i] / paid(done, [i], present)[0])
    return repair_all(shares, done, order, present)


def best_repairs(shares: Sequence[float], done: Tries, present: frozenset[str] = NOTHING) -> float:
    return min(repair_all(shares, done, order, present) for order in itertools.permutations(range(len(shares))))


def after(shares: np.ndarray, chances: np.ndarray) -> tuple[float, np.ndarray]:
    """The chance of a result and the shares once it has come."""
    joint = shares * chances
    return float(joint.sum()), joint / joint.sum()


def value(p: Drawn, shares: np.ndarray, first: Action, present: frozenset[str], depth: int) -> float:
    """Expected minutes when a check comes first and the best check or none follows, by plain recursion."""
    total = first.minutes + SETUPS.cost(first.errand, present)
    there = SETUPS.after(first.errand, present)
    for chances in first.table:
        chance, then = after(shares, chances)
        options = [by_odds(then, p.tries, there)]
        if depth > 1:
            options += [value(p, then, a, there, depth - 1) for a in p.actions if a is not first]
        total += chance * min(options)
    return total


def test_a_setup_is_paid_once() -> None:
    """Minutes of a setup count only while it is not in place."""
    needed = frozenset({"cover-off", "key-on"})
    assert SETUPS.cost(needed, NOTHING) == pytest.approx(5.5)
    assert SETUPS.cost(needed, frozenset({"cover-off"})) == pytest.approx(1.5)
    assert SETUPS.cost(needed, SETUPS.after(needed, NOTHING)) == 0.0


def test_checks_behind_one_cover_come_together() -> None:
    """With the cover off, the other check behind it is worth doing before one that asks for a new setup."""
    first, second = action("first", (0.9, 0.1, 0.5), 5, "cover-off"), action("second", (0.1, 0.9, 0.5), 5, "unplugged")
    shares, repairs = np.array([0.4, 0.4, 0.2]), tries([60.0, 60.0, 60.0])
    closed = plan(shares, repairs, [first, second], SETUPS, frozenset({"unplugged"}))
    opened = plan(shares, repairs, [first, second], SETUPS, frozenset({"cover-off"}))
    assert [closed.actions[0].action.key, opened.actions[0].action.key] == [("second",), ("first",)]
    assert opened.actions[0].now == 5.0
    assert next(v.now for v in opened.actions if v.action is second) == 13.0


def test_a_check_that_opens_the_way_to_a_repair_is_worth_more() -> None:
    """Of two checks that tell and cost the same, the one whose setup the likely repair needs comes first."""
    here, there = action("here", (0.9, 0.1), 5, "cover-off"), action("there", (0.9, 0.1), 5, "other-cover-off")
    covers = Setups({"cover-off": 4.0, "other-cover-off": 4.0})
    repairs = tries([60.0, 60.0], frozenset({"cover-off"}), NOTHING)
    found = plan(np.array([0.5, 0.5]), repairs, [there, here], covers, NOTHING)
    assert found.actions[0].action is here
    assert found.actions[0].to_the_end < found.actions[1].to_the_end


@MANY
@given(problems(bare=True))
def test_odds_over_minutes_is_the_best_order_of_repairs(p: Drawn) -> None:
    """Where repairs need no setups, repairing in order of p/c costs what the best of all orders costs."""
    assert float(expected_cost(p.shares, p.tries, SETUPS, NOTHING)) == pytest.approx(best_repairs(p.shares, p.tries), rel=1e-9)


@MANY
@given(problems())
def test_repairs_in_order_of_odds_pay_a_setup_once(p: Drawn) -> None:
    """Repairs are put in order of chance over all that each would pay, and the first that needs a setup pays it."""
    found = float(expected_cost(p.shares, p.tries, SETUPS, p.present))
    assert found == pytest.approx(by_odds(p.shares, p.tries, p.present), rel=1e-9)
    assert found >= best_repairs(p.shares, p.tries, p.present) - 1e-9


@MANY
@given(problems(bare=True))
def test_first_try_begins_a_best_order(p: Drawn) -> None:
    """Without checks and setups, the repair that is put first is the first of an order that nothing beats."""
    first = plan(p.shares, p.tries, [], SETUPS, NOTHING).first_try
    rest = [i for i in range(len(p.shares)) if i != first]
    begun = min(repair_all(p.shares, p.tries, (first, *order)) for order in itertools.permutations(rest))
    assert begun == pytest.approx(best_repairs(p.shares, p.tries), rel=1e-9)


@MANY
@given(problems())
def test_many_shares_at_once_cost_what_each_costs_alone(p: Drawn) -> None:
    """Rows of shares are valued as each alone would be."""
    rows = np.array([after(p.shares, chances)[1] for a in p.actions for chances in a.table])
    alone = [float(expected_cost(row, p.tries, SETUPS, p.present)) for row in rows]
    assert expected_cost(rows, p.tries, SETUPS, p.present) == pytest.approx(alone, rel=1e-9)


@MANY
@given(problems())
def test_one_step_is_the_mean_over_the_results(p: Drawn) -> None:
    """A check is worth its own minutes and those of its setups, and then what is best after each of its results."""
    found = one_step(p.shares, p.tries, p.actions, SETUPS, p.present)
    assert [v.action for v in found] == p.actions
    for v in found:
        assert v.now == pytest.approx(v.action.minutes + SETUPS.cost(v.action.errand, p.present))
        assert v.to_the_end == pytest.approx(value(p, p.shares, v.action, p.present, 1), rel=1e-9)


@MANY
@given(problems())
def test_two_steps_are_the_mean_over_the_results_of_both(p: Drawn) -> None:
    """Looked at two steps deep, a check is worth what plain recursion over all results finds."""
    for v in plan(p.shares, p.tries, p.actions, SETUPS, p.present).actions:
        assert v.to_the_end == pytest.approx(value(p, p.shares, v.action, p.present, 2), rel=1e-9)


@MANY
@given(problems())
def test_looking_further_never_costs_more(p: Drawn) -> None:
    """A check's value two steps deep is never above its value one step deep."""
    near = plan(p.shares, p.tries, p.actions, SETUPS, p.present, depth=1)
    far = plan(p.shares, p.tries, p.actions, SETUPS, p.present, depth=2)
    shallow = {v.action.key: v.to_the_end for v in near.actions}
    assert all(v.to_the_end <= shallow[v.action.key] + 1e-9 for v in far.actions)


@MANY
@given(problems())
def test_trying_first_counts_what_is_best_after_it(p: Drawn) -> None:
    """The first try is worth its minutes and, if it was the wrong one, the best check or the other repairs; it is the best such.

    Where the others are then tried in the old order, that is what the first of that order is worth at most.
    """

    def tried(first: int) -> float:
        now = float(p.tries.minutes[first]) + SETUPS.cost(p.tries.errands[first], p.present)
        there = SETUPS.after(p.tries.errands[first], p.present)
        others = np.where(np.arange(len(p.shares)) == first, 0.0, p.shares)
        then = others / others.sum()
        rest = now + others.sum() * min(by_odds(then, p.tries, there), *(value(p, then, a, there, 1) for a in p.actions))
        return min(rest, by_odds(p.shares, p.tries, p.present)) if first == likeliest else rest

    likeliest = int(np.argsort(p.shares / -p.tries.dues(SETUPS, p.present).alone, kind="stable")[0])
    found = plan(p.shares, p.tries, p.actions, SETUPS, p.present)
    assert found.try_now == pytest.approx(tried(found.first_try), rel=1e-9)
    assert found.try_now <= min(map(tried, range(len(p.shares)))) * (1 + 1e-9)


@MANY
@given(problems())
def test_actions_come_best_first(p: Drawn) -> None:
    """Every action is listed once, in order of its expected minutes to the end."""
    found = plan(p.shares, p.tries, p.actions, SETUPS, p.present).actions
    assert sorted(v.action.key for v in found) == sorted(a.key for a in p.actions)
    values = [round(v.to_the_end, 9) for v in found]
    assert values == sorted(values)


def test_minutes_that_follow_anyway_change_no_order() -> None:
    """What has to be done whatever is chosen adds to every figure and leaves the choice as it was."""
    looks = [action("a", (0.9, 0.1), 5.0), action("b", (0.6, 0.2), 2.0)]
    found = plan(np.array([0.5, 0.5]), tries([40.0, 30.0]), looks, SETUPS, NOTHING)
    later = found.later(25.0)
    assert later.first_try == found.first_try
    assert later.try_now == found.try_now + 25.0
    assert [(v.action, v.now) for v in later.actions] == [(v.action, v.now) for v in found.actions]
    assert [v.to_the_end for v in later.actions] == pytest.approx([v.to_the_end + 25.0 for v in found.actions])


def test_equal_actions_are_ordered_by_minutes_then_name() -> None:
    """Checks that tell nothing and cost the same are put in the order of their names, whatever order they come in."""
    blind = [action(name, (0.5, 0.5), minutes) for name, minutes in (("b", 2), ("a", 2), ("c", 1))]
    shares, costs = np.array([0.5, 0.5]), tries([30.0, 30.0])
    for order in itertools.permutations(blind):
        found = plan(shares, costs, list(order), SETUPS, NOTHING).actions
        assert [v.action.key[0] for v in found] == ["c", "a", "b"]


def test_of_equal_ends_the_shorter_step_comes_first() -> None:
    """Two checks that lead to the same expected minutes are ordered by their minutes now."""
    sure, blind = action("a-sure", (1.0, 0.0), 20.0), action("z-blind", (0.5, 0.5), 0.0)
    found = plan(np.array([0.5, 0.5]), tries([40.0, 40.0]), [sure, blind], SETUPS, NOTHING, depth=1).actions
    assert [v.to_the_end for v in found] == [60.0, 60.0]
    assert [v.action.key[0] for v in found] == ["z-blind", "a-sure"]


@MANY
@given(problems(), st.floats(0.01, 0.99), st.floats(0, 30))
def test_an_action_that_separates_nothing_is_never_preferred(p: Drawn, same: float, minutes: float) -> None:
    """A check that is as likely to come out bad for every suspect is worth no less than its minutes more than stopping."""
    blind = action("blind", [same] * len(p.shares), minutes)
    alone = plan(p.shares, p.tries, [blind], SETUPS, p.present, depth=1)
    assert alone.actions[0].to_the_end == pytest.approx(alone.try_now + minutes, rel=1e-9)
    among = plan(p.shares, p.tries, [*p.actions, blind], SETUPS, p.present)
    nothing = float(expected_cost(p.shares, p.tries, SETUPS, p.present))
    best = min(nothing, among.try_now, *(v.to_the_end for v in among.actions if v.action is not blind))
    of_blind = next(v.to_the_end for v in among.actions if v.action is blind)
    assert of_blind >= best + minutes - 1e-6


def test_when_all_suspects_are_equal_repairing_goes_half_way() -> None:
    """With n equal suspects and equal repairs, half of them and one half are repaired on average."""
    for count in (1, 2, 7, 20):
        shares, costs = np.full(count, 1 / count), tries([11.0] * count)
        assert plan(shares, costs, [], SETUPS, NOTHING).try_now == pytest.approx(11.0 * (count + 1) / 2)


def test_with_one_suspect_it_is_repaired() -> None:
    """When one suspect is left, no check is worth its minutes."""
    found = plan(np.array([1.0]), tries([25.0]), [action("look", (0.9,))], SETUPS, NOTHING)
    assert found.try_now == 25.0
    assert found.first_try == 0
    assert found.actions[0].to_the_end == pytest.approx(30.0)


def test_a_suspect_that_is_ruled_out_costs_nothing() -> None:
    """A suspect with no share left is repaired last and adds nothing."""
    shares, costs = np.array([0.0, 0.7, 0.3]), tries([1.0, 20.0, 30.0])
    found = plan(shares, costs, [action("look", (0.5, 0.9, 0.1))], SETUPS, NOTHING, depth=1)
    assert found.try_now == pytest.approx(20 + 0.3 * 30)
    assert found.first_try == 1


@pytest.mark.parametrize("depth", [1, 2])
def test_without_an_action_there_is_only_repairing(depth: int) -> None:
    """When no check is open the plan is the repairs alone."""
    shares, costs = np.array([0.6, 0.4]), tries([10.0, 10.0])
    found = plan(shares, costs, [], SETUPS, NOTHING, depth=depth)
    assert found.actions == ()
    assert found.try_now == pytest.approx(14.0)


def test_a_check_that_costs_nothing_and_tells_something_comes_first() -> None:
    """A free look that changes which repair is best is worth doing before any repair."""
    shares, costs = np.array([0.5, 0.5]), tries([40.0, 40.0])
    found = plan(shares, costs, [action("glance", (0.9, 0.1), 0.0)], SETUPS, NOTHING)
    assert found.actions[0].now == 0.0
    assert found.actions[0].to_the_end == pytest.approx(40 * (0.9 * 1 + 0.1 * 2))
    assert found.actions[0].to_the_end < found.try_now


def test_a_result_that_cannot_come_does_no_harm() -> None:
    """A result that no suspect can give has no chance and no share in the value."""
    never = Action(("look",), np.array([[0.0, 0.0], [0.8, 0.3], [0.2, 0.7]]), 2.0, NOTHING)
    shares, costs = np.array([0.5, 0.5]), tries([40.0, 40.0])
    two = Action(("look",), never.table[1:], 2.0, NOTHING)
    assert (
        plan(shares, costs, [never], SETUPS, NOTHING).actions[0].to_the_end
        == plan(shares, costs, [two], SETUPS, NOTHING).actions[0].to_the_end
    )


def test_two_checks_that_only_tell_together_are_seen_two_steps_deep() -> None:
    """A check that is worth its minutes only with another after it is found two steps deep and not one step deep."""
    shares, costs = np.full(4, 0.25), tries([20.0] * 4)
    halves, odds = action("halves", (0.99, 0.99, 0.01, 0.01), 22.0), action("odds", (0.99, 0.01, 0.99, 0.01), 5.0)
    near = plan(shares, costs, [halves, odds], SETUPS, NOTHING, depth=1)
    far = plan(shares, costs, [halves, odds], SETUPS, NOTHING, depth=2)
    of_halves = [next(v.to_the_end for v in found.actions if v.action is halves) for found in (near, far)]
    assert of_halves[1] < near.try_now < of_halves[0]


@dataclass(frozen=True)
class Undone(Setups):
    """A ground where each step undoes what the one before it made ready, such as a lock that has to come off to steer."""

    def after(self, errand: frozenset[str], at: frozenset[str]) -> frozenset[str]:
        return errand or at

    then = after


@MANY
@given(problems(), st.floats(0.01, 0.99), st.floats(0.1, 30))
def test_a_check_that_tells_nothing_is_not_done_to_put_off_a_repair(p: Drawn, same: float, minutes: float) -> None:
    """Where a repair undoes what is ready for the others, waiting with it costs no less than the wait."""
    ground = Undone(SETUPS.enter)
    blind = action("blind", [same] * len(p.shares), minutes)
    found = plan(p.shares, p.tries, [blind], ground, p.present)
    assert found.actions[0].to_the_end >= found.try_now - 1e-6
