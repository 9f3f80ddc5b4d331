"""Which failed tests still wait to be done again after a repair."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from builders import whole_case

from advisor.consultation.retest_words import not_repeated
from advisor.model.case import Case, Ran, fold

LOADER = Path(__file__).parents[2] / "scenarios" / "loader-splice.yaml"


@cache
def left(*, run: bool) -> tuple[str, ...]:
    """What the splice of the loader leaves open, with its run or before it."""
    consultation, case = whole_case(LOADER)
    events = case.events if run else case.events[: next(n for n, e in enumerate(case.events) if isinstance(e, Ran))]
    return tuple(not_repeated(consultation.knowledge, consultation.machine, fold(Case(events))))


def test_a_failed_measurement_that_nobody_repeated_is_left() -> None:
    """The supply was low before the repair and was not read since."""
    assert "sensor supply under load" in left(run=True)


def test_a_retest_of_a_whole_circuit_repeats_the_runs_inside_it() -> None:
    """The run that was halved lies in the one that passed; the sibling circuit does not."""
    assert "load test of supply-a from controller to bulkhead" not in left(run=True)
    assert "load test of supply-b from controller to sensor" in left(run=True)


def test_a_run_without_the_fault_repeats_the_look_for_the_complaint() -> None:
    """Before the run the complaint was not looked for again."""
    assert "see the complaint yourself" in left(run=False)
    assert "see the complaint yourself" not in left(run=True)
