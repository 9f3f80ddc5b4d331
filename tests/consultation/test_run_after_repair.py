"""The run after a repair: how long, under which conditions, and how likely the cure is with what was seen before."""

from __future__ import annotations

import re
from typing import Any

import pytest
from builders import told

from advisor.cli import run
from advisor.consultation.cure import conditions, cure_prior, history
from advisor.model.case import Case, fold
from advisor.model.finding import Step
from advisor.reasoning.proof import hours_needed, hours_needed_known_rate

SLIPS: tuple[dict[str, Any], ...] = ({"check": "coupling-grip", "result": "slips"}, {"repair": "sensor-coupling-loose"})
TIGHT: tuple[dict[str, Any], ...] = (*SLIPS, {"retest": "coupling-grip", "result": "tight"})
COUNTED: dict[str, Any] = {"intake": {"occurrences": 5, "hours": 16, "temperature": "cold"}}


def step(*lines: dict[str, Any], **keys: Any) -> Step:
    """The next step of a case told by lines."""
    consultation, case = told(*lines, **(keys or COUNTED))
    found = consultation.assess(case).next
    assert found is not None
    return found


def prior(*lines: dict[str, Any]) -> float:
    consultation, case = told(*lines, **COUNTED)
    return cure_prior(consultation.situation(case))


def test_the_run_step_gives_both_figures_for_three_confidences() -> None:
    """80, 90 and 95 %, each with the hours for a rate that was learnt and for one that is known."""
    said = " ".join(step(*TIGHT).reason)
    known = [f"{hours_needed_known_rate(5, 16, confidence):.1f} h" for confidence in (0.80, 0.90, 0.95)]
    for confidence in (0.80, 0.90, 0.95):
        assert f"{hours_needed(5, 16, confidence):.1f} h ({confidence:.0%} sure)" in said
    assert f"would give {known[0]}, {known[1]} or {known[2]}." in said
    assert "It came 5 times in 16 hours before the repair." in said
    assert "If it comes back even once, it is not cured" in said
    assert "The next count is 6 times in 16 hours plus the hours run" in said


def test_the_run_is_made_as_the_intake_says() -> None:
    """The conditions that brought the fault are those of the run; an answer that brings nothing adds nothing."""
    assert "Run it first thing in the morning. That brought the fault." in " ".join(step(*TIGHT).reason)
    consultation, case = told(intake={"temperature": "no-difference", "recent-work": ["nothing"]})
    opened = fold(case).opened
    assert opened is not None
    assert conditions(consultation.knowledge, opened) == ()


def test_without_a_count_tries_stand_in_for_hours() -> None:
    """Nobody counted: no number of hours is named, and thirty tries leave a tenth at most (0.905 for 95 %)."""
    said = " ".join(step(*TIGHT, intake={"temperature": "hot"}).reason)
    assert "no number of hours proves it gone" in said
    assert "Count tries instead: do 30 times what brought the fault. If it stays away, the chance is below 10% a try" in said
    assert not re.search(r"\d h\b", said)


def test_a_short_run_goes_on_and_a_long_one_closes() -> None:
    """Before 90 % the step is to run on and says how long; after it, to close. Runs add up."""
    short = step(*TIGHT, {"run": 2})
    assert (short.kind, short.id) == ("run", "run-on")
    left = hours_needed(5, 16, 0.9) - 2
    assert f"{left:.1f} h still to run to be 90% sure." in " ".join(short.reason)
    enough = step(*TIGHT, {"run": 2}, {"run": left + 0.01})
    assert enough.id == "close"
    assert "That is long enough to be 90% sure." in enough.reason


def test_a_retest_lifts_the_probability_of_a_cure() -> None:
    """Before the retest it is less than the share of the cause, for a repair can fail; a retest that passed makes it more."""
    consultation, case = told(*SLIPS, **COUNTED)
    lead = consultation.assess(Case(case.events[:2]), plan=False).leading
    assert lead.cause == "sensor-coupling-loose"
    assert 0.5 * lead.share < prior(*SLIPS) < min(lead.share, prior(*TIGHT))


def test_a_load_test_within_the_limit_lifts_it_too() -> None:
    """The splice that was over its limit and is within it after the repair."""
    over = {"reading": "load-test", "circuit": "supply-a", "from": "controller", "to": "sensor", "reference": 24.6, "loaded": 23.2}
    good = {"retest": "load-test", "circuit": "supply-a", "from": "controller", "to": "sensor", "reference": 24.6, "loaded": 24.3}
    repaired = (over, {"repair": "high-resistance-splice", "place": "splice-7"})
    assert prior(*repaired) < prior(*repaired, good)


def test_a_repair_of_something_without_a_share_is_hardly_a_cure() -> None:
    """The prior follows the ranking: what was shown sound before is no cure when it is repaired all the same."""
    assert prior({"check": "coupling-grip", "result": "tight"}, {"repair": "sensor-coupling-loose"}) < 0.05


def test_what_came_back_counts_with_what_was_before() -> None:
    """After a repair in vain, its hours and recurrences belong to the history of the next repair."""
    lines = (*TIGHT, {"run": 4, "recurrences": 2})
    again = (*lines, {"repair": "steering-valve-leak"}, {"run": 3})
    assert history(fold(told(*lines, **COUNTED)[1])) == (5, 16)
    assert history(fold(told(*again, **COUNTED)[1])) == (7, 20)


@pytest.mark.parametrize("columns", [40, 80])
def test_the_command_says_the_same_and_fits(
    columns: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command prints the sentences of the run step, no line wider than the window."""
    monkeypatch.setenv("COLUMNS", str(columns))
    assert run(["proof", "--occurrences", "5", "--hours", "16"]) == 0
    printed = capsys.readouterr().out
    assert max(map(len, printed.splitlines())) <= columns
    said = " ".join(printed.split())
    assert all(text in said for text in step(*TIGHT).reason if "morning" not in text)


def test_the_command_says_what_a_recurrence_means(capsys: pytest.CaptureFixture[str]) -> None:
    """With a recurrence it is not cured, and the next run is sized from all that came."""
    assert run(["proof", "--occurrences", "5", "--hours", "16", "--run", "4", "--recurrences", "2"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "It came back 2 times in 4 hours: it is not cured." in said
    assert "It came 7 times in 20 hours until now." in said
    assert f"{hours_needed(7, 20, 0.9):.1f} h (90% sure)" in said
    assert "Chance that it is cured" not in said


def test_the_command_states_the_prior(capsys: pytest.CaptureFixture[str]) -> None:
    """The probability before the run is named with the one after it."""
    assert run(["proof", "--occurrences", "5", "--hours", "16", "--run", "4", "--prior", "0.8"]) == 0
    assert "Before the run: 80%, set it with --prior." in " ".join(capsys.readouterr().out.split())
