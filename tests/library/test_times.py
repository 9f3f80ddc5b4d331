"""The least time of a piece of work is read from its steps."""

from __future__ import annotations

import pytest
from builders import SMALL as FOLDER

from advisor.library.lints.times import minutes_short_of_the_parts
from advisor.library.parser import load
from advisor.model.knowledge import Part

SMALL = load(FOLDER)
SWEEP = SMALL.checks["output-sweep"]


def least(*parts: tuple[str, ...]) -> float:
    """Minutes that a check of these parts takes at least, as the lint says."""
    then = tuple(Part(steps=steps) for steps in parts[1:])
    check = SWEEP.model_copy(update={"steps": parts[0], "then": then, "minutes": 0.01})
    issues = minutes_short_of_the_parts(SMALL.model_copy(update={"checks": {check.id: check}, "causes": {}, "moves": {}}))
    return float(next(issues).what.split(" take ")[1].split()[0])


@pytest.mark.parametrize(
    ("step", "minutes"),
    [
        ("Look at it.", 0.2),
        ("Wait ten minutes and look.", 10.2),
        ("Hold it for 30 seconds.", 0.7),
        ("Push for half a minute.", 0.7),
        ("Hold the stop for thirty seconds, four times.", 2.2),
        ("Move it slowly, thirty seconds each way.", 1.2),
        ("Within ten minutes measure it again.", 0.2),
        ("Do it three times more.", 0.2),
    ],
)
def test_a_step_takes_its_waits_and_a_moment(step: str, minutes: float) -> None:
    """Waits count as often as the step says; a time limit is no wait."""
    assert least((step,)) == pytest.approx(minutes)


def test_a_step_that_does_the_same_again_waits_as_long() -> None:
    """The other side takes the time of the first."""
    assert least(("Wait for three minutes.", "Do the same at the other side.")) == pytest.approx(6.4)


def test_the_parts_of_a_piece_of_work_add_up() -> None:
    """Work in three states takes the time of all three."""
    assert least(("Wait one minute.",), ("Wait two minutes.", "Look."), ("Look.",)) == pytest.approx(3.8)


def test_a_point_to_tick_off_may_order_the_longest_wait() -> None:
    """What must be seen for twenty minutes takes twenty minutes."""
    cause = next(iter(SMALL.causes.values()))
    repair = cause.repair.model_copy(update={"minutes": 15, "workmanship": ("Dry after twenty minutes.",)})
    k = SMALL.model_copy(update={"causes": {cause.id: cause.model_copy(update={"repair": repair})}, "checks": {}, "moves": {}})
    assert [issue.lint for issue in minutes_short_of_the_parts(k)] == ["short-minutes"]
