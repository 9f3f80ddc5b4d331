"""What steers the machine decides which checks and causes make sense on it."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

import pytest

from advisor.cli import run
from advisor.commands.shared import knowledge_folder
from advisor.consultation.consultation import Consultation
from advisor.consultation.intake_told import machine_says
from advisor.consultation.scenario import opening
from advisor.errors import InputError
from advisor.library.parser import load
from advisor.model.case import Case, Opened
from advisor.model.finding import Assessment
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.model.scenario import Scenario
from advisor.terminal import reasons
from advisor.terminal.environment import Terminal

OF_WHEELS = {"ball-joint-play", "kingpin-play", "wheel-bearing-play"}
OF_A_HINGE = {"articulation-pin-play", "pinched-at-articulation"}


@cache
def knowledge() -> Knowledge:
    return load(knowledge_folder(None))


@cache
def assessed(steering: str | None, complaint: str = "position-erratic") -> Assessment:
    intake = {"steering": (steering,)} if steering else {}
    return Consultation(knowledge()).assess(Case((Opened(complaint=complaint, intake=intake),)))


def share(found: Assessment, causes: set[str]) -> float:
    return sum(s.share for s in found.ranking if s.cause in causes)


def machine_with(steering: str) -> Machine:
    return Machine.model_validate({**generic_machine().model_dump(by_alias=True, exclude_none=True), "steering": steering})


@pytest.mark.parametrize(
    ("steering", "left_out"),
    [
        (
            "hinge",
            {
                "shake-steered-wheels",
                "kingpin-gauge",
                "wheel-bearing-rock",
                "ball-joint-reversal",
                "toe-measured",
                "knuckle-run-look",
                "track-rod-threads-look",
                "axles-in-phase-look",
                "slew-through-watch",
            },
        ),
        ("rear-wheels", {"articulation-pin-lift", "hinge-run-look", "axles-in-phase-look"}),
        ("hinge-and-wheels", {"slew-through-watch"}),
        ("not-known", set()),
    ],
)
def test_checks_of_parts_that_are_not_there_are_left_out(steering: str, left_out: set[str]) -> None:
    """A hinge machine is not asked for its kingpins, nor a rigid one for its hinge; where both or nobody knows, both are open."""
    by_steering = {r.id for r in knowledge().rules.values() if any(p.intake == "steering" for p in r.when)}
    assert {h.target for h in assessed(steering).holds if h.never and h.rule in by_steering} == left_out


@pytest.mark.parametrize(
    ("steering", "gone"), [("hinge", OF_WHEELS), ("front-wheels", OF_A_HINGE), ("tracks-or-skid", OF_WHEELS | OF_A_HINGE)]
)
def test_causes_that_cannot_be_are_almost_excluded(steering: str, gone: set[str]) -> None:
    """Parts that the machine does not have keep less than a tenth of the share they have when nothing is known."""
    assert share(assessed(steering), gone) < 0.1 * share(assessed(None), gone)
    others = (OF_WHEELS | OF_A_HINGE) - gone
    assert share(assessed(steering), others) >= share(assessed(None), others)


def test_what_is_left_out_for_good_is_not_said_to_wait() -> None:
    """The reason is shown, and nothing that could come first is promised."""
    output = io.StringIO()
    found = assessed("hinge")
    assert found.next is not None
    reasons.why_all(Terminal(output=output, source=io.StringIO(), width=200, blocks=False), found.next, found, knowledge())
    line = next(x for x in output.getvalue().splitlines() if knowledge().checks["shake-steered-wheels"].title in x)
    assert line.startswith("Left out (not on this machine: no wheel of it is steered): ")


def test_the_machine_file_answers_for_the_technician(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody is asked what the machine file says; without it the question is put."""
    assert machine_says(knowledge(), machine_with("hinge")) == {"steering": ("hinge",)}
    assert machine_says(knowledge(), generic_machine()) == {}
    for name, asked in (("tunnel-loader-bus", False), ("loader-splice", True)):
        file = Path(__file__).parents[2] / f"scenarios/{name}.yaml"
        run(["start", "--answers", str(file), "--data-dir", str(tmp_path / name)])
        shown = capsys.readouterr().out
        assert ("What steers this machine?" in shown) is asked
        assert "not on this machine" not in shown.split("Likely causes")[0]


def test_an_intake_that_contradicts_the_machine_file_is_refused() -> None:
    """Two answers to one question are a mistake in one of the files."""
    told = {"title": "x", "machine": machine_with("hinge"), "complaint": "reads-low", "intake": {"steering": "rear-wheels"}}
    with pytest.raises(InputError, match="the machine file answers steering with 'hinge', the intake with 'rear-wheels'"):
        opening(knowledge(), Scenario.model_validate(told))
    same = Scenario.model_validate({**told, "intake": {"steering": "hinge"}})
    assert opening(knowledge(), same).intake["steering"] == ("hinge",)
