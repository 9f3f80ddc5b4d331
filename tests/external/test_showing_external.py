"""How likely a fault that comes and goes shows while somebody looks, held to a queue that is simulated by hand.

Source: stays of one length that begin by a Poisson process are a queue M/D/infinity. The chance that none of them touches a span
of time is exp(-rate * (span + stay)) (L. Takacs, Introduction to the Theory of Queues, Oxford University Press 1962, chapter 3).
"""

from __future__ import annotations

import numpy as np
import pytest
from worlds import cause, check, knowledge

from advisor.reasoning.showing import Shown, showing_chance

RUNS = 40_000


@pytest.mark.parametrize(("per_hour", "stay", "minutes"), [(0.5, 0.0, 20.0), (0.5, 2.0, 20.0), (0.05, 8.0, 5.0), (2.0, 0.1, 30.0)])
def test_the_chance_to_see_it_is_that_of_a_queue(per_hour: float, stay: float, minutes: float) -> None:
    """Among many yards, in as many as the program says some stay touches the minutes of the look."""
    worth = knowledge([cause("one")], []).words.showing.model_copy(update={"raised": 1.0})
    shown = Shown(always=False, per_hour=per_hour, lasts_hours=stay)
    look = check("look", {"one": {"bad": "likely"}, "otherwise": {"bad": "unlikely"}}, minutes=minutes)
    rng = np.random.default_rng(7)
    before, until = 100.0, 100.0 + minutes / 60
    seen = 0
    for count in rng.poisson(per_hour * until, RUNS):
        begins = rng.uniform(0.0, until, count)
        seen += bool(np.any((begins < until) & (begins + stay > before)))
    assert showing_chance(look, shown, worth) == pytest.approx(seen / RUNS, abs=4 * (0.25 / RUNS) ** 0.5)
