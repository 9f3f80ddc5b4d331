"""Readings that accuse the test and not the harness."""

from __future__ import annotations

from pathlib import Path

from advisor.commands.shared import knowledge_folder
from advisor.consultation.consultation import Consultation
from advisor.consultation.scenario import events_of
from advisor.library.files import read_scenario
from advisor.library.parser import load
from advisor.model.case import Reading

SCENARIO = Path(__file__).parent.parent.parent / "scenarios" / "dumper-reference-at-fault.yaml"


def test_circuits_that_all_read_high_alike_accuse_the_reference() -> None:
    """After three circuits that share nothing read high alike, the program says so and no joint of the harness leads."""
    scenario = read_scenario(SCENARIO)
    knowledge = load(knowledge_folder(None))
    assert scenario.machine is not None
    taken = 0
    for _, event, before in events_of(knowledge, scenario):
        taken += isinstance(event, Reading)
        if taken == 3:
            assessment = Consultation(knowledge, scenario.machine).assess(before.then(event))
            break
    assert any("Suspect the reference" in text for text in assessment.messages)
    joints = [s for s in assessment.ranking if s.cause in knowledge.causes and knowledge.causes[s.cause].adds_resistance]
    assert max(s.share for s in joints) < 0.2
