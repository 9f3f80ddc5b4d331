"""Each lint finds its own fault and nothing in knowledge that is sound."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import SMALL
from folders import changed, real_knowledge, variant

from advisor.library.lints import LINTS, run_lints
from advisor.library.lints.lint import Lint
from advisor.library.lints.reach import (
    causes_no_check_can_raise,
    checks_that_separate_nothing,
    complaints_without_causes,
    proofs_that_prove_nothing,
    unused_ids,
)
from advisor.library.lints.wording import questions_that_are_none, sources_nobody_names, steps_too_long
from advisor.library.parser import load

NO_SPARE_SOURCE = changed("sources.yaml", "- {id: from-memory, title: From memory, kind: memory}\n", "")
SWEEP = "checks/sensor/output-sweep.yaml"
HYDRAULICS = "causes/hydraulics.yaml"

CAUSE_BEYOND_REACH = """\
- id: sensor-frozen
  title: Ice in the sensor
  system: sensor
  frequency: rare
  complaints: {reads-low: likely}
  mechanism: Ice holds the rotor.
  tell_tales: [Only below freezing]
  proof: {load-test: over}
  repair: {minutes: 20, steps: [Thaw and dry it.], workmanship: [Dry inside], recalibrate: none}
  retest: confirm-complaint
  source: common-practice
"""

# The lint, the file changed, what is changed in it, and what is then said.
PLANTED: list[tuple[Lint, str, str, str, str]] = [
    (
        causes_no_check_can_raise,
        "causes/sensor.yaml",
        "",
        CAUSE_BEYOND_REACH,
        "unreachable-cause: no check can raise 'sensor-frozen'",
    ),
    (
        checks_that_separate_nothing,
        "checks/hydraulics/drift-engine-off.yaml",
        "{stops: very-likely}",
        "{stops: almost-no-chance}",
        "idle-check: every row of 'drift-engine-off' says the same",
    ),
    (
        proofs_that_prove_nothing,
        SWEEP,
        "otherwise: {jumps: very-unlikely}",
        "otherwise: {jumps: unlikely}",
        "weak-proof: no proof of 'sensor-internal' is likely for it and unlikely otherwise",
    ),
    (
        proofs_that_prove_nothing,
        SWEEP,
        "sensor-internal: {jumps: very-likely}",
        "sensor-internal: {jumps: unlikely}",
        "weak-proof: no proof of 'sensor-internal' is likely for it and unlikely otherwise",
    ),
    (
        complaints_without_causes,
        "complaints.yaml",
        "",
        "- {id: hunting, title: It hunts, asks: It hunts., first: Watch it.}\n",
        "thin-complaint: 'hunting' has 0 causes",
    ),
    (
        unused_ids,
        "tools.yaml",
        "",
        "- {id: spare-tool, title: Spare tool}\n",
        "unused-id: the tool 'spare-tool' is used by no check, repair, setup or rule",
    ),
    (
        unused_ids,
        "setups.yaml",
        "",
        "- {id: spare-setup, title: Spare setup, enter: 1, steps: [Wait.]}\n",
        "unused-id: the setup 'spare-setup' is used by no check, repair, setup or rule",
    ),
    (
        unused_ids,
        "cautions.yaml",
        "",
        "- {id: spare-caution, says: Mind., why: It hurts., source: common-practice}\n",
        "unused-id: the caution 'spare-caution' is used by no check, repair, setup or rule",
    ),
    (
        questions_that_are_none,
        SWEEP,
        "from end to end?",
        "from end to end.",
        "question: the question of 'output-sweep' must ask one thing and end with a question mark",
    ),
    (
        questions_that_are_none,
        SWEEP,
        "from end to end?",
        "from end to end? And back?",
        "question: the question of 'output-sweep' must ask one thing and end with a question mark",
    ),
    (
        steps_too_long,
        SWEEP,
        "Steer slowly from end to end.",
        "Steer " + "slowly " * 40 + "on.",
        "long-step: a step of 'output-sweep' has 289 characters; 220 is the most: Steer slowly slowly slowly slowly slowly...",
    ),
    (
        steps_too_long,
        HYDRAULICS,
        "Bleed the circuit.",
        "Bleed the " + "long " * 43 + "circuit.",
        "long-step: a step of 'steering-valve-leak' has 233 characters; 220 is the most: "
        "Bleed the long long long long long long ...",
    ),
    (
        steps_too_long,
        "setups.yaml",
        "Chock the wheels.",
        "Chock " + "all " * 54 + "wheels.",
        "long-step: a step of 'machine-blocked' has 229 characters; 220 is the most: Chock all all all all all all all all al...",
    ),
    (sources_nobody_names, "sources.yaml", "", "", "unused-id: the source 'from-memory' is named by no entry"),
]


def findings(where: Path, **files: str) -> list[str]:
    return [f"{i.lint}: {i.what}" for i in run_lints(load(variant(where, **{"sources": NO_SPARE_SOURCE, **files})))]


def planted(name: str, old: str, new: str) -> dict[str, str]:
    """The file with the fault in it; without an old text the new one is added at its end."""
    text = changed(name, old, new) if old else (SMALL / name).read_text(encoding="utf-8").rstrip("\n") + "\n" + new
    return {name.removesuffix(".yaml").replace("/", "__").replace("-", "_"): text}


def test_sound_knowledge_gives_no_finding(tmp_path: Path) -> None:
    """Nothing is said about knowledge that has nothing wrong with it."""
    assert findings(tmp_path) == []


@pytest.mark.parametrize(
    ("lint", "name", "old", "new", "said"), PLANTED, ids=[f"{p[0].__name__}-{n}" for n, p in enumerate(PLANTED)]
)
def test_each_lint_finds_its_own_fault_alone(tmp_path: Path, lint: Lint, name: str, old: str, new: str, said: str) -> None:
    """A planted fault is found by the lint made for it, in full words, and by no other."""
    assert findings(tmp_path, **planted(name, old, new)) == [said]
    assert [f"{i.lint}: {i.what}" for i in lint(load(tmp_path / "knowledge"))] == [said]


def test_every_lint_has_a_planted_fault() -> None:
    """No lint is left untried."""
    assert set(LINTS) == {p[0] for p in PLANTED}


def test_a_cause_that_only_a_load_test_shows_can_be_raised(tmp_path: Path) -> None:
    """A cause that adds resistance is raised by readings, whatever the tables say."""
    wiggle = changed(
        "checks/harness/wiggle-harness.yaml",
        "high-resistance-splice: {jumps-at-one-spot: unlikely}",
        "high-resistance-splice: {jumps-at-one-spot: almost-no-chance}",
    )
    pull = changed(
        "checks/harness/open-splice-and-pull.yaml",
        "high-resistance-splice: {pulls-out: likely}",
        "chafe-to-ground: {pulls-out: likely}",
    )
    supply = changed(
        "checks/power/supply-at-sensor-loaded.yaml",
        "high-resistance-splice: {low: unlikely,",
        "high-resistance-splice: {low: almost-no-chance,",
    )
    found = findings(
        tmp_path,
        checks__harness__wiggle_harness=wiggle,
        checks__harness__open_splice_and_pull=pull,
        checks__power__supply_at_sensor_loaded=supply,
    )
    assert found == []


def test_the_real_knowledge_gives_no_finding() -> None:
    """The knowledge that comes along passes its own lints."""
    assert [f"{i.lint}: {i.what}" for i in run_lints(real_knowledge())] == []
