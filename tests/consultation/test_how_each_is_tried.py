"""How each suspect would be tried: the minutes, what follows, and what stands before a repair that has to wait."""

from __future__ import annotations

from typing import Any

import pytest
from builders import told

from advisor.consultation.actions import table_of
from advisor.consultation.situation import Situation
from advisor.consultation.tries import in_vain, letting_go, row_of, trying

SHOWS: dict[str, Any] = {"check": "confirm-complaint", "result": "shows"}


def standing(*lines: dict[str, Any]) -> Situation:
    consultation, case = told(SHOWS, *lines, intake={"occurrences": 5, "hours": 12})
    return consultation.situation(case)


def suspect(s: Situation, cause: str, place: str | None = None) -> int:
    return next(i for i, x in enumerate(s.space.suspects) if (x.cause, x.place) == (cause, place))


def test_a_suspect_is_tried_by_its_proof_for_as_long_as_that_takes_to_show_it() -> None:
    """At the suspect's place, its minutes over its chance to show the cause; then comes the repair with the test after it."""
    s = standing()
    found, at = trying(s), suspect(s, "high-resistance-splice", "splice-7")
    check, cause = s.knowledge.checks["open-splice-and-pull"], s.knowledge.causes["high-resistance-splice"]
    chance = table_of(s, check, "splice-7", again=False)[row_of(check, "pulls-out"), at]
    assert found.by[at] == ("open-splice-and-pull", "splice-7")
    assert found.tries.minutes[at] == pytest.approx(check.minutes / chance)
    assert found.to_follow[at] == cause.repair.minutes + s.knowledge.checks[cause.retest[0]].minutes


def test_a_suspect_that_is_repaired_untested_costs_its_repair_its_retest_and_a_visit() -> None:
    """Nothing comes on top where nothing has to wait, and what it would have cost in vain falls away after it."""
    s = standing()
    at = suspect(s, "sensor-coupling-loose")
    found, cause = trying(s, at), s.knowledge.causes["sensor-coupling-loose"]
    whole = cause.repair.minutes + s.knowledge.checks[cause.retest[0]].minutes + in_vain(s)
    assert in_vain(s) > 0
    assert (found.by[at], found.tries.minutes[at], found.to_follow[at]) == (None, whole, -in_vain(s))


def test_what_was_shown_is_mended_anyway_so_only_retest_and_visit_can_be_in_vain() -> None:
    """After its proof a cause is tried by its repair, and the repair's own minutes are not counted as lost."""
    s = standing({"check": "coupling-grip", "result": "slips"})
    found, at = trying(s), suspect(s, "sensor-coupling-loose")
    retest = s.knowledge.checks[s.knowledge.causes["sensor-coupling-loose"].retest[0]]
    assert (found.by[at], found.tries.minutes[at]) == (None, retest.minutes + in_vain(s))


def test_a_repair_that_has_to_wait_takes_what_lets_go_of_it_too() -> None:
    """The supply is read first, and counts with the sensor's repair; once it was read, nothing is left to let go."""
    s = standing()
    at = suspect(s, "sensor-internal")
    before, cause = trying(s, at), s.knowledge.causes["sensor-internal"]
    whole = cause.repair.minutes + s.knowledge.checks[cause.retest[0]].minutes + in_vain(s)
    (first,) = letting_go(s, "sensor-internal")
    assert first.id == "supply-at-sensor-loaded"
    assert before.tries.minutes[at] == whole + first.minutes
    done = standing({"reading": "supply-at-sensor-loaded", "value": 4.98, "unit": "V"})
    assert letting_go(done, "sensor-internal") == []
