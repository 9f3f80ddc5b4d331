"""Every scenario of the repository, run in memory and through the dialogue, with the real knowledge."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from advisor.cli import run
from advisor.commands import knowledge_folder
from advisor.consultation.scenario import replay
from advisor.library.files import read_scenario
from advisor.library.parser import load
from advisor.model.knowledge import Knowledge

SCENARIOS = sorted((Path(__file__).parent.parent / "scenarios").glob("*.yaml"))


@cache
def knowledge() -> Knowledge:
    return load(knowledge_folder(None))


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda f: f.stem)
def test_every_scenario_comes_out_as_expected(file: Path) -> None:
    """The scenario's cause leads, at its place, with its share, within its number of answers."""
    scenario = read_scenario(file)
    assert scenario.expect is not None
    assert replay(knowledge(), scenario).differs == ()


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
    assert knowledge().causes[scenario.expect.leading].title in capsys.readouterr().out


def test_the_knowledge_has_nothing_to_complain_of(capsys: pytest.CaptureFixture[str]) -> None:
    """`knowledge check` finds nothing: every file loads, every lint is quiet, every rule case does what it says."""
    assert run(["knowledge", "check"]) == 0, capsys.readouterr().out


def test_the_knowledge_covers_what_outside_files_use() -> None:
    """The ids that files outside the repository use are all there."""
    k = knowledge()
    complaints = """motion-without-steering no-response-to-steering position-stuck position-erratic reads-high reads-low
        tracks-disagree centre-offset hunting travel-limited supply-fault-shared message-missing calibration-fails"""
    causes = """ball-joint-play kingpin-play articulation-pin-play cylinder-end-play wheel-bearing-play sensor-coupling-loose
        sensor-linkage-worn sensor-bracket-loose magnet-displaced sensor-internal sensor-water poor-terminal-contact
        terminal-backed-out connector-corrosion high-resistance-splice broken-strands chafe-to-ground chafe-wire-to-wire
        blown-fuse-or-holder low-system-voltage ground-point-resistance shared-supply-pulled-down controller-internal
        controller-pin-tension calibration-lost cylinder-internal-leak steering-valve-leak air-in-hydraulics
        steering-input-sensor-fault bus-wiring-fault radio-interference wrong-part-fitted"""
    checks = """confirm-complaint watch-wheel-against-reading shake-steered-wheels coupling-grip wiggle-harness visual-harness
        open-splice-and-pull terminal-drag supply-at-sensor-loaded ground-at-sensor-loaded output-sweep swap-tracks
        heat-and-cool drift-engine-off"""
    assert set(complaints.split()) <= set(k.complaints)
    assert set(causes.split()) <= set(k.causes)
    assert set(checks.split()) <= set(k.checks)
