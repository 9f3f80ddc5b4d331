"""Every scenario of the repository, run in memory and through the dialogue, with the real knowledge."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest

from advisor.cli import run
from advisor.commands.shared import knowledge_folder
from advisor.consultation.episodes import Episode, episodes
from advisor.consultation.scenario import Replayed, replay
from advisor.library.files import read_scenario
from advisor.library.parser import load
from advisor.model.case import Case, Closed, Corrected, Moved, Overridden, Undone, fold, intake_events
from advisor.model.finding import NOT_LISTED, NOT_LISTED_TITLE
from advisor.model.knowledge import Knowledge
from advisor.store.folder import CaseStore

SCENARIOS = sorted((Path(__file__).parent.parent / "scenarios").glob("*.yaml"))
TWO_FAULTS = ("forwarder-pin-and-air", "salt-reclaimer-latch-and-gap")
FIRST_REPAIR_IN_VAIN = ("peat-harvester-wrong-seal", "quarry-scraper-wrong-spring")


@cache
def knowledge() -> Knowledge:
    return load(knowledge_folder(None))


@cache
def replayed(name: str) -> Replayed:
    return replay(knowledge(), read_scenario(SCENARIOS[0].parent / f"{name}.yaml"))


def repairs(name: str) -> tuple[Episode, ...]:
    """The repairs of a scenario, in order, with their retests and runs."""
    found = replayed(name)
    return episodes(knowledge(), found.consultation.machine, fold(found.case))


def standings(name: str) -> list[tuple[str, str]]:
    """The causes that a scenario repairs, in order, and how each repair stands at the end."""
    return [(e.repair.cause, e.standing) for e in repairs(name)]


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda f: f.stem)
def test_every_scenario_comes_out_as_expected(file: Path) -> None:
    """The scenario's cause leads, at its place, with its share, within its number of answers; and the case is closed."""
    found = replayed(file.stem)
    assert found.scenario.expect is not None
    assert found.differs == ()
    assert isinstance(found.case.events[-1], Closed)


def test_scenarios_cover_the_trade() -> None:
    """At least 14 scenarios, proven causes of at least ten systems, and every complaint told at least once."""
    assert len(SCENARIOS) >= 14
    cured = {cause for f in SCENARIOS for cause, stands in standings(f.stem) if stands == "cured"}
    assert len({knowledge().causes[c].system for c in cured}) >= 10
    assert {replayed(f.stem).scenario.complaint for f in SCENARIOS} == set(knowledge().complaints)


def test_every_scenario_has_a_machine_of_its_own() -> None:
    """No two scenarios share a machine, and no two machines the same circuits or the same name."""
    machines = [m for f in SCENARIOS if (m := replayed(f.stem).scenario.machine) is not None]
    files = list((SCENARIOS[0].parent / "machines").glob("*.yaml"))
    assert len(machines) == len(SCENARIOS) == len(files)
    assert len({m.title for m in machines}) == len(machines)
    assert len({repr(m.circuits) for m in machines}) == len(machines)


@pytest.mark.parametrize("name", TWO_FAULTS)
def test_two_faults_are_each_proven_and_repaired(name: str) -> None:
    """Two causes are repaired one after the other, each after its proof was seen, each with a retest that passed."""
    found = replayed(name)
    assert len({e.repair.cause for e in repairs(name)}) == 2
    for e in repairs(name):
        before = found.consultation.situation(Case(found.case.events[: e.number]))
        assert before.proofs_seen(e.repair.cause, e.repair.place)
        assert e.good == set(e.retests)
    assert [stands for _, stands in standings(name)] == ["failed", "cured"]  # the first alone did not end the complaint


@pytest.mark.parametrize("name", FIRST_REPAIR_IN_VAIN)
def test_a_first_repair_in_vain_is_found_out_before_the_true_cause(name: str) -> None:
    """The first repair fails its retest or the fault comes back; the true cause, another one, is then cured and leads."""
    (first, how), (second, then) = standings(name)
    assert (how, then) == ("failed", "cured")
    assert first != second == replayed(name).final.leading.cause


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda f: f.stem)
def test_every_repair_is_retested_by_a_test_that_can_show_it(file: Path) -> None:
    """No scenario calls a repair good by a test that says nothing of it."""
    assert "untested" not in [stands for _, stands in standings(file.stem)]


def test_repairs_in_vain_are_found_out_by_a_retest_and_by_a_recurrence() -> None:
    """Of the first repairs in vain, one fails its retest and another passes it and fails in the run."""
    found = set()
    for name in FIRST_REPAIR_IN_VAIN:
        first = repairs(name)[0]
        found.add(first.good == set(first.retests))
    assert found == {True, False}


def test_one_scenario_ends_with_something_not_on_the_list() -> None:
    """Where nothing fits, the last line of the ranking comes to lead and no cause is named in closing."""
    found = [replayed(f.stem) for f in SCENARIOS]
    unlisted = [r for r in found if r.scenario.expect is not None and r.scenario.expect.leading == NOT_LISTED]
    assert unlisted
    for r in unlisted:
        closed = fold(r.case).closed
        assert closed is not None
        assert closed.cause is None
        assert closed.reason


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda f: f.stem)
def test_the_dialogue_takes_every_scenario_and_the_record_names_the_cause(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`start --answers` types the scenario at the prompts; no answer is refused and the record names the true cause."""
    scenario = read_scenario(file)
    assert scenario.expect is not None
    assert run(["start", "--answers", str(file), "--data-dir", str(tmp_path)]) in (0, 5)
    assert "Not taken" not in capsys.readouterr().out
    case = next(tmp_path.glob("*.jsonl")).stem
    assert run(["record", case, "--data-dir", str(tmp_path)]) == 0
    leading = scenario.expect.leading
    title = NOT_LISTED_TITLE if leading == NOT_LISTED else knowledge().causes[leading].title
    assert title in capsys.readouterr().out


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda f: f.stem)
def test_what_is_typed_at_the_prompts_makes_the_events_of_the_replay(file: Path, tmp_path: Path) -> None:
    """A scenario tells the same case whether it is replayed or typed: no word of an answer is lost on the way."""
    run(["start", "--answers", str(file), "--data-dir", str(tmp_path), "--plain"])
    name = next(tmp_path.glob("*.jsonl")).stem
    assert _said(CaseStore(tmp_path).read(name).case) == _said(replayed(file.stem).case)


def _said(case: Case) -> list[dict[str, Any]]:
    """What was said, without what the dialogue alone notes: times, moves, ticks, and numbers of events as what they name."""
    told = intake_events(case)  # a scenario opens with its intake; the dialogue writes each answer down as it is given
    opened = fold(Case(case.events[: 1 + told])).opened
    assert opened is not None
    found = []
    for event in (opened.model_copy(update={"asks": False}), *case.events[1 + told :]):
        if isinstance(event, Moved | Overridden) or (isinstance(event, Undone) and isinstance(case.events[event.number], Moved)):
            continue
        values = event.model_dump(mode="json", exclude={"at", "points", "early", "number"}, exclude_none=True)
        if isinstance(event, Undone | Corrected):
            values["of"] = case.events[event.number].model_dump(mode="json", exclude={"at"})
        found.append(values)
    return found


def test_the_knowledge_has_nothing_to_complain_of(capsys: pytest.CaptureFixture[str]) -> None:
    """`knowledge check` finds nothing: every file loads, every lint is quiet, every rule case does what it says."""
    assert run(["knowledge", "check", "--afresh"]) == 0, capsys.readouterr().out


def test_the_knowledge_covers_what_outside_files_use() -> None:
    """The ids that files outside the repository use are all there."""
    k = knowledge()
    complaints = """motion-without-steering no-response-to-steering position-stuck position-erratic reads-high reads-low
        tracks-disagree centre-offset hunting travel-limited supply-fault-shared message-missing calibration-fails"""
    causes = """ball-joint-play kingpin-play articulation-pin-play cylinder-end-play wheel-bearing-play sensor-coupling-loose
        sensor-linkage-worn sensor-bracket-loose magnet-displaced sensor-internal sensor-water poor-terminal-contact
        terminal-backed-out connector-corrosion high-resistance-splice broken-strands chafe-to-ground chafe-wire-to-wire
        blown-fuse-or-holder low-system-voltage ground-point-resistance shared-supply-pulled-down controller-internal
        calibration-lost cylinder-internal-leak steering-valve-leak air-in-hydraulics
        steering-input-sensor-fault bus-wiring-fault radio-interference wrong-part-fitted"""
    checks = """confirm-complaint watch-wheel-against-reading shake-steered-wheels coupling-grip wiggle-harness visual-harness
        open-splice-and-pull terminal-drag supply-at-sensor-loaded ground-at-sensor-loaded output-sweep swap-tracks
        heat-and-cool drift-engine-off"""
    assert set(complaints.split()) <= set(k.complaints)
    assert set(causes.split()) <= set(k.causes)
    assert set(checks.split()) <= set(k.checks)
