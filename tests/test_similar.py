"""`advisor similar` and what `why` says of past cases, as a shell sees them."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from builders import MORNING, SMALL, scenario, small_knowledge

from advisor.cli import run
from advisor.consultation.scenario import events_of, opening
from advisor.model.case import Closed, Noted
from advisor.store.folder import CaseStore

SLIPS = {"check": "coupling-grip", "result": "slips"}
CURED = (SLIPS, {"repair": "sensor-coupling-loose", "minutes": 30}, {"retest": "coupling-grip", "result": "tight"}, {"run": 9})
COUPLING = "sensor-coupling-loose"


def case(folder: Path, *lines: dict[str, Any], cause: str | None = "", note: str = "", **keys: Any) -> str:
    """A case told by lines; closed where a cause is named."""
    knowledge, told = small_knowledge(), scenario(*lines, **keys)
    with CaseStore(folder).create(opening(knowledge, told), knowledge.digest, MORNING) as opened:
        for _, event, _ in events_of(knowledge, told):
            opened.append(event, MORNING)
        if note:
            opened.append(Noted(text=note), MORNING)
        if cause != "":
            opened.append(Closed(cause=cause, by="Kim"), MORNING)
    return opened.stored.case_id


def similar(capsys: pytest.CaptureFixture[str], folder: Path, *arguments: str) -> str:
    capsys.readouterr()
    assert run(["similar", *arguments, "--data-dir", str(folder), "--knowledge", str(SMALL)]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_past_cases_like_this_one_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Those of the same complaint with the same telling answers; what cured them; unproven ones are shown and not counted."""
    proven = case(tmp_path, *CURED, cause=COUPLING)
    guess = case(tmp_path, SLIPS, cause=COUPLING)
    case(tmp_path, *CURED, cause=COUPLING, complaint="reads-low")
    other = case(tmp_path, {"check": "coupling-grip", "result": "tight"}, cause=None)
    mine = case(tmp_path, SLIPS)
    said = similar(capsys, tmp_path, mine)
    assert "Seen before: 1 like this. 1 was: Coupling loose on the sensor stem. It took 0 min." in said
    assert f"{proven} (2031-03-04): 100% alike. Coupling loose on the sensor stem. Proven by retest and hours." in said
    assert f"{guess} (2031-03-04): 100% alike. Coupling loose on the sensor stem. Not proven." in said
    assert other not in said
    assert said.count("alike") == 2
    rows = json.loads(similar(capsys, tmp_path, mine, "--json"))
    assert (rows["case"], rows["closed_cases"], len(rows["similar"])) == (mine, 4, 2)


def test_no_case_like_it_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """How many there were to look at is named."""
    case(tmp_path, {"check": "coupling-grip", "result": "tight"}, cause=None)
    mine = case(tmp_path, SLIPS)
    assert similar(capsys, tmp_path, mine) == "None of 1 closed cases is like this one."


def test_words_find_a_case_by_its_notes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Notes of closed cases are searched; an open one is not found."""
    found = case(tmp_path, *CURED, cause=COUPLING, note="Rust below the clamp")
    case(tmp_path, SLIPS, note="rust")
    said = similar(capsys, tmp_path, "--words", "rust clamp")
    assert said.startswith(found)
    assert similar(capsys, tmp_path, "--words", "gearbox") == "No closed case holds these words."


def test_why_tells_of_past_cases(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside the reason of the step: how many were like this, and what they were. Without such cases nothing is said."""
    mine = case(tmp_path, SLIPS)
    for seen in (False, True):
        monkeypatch.setattr("sys.stdin", io.StringIO("1\nwhy\npause\n"))
        run(["resume", mine, "--data-dir", str(tmp_path), "--knowledge", str(SMALL)])
        said = " ".join(capsys.readouterr().out.split())
        assert ("Seen before: 2 like this. 2 were: Coupling loose on the sensor stem." in said) is seen
        for _ in range(2):
            case(tmp_path, *CURED, cause=COUPLING)
        case(tmp_path, SLIPS, cause="chafe-to-ground")
