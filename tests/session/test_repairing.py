"""A repair asks what was found, fitted and kept, and whether it was calibrated again; all of it reaches the record."""

from __future__ import annotations

import json
from typing import Any

import pytest
from builders import SMALL, small_knowledge
from terminal.talk import Talk, talk

from advisor.cli import run
from advisor.consultation.again import first_unfit
from advisor.consultation.scenario import to_event
from advisor.errors import InputError
from advisor.library.parser import load
from advisor.model.case import EVENT, Case, Opened, Repaired, Taught, fold
from advisor.model.knowledge import Found, Knowledge
from advisor.model.machine import generic_machine
from advisor.model.scenario import Line
from advisor.record.material import gather
from advisor.record.outcome import outcome

COUPLING = "sensor-coupling-loose"
OFFERED = (Found(id="screw-loose", says="Clamp screw loose"), Found(id="bore-worn", says="Bore worn"))


def offering() -> Knowledge:
    """The small knowledge, whose coupling offers two things that may be found."""
    k = small_knowledge()
    cause = k.causes[COUPLING]
    repair = cause.repair.model_copy(update={"found": OFFERED})
    return k.model_copy(update={"causes": {**k.causes, COUPLING: cause.model_copy(update={"repair": repair})}})


def repaired(*said: str, taught: str = "yes", then: tuple[str, ...] = ()) -> Talk:
    """A coupling found loose and repaired, with what is typed at found, fitted and kept."""
    points = ["yes"] * len(small_knowledge().causes[COUPLING].repair.workmanship)
    typed = ("other coupling-grip", "slips", f"repair {COUPLING}", "done", *said, *points, taught, "30", *then)
    return talk(*typed, knowledge=offering())


def event(found: Talk) -> Repaired:
    return next(e for e in found.stored if isinstance(e, Repaired))


@pytest.mark.parametrize(
    ("typed", "found", "words"),
    [
        ("1", ("screw-loose",), ""),
        ("2, 1", ("bore-worn", "screw-loose"), ""),
        ("bore-worn", ("bore-worn",), ""),
        ("2; paint on the thread", ("bore-worn",), "paint on the thread"),
        ("2 turns of tape", (), "2 turns of tape"),
        ("back side rusted", (), "back side rusted"),
        ("", (), ""),
        ("skip", (), ""),
    ],
)
def test_what_was_found_is_chosen_or_told(typed: str, found: tuple[str, ...], words: str) -> None:
    """Numbers and ids choose, other words stand as they were typed, and Enter alone passes over it."""
    told = event(repaired(typed, "", ""))
    assert (told.found, told.found_words) == (found, words)


@pytest.mark.parametrize("typed", ["7", "yes"])
def test_what_says_nothing_of_what_was_found_is_asked_again(typed: str) -> None:
    """A number that is not offered and a bare yes are refused."""
    assert event(repaired(typed, "1", "", "")).found == ("screw-loose",)


def test_what_was_fitted_and_kept_is_written_down() -> None:
    """Both in the technician's own words."""
    told = event(repaired("1", "new screw, 8 mm", "photo on the shop's telephone"))
    assert (told.fitted, told.kept) == ("new screw, 8 mm", "photo on the shop's telephone")


def test_a_calibration_that_is_left_is_asked_for_before_the_run() -> None:
    """What was passed over at the repair is asked once more, and the answer stands at the repair."""
    then = ("retest coupling-grip", "tight", "run 8", "1", "0")
    told = repaired("", "", "", taught="", then=then)
    assert told.printed.count("Was this calibrated again: Centre position of the angle sensor?") == 2
    assert [e.taught for e in told.stored if isinstance(e, Taught)] == ["yes"]
    assert [r.taught for r in fold(told.case).repairs.values()] == ["yes"]
    assert first_unfit(offering(), told.case) is None


def test_a_case_closed_without_its_calibration_hears_so() -> None:
    """The screen says it before the case is closed, and the record keeps it among the open points."""
    told = repaired("", "", "", taught="2", then=("retest coupling-grip", "tight", "close", "no"))
    assert "Not calibrated again: Centre position of the angle sensor." in " ".join(told.printed.split())
    assert any(p.startswith("Teach again") for p in shown(told).open_points)


def shown(told: Talk) -> Any:
    from datetime import UTC, datetime

    from advisor.consultation.consultation import Consultation

    return outcome(gather(Consultation(offering(), generic_machine()), told.case, datetime(2026, 3, 4, tzinfo=UTC)))


def test_the_record_tells_what_was_found_fitted_kept_and_taught() -> None:
    """All four stand at the repair, and nothing is left open."""
    told = repaired("1; cross-threaded", "new screw", "photo of the mark", taught="3")
    view = shown(told).repairs[0]
    assert view.found == ("Clamp screw loose", "cross-threaded")
    assert (view.fitted, view.kept, view.taught) == ("new screw", "photo of the mark", "not-needed")
    assert not any(p.startswith("Teach again") for p in shown(told).open_points)


def test_a_repair_of_an_older_version_still_loads() -> None:
    """What it did not ask is open, and not said."""
    old = EVENT.validate_python({"event": "repaired", "cause": COUPLING, "points": {"Screw tight": True}})
    assert isinstance(old, Repaired)
    assert (old.found, old.found_words, old.fitted, old.kept, old.taught) == ((), "", "", "", None)


LINE = {"repair": COUPLING, "found": ["bore-worn"], "found_words": "rust", "fitted": "coupling", "kept": "photo", "taught": "yes"}


def test_a_line_of_answers_says_the_same() -> None:
    """Scenarios and --answers hold the fields of the event under their own names."""
    told = to_event(offering(), generic_machine(), Case((Opened(complaint="reads-low"),)), Line.model_validate(LINE))
    assert isinstance(told, Repaired)
    assert (told.found, told.found_words, told.fitted, told.kept, told.taught) == (
        ("bore-worn",),
        "rust",
        "coupling",
        "photo",
        "yes",
    )


@pytest.mark.parametrize(("key", "value", "said"), [("found", "bore-warn", "bore-warn"), ("taught", "perhaps", "perhaps")])
def test_a_line_that_says_what_is_not_offered_is_refused(key: str, value: str, said: str) -> None:
    """It names what was written, and what could be."""
    line = Line.model_validate({**LINE, key: value})
    with pytest.raises(InputError, match=said):
        to_event(offering(), generic_machine(), Case((Opened(complaint="reads-low"),)), line)


def test_every_repair_of_the_knowledge_offers_what_may_be_found() -> None:
    """Two choices at the least, each once; and each calibration that is named is asked for."""
    for cause in load(SMALL.parent.parent / "knowledge").causes.values():
        ids = [f.id for f in cause.repair.found]
        assert len(ids) >= 2, cause.id
        assert len(set(ids)) == len(ids), cause.id


def test_answers_played_from_a_file_reach_the_json_record(tmp_path: Any, capsys: pytest.CaptureFixture[str]) -> None:
    """The dialogue types the fields of the file's line at its prompts."""
    points = {"title": "Loose coupling (invented)", "complaint": "motion-without-steering"}
    line = {**LINE, "found": "screw-loose", "minutes": 20}
    answers = [{"check": "coupling-grip", "result": "slips"}, line, {"retest": "coupling-grip", "result": "tight"}]
    file = tmp_path / "case.yaml"
    file.write_text(json.dumps({**points, "answers": answers}), encoding="utf-8")
    data = ["--data-dir", str(tmp_path / "data")]
    assert run(["start", "--answers", str(file), *data, "--plain"]) in (0, 5)
    capsys.readouterr()
    assert run(["record", *data, "--format", "json"]) == 0
    repair = json.loads(capsys.readouterr().out)["record"]["outcome"]["repairs"][0]
    assert (repair["found"], repair["fitted"], repair["kept"], repair["taught"]) == (
        ["Clamp screw loose", "rust"], "coupling", "photo", "yes"
    )  # fmt: skip
