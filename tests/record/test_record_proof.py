"""What a record says of proof: before and after, hours, repairs that did not cure, who confirmed, and against which ranking."""

from __future__ import annotations

import pytest
from builders import MACHINE
from record.tales import FINISHED, FOUND, REPAIRED, RETESTED, START, load, record, record_of

from advisor.model.case import Closed, KnowledgeChanged
from advisor.reasoning.proof import cured_probability, hours_needed, hours_needed_known_rate, quiet_probability
from advisor.record.material import per_cent
from advisor.record.measured import Figures
from advisor.record.outcome import OutcomeView
from advisor.record.render import html, markdown

GRIP = {"check": "coupling-grip", "result": "tight"}


def figures(*lines: dict[str, object]) -> Figures:
    found = record(*lines).pairs[-1].figures
    assert found is not None
    return found


def test_before_and_after_stand_with_their_uncertainty() -> None:
    """0.83 V before and 0.15 V after, 20 ohm, limit 0.30 V: better by 0.68 V, far beyond what the meter could make up."""
    found = figures(*RETESTED)
    assert (found.before, found.after, found.limit) == (pytest.approx(0.83), pytest.approx(0.15), pytest.approx(0.30))
    assert found.improvement == pytest.approx(0.68)
    assert found.before_uncertainty is not None
    assert found.after_uncertainty is not None
    assert found.improvement_uncertainty == pytest.approx((found.before_uncertainty**2 + found.after_uncertainty**2) ** 0.5)
    assert found.probability_real == pytest.approx(1.0)
    assert "improvement is real: more than 99.9%" in record(*RETESTED).pairs[-1].says


def test_an_improvement_within_the_meter_is_not_called_real() -> None:
    """The same drop again is as likely better as worse; a drop that grew is said not to be better."""
    same = figures(*REPAIRED, load("supply-a", "sensor", 24.61, 23.78, "retest"))
    assert same.probability_real == pytest.approx(0.5)
    worse = record(*REPAIRED, load("supply-a", "sensor", 24.61, 23.70, "retest")).pairs[-1]
    assert worse.figures is not None
    assert worse.figures.probability_real is not None
    assert worse.figures.probability_real < 0.05
    assert "not better (\N{MINUS SIGN}0.08)" in worse.says


def test_a_measured_value_is_better_towards_its_normal_band() -> None:
    """4.41 V under load before, 4.93 V after: better by 0.52 V, since the normal band lies above."""
    found = figures(*REPAIRED, {"retest": "supply-at-sensor-loaded", "value": 4.93, "unit": "V"})
    assert (found.before, found.after, found.improvement) == (4.41, 4.93, pytest.approx(0.52))
    assert found.probability_real == pytest.approx(1.0)


def test_a_retest_that_was_not_done_cannot_be_missed() -> None:
    """Alarm, correction, proof and open points all say it, before any signature."""
    for text in (html(record(*REPAIRED)), markdown(record(*REPAIRED))):
        head = text[: text.index("Customer or operator")]
        assert head.count("NOT PROVEN") >= 2
        assert "NOT RETESTED" in head


def test_hours_stand_for_three_confidences_both_ways() -> None:
    """5 occurrences in 12 h: the hours for 80, 90 and 95 % by each formula of the design."""
    run = record(*RETESTED).outcome.run
    assert run is not None
    assert [(x.confidence, x.hours, x.hours_known_rate) for x in run.table] == [
        (c, pytest.approx(hours_needed(5, 12, c)), pytest.approx(hours_needed_known_rate(5, 12, c))) for c in (0.8, 0.9, 0.95)
    ]


def test_the_hours_run_raise_the_probability_of_a_cure() -> None:
    """Bayes on the prior that the record names, with the chance that a fault still there stays quiet so long."""
    run = record(*FINISHED).outcome.run
    assert run is not None
    assert run.prior is not None
    assert run.cured == pytest.approx(cured_probability(run.prior, quiet_probability(5, 12, 4.5)))
    assert run.prior < run.cured < 1
    assert "4.5 h" in run.cured_says


def test_a_fault_that_came_back_is_not_cured() -> None:
    """Whatever the prior was, after a recurrence the probability of a cure is nothing, and words say so."""
    run = record(*RETESTED, {"run": 3, "recurrences": 1}).outcome.run
    assert run is not None
    assert run.cured == 0
    assert run.cured_says.startswith("It came back after the repair: it is not cured.")


def test_hours_without_a_count_have_no_figures() -> None:
    """When nobody counted how often the fault came, there is no table and no probability, and the record says why."""
    run = record(*RETESTED, **{**START, "intake": {"temperature": "hot"}}).outcome.run
    assert run is not None
    assert (run.table, run.cured) == ((), None)
    assert "Nobody counted" in run.says


def outcome(*lines: dict[str, object]) -> OutcomeView:
    return record(*lines).outcome


def test_parts_fitted_that_did_not_cure_are_listed() -> None:
    """After a retest that failed, the repair stands among those that did not cure it; after one that passed it does not."""
    failed = outcome(*REPAIRED, load("supply-a", "sensor", 24.60, 23.90, "retest"))
    assert failed.not_cured[0].startswith("Splice that does not carry its current (splice-7) (step 12) did not cure it.")
    assert outcome(*RETESTED).not_cured == ()


def test_a_repair_that_another_followed_untested_was_never_shown_to_cure() -> None:
    """Parts fitted one after the other without a test between stay visible as such."""
    found = outcome(*FOUND, {"repair": "sensor-coupling-loose", "minutes": 20}, *REPAIRED[-1:], RETESTED[-1])
    assert [text.split(" (step")[0] for text in found.not_cured] == ["Coupling loose on the sensor stem"]
    assert "was never tested" in found.not_cured[0]


def test_the_second_cause_is_named_after_a_first_repair_failed() -> None:
    """The case goes on after a repair that did not cure, and the record ends with the second as the cause."""
    first = ({"repair": "sensor-coupling-loose", "minutes": 20}, {"retest": "coupling-grip", "result": "slips"})
    found = outcome(*FOUND, *first, REPAIRED[-1], RETESTED[-1])
    assert (found.standing, found.cause) == ("retest-passed", "high-resistance-splice")
    assert "did not cure it" in found.not_cured[0]


def test_who_confirmed_the_cause_is_named() -> None:
    """The name and the reason given on closing stand beside the cause; without a name the record says that there is none."""
    named = record_of(FINISHED, Closed(cause="high-resistance-splice", place="splice-7", by="R. Example", reason="Seen open."))
    assert named.outcome.confirmed == "Confirmed by R. Example. Reason given: Seen open."
    assert record_of(FINISHED, Closed(cause="high-resistance-splice")).outcome.confirmed == "It does not say who confirmed it."


def test_a_cause_that_differs_from_the_leader_is_marked() -> None:
    """What led and what the closed cause held is said; a closing without a reason leaves an open point."""
    bare = record_of(FINISHED, Closed(cause="sensor-coupling-loose")).outcome
    assert bare.differs.startswith("First in the ranking then: Splice that does not carry its current")
    assert "The cause differs from the leading suspect, and no reason was given." in bare.open_points
    told = record_of(FINISHED, Closed(cause="sensor-coupling-loose", reason="Seen slipping.")).outcome
    assert not any("no reason was given" in p for p in told.open_points)
    assert outcome(*FINISHED).differs == ""


def test_the_load_test_says_what_it_means_for_both_tracks() -> None:
    """One sentence for each kind of wire: what is shared moves both tracks, the rest sets them apart."""
    effects = [x.effect for x in record(*FOUND).readings if x.effect]
    assert len(effects) == 1
    assert "In the part that both tracks share (controller:21, feed, splice-7) it moves both alike" in effects[0]
    one = {**MACHINE, "sensor": {**MACHINE["sensor"], "tracks": 1}}
    assert not any("tracks" in x.effect for x in record(*FOUND, machine=one, **START).readings)


def test_other_knowledge_shows_both_rankings() -> None:
    """A case that went on with other knowledge tells how it was ranked before, and how the same answers are ranked now."""
    changed = KnowledgeChanged(digest="ab" * 32, before={"Loose lid": 0.61, "Wet plug": 0.004})
    step = record_of(FOUND, changed).steps[-1]
    assert step.came_back.startswith("Knowledge abababababab. Ranking before: Loose lid 61%; Wet plug under 1%. Ranking by the")
    assert f"{step.ranking[0].title} {per_cent(step.ranking[0].share)}" in step.came_back
    assert "Ranking before: not kept" in record_of(FOUND, KnowledgeChanged(digest="ab" * 32)).steps[-1].came_back
