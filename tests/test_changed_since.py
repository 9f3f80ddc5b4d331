"""What happens to a case when something outside it has changed since it began: nothing is lost, and it is said."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from builders import MACHINE, MORNING, SMALL, scenario, small_knowledge
from folders import changed, variant

from advisor.cli import run
from advisor.consultation.scenario import events_of, opening
from advisor.model.case import KnowledgeChanged
from advisor.store.folder import CaseStore


def stored(folder: Path, *lines: dict[str, Any], **keys: Any) -> str:
    """A case told by lines, on the disk."""
    knowledge, told = small_knowledge(), scenario(*lines, **keys)
    with CaseStore(folder).create(opening(knowledge, told), knowledge.digest, MORNING) as case:
        for _, event, _ in events_of(knowledge, told):
            case.append(event, MORNING)
        return case.stored.case_id


def typed(monkeypatch: pytest.MonkeyPatch, text: str, *arguments: object) -> int:
    monkeypatch.setattr("sys.stdin", io.StringIO(text))
    return run([str(a) for a in arguments])


@pytest.fixture
def other(tmp_path: Path) -> Path:
    """The small knowledge with one title changed."""
    return variant(tmp_path, tools=changed("tools.yaml", "Digital multimeter", "Multimeter"))


def test_changed_knowledge_shows_both_rankings(
    tmp_path: Path, other: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """`show` and `resume` name the ranking as it was and as it is; the case keeps what was shown before."""
    data = tmp_path / "cases"
    case_id = stored(data, {"check": "coupling-grip", "result": "slips"})
    end = ("--data-dir", data, "--knowledge")
    typed(monkeypatch, "pause\n", "resume", case_id, *end, SMALL)
    assert "The knowledge has changed" not in capsys.readouterr().out
    assert typed(monkeypatch, "", "show", case_id, *end, other) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "The ranking is worked out again. Before: 90% coupling loose on the sensor stem; " in said
    assert "Now: 90% coupling loose on the sensor stem; " in said
    typed(monkeypatch, "pause\n", "resume", case_id, *end, other)
    said = " ".join(capsys.readouterr().out.split())
    assert "Before: 90% coupling loose on the sensor stem; " in said
    last = CaseStore(data).read(case_id).case.events[-1]
    assert isinstance(last, KnowledgeChanged)
    assert last.before["Coupling loose on the sensor stem"] == pytest.approx(0.90, abs=0.01)
    assert typed(monkeypatch, "", "show", case_id, *end, other) == 0
    assert "From here on with newer knowledge. Before: 90%" in " ".join(capsys.readouterr().out.split())


def test_a_ranking_that_was_not_kept_is_said_to_be_gone(
    tmp_path: Path, other: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A case that came from another computer has no ranking of its own beside it."""
    data = tmp_path / "cases"
    case_id = stored(data, {"check": "coupling-grip", "result": "slips"})
    (data / f"{case_id}.ranking").write_text("rubbish")
    assert typed(monkeypatch, "", "show", case_id, "--data-dir", data, "--knowledge", other) == 0
    assert "Before: the ranking was not kept. Now: 90%" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("command", [["show"], ["resume"], ["record"], ["close", "--by", "x"]])
def test_an_answer_that_is_no_longer_known_is_named(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An entry taken out of the knowledge: the event is named, and the file stays as it is."""
    data = tmp_path / "cases"
    case_id = stored(data, intake={"recent-work": ["sensor-replaced"]})
    text = (SMALL / "intake.yaml").read_text(encoding="utf-8").replace("id: sensor-replaced", "id: sensor-new")
    before = CaseStore(data).path(case_id).read_bytes()
    other = variant(tmp_path, intake=text)
    assert typed(monkeypatch, "", command[0], case_id, *command[1:], "--data-dir", data, "--knowledge", other) == 1
    said = capsys.readouterr().err
    assert f"case {case_id}, event 0: 'sensor-replaced' is no answer to recent-work; the knowledge has changed since" in said
    assert "Nothing is lost" in said
    assert CaseStore(data).path(case_id).read_bytes() == before


def test_a_changed_machine_file_is_named_and_the_case_goes_on_with_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What differs is said part by part; the opening stays as it was written, and the new machine stands after it."""
    data, file = tmp_path / "cases", tmp_path / "dumper.yaml"
    case_id = stored(data)
    machine = json.loads(json.dumps(MACHINE))
    file.write_text(yaml.safe_dump({"format": 1, **machine}), encoding="utf-8")
    line = ("resume", case_id, "--data-dir", data, "--knowledge", SMALL, "--machine", file)
    typed(monkeypatch, "pause\n", *line)
    assert "The machine file is not the one" not in capsys.readouterr().out
    machine["nominal_volts"] = 12
    machine["circuits"]["ground-a"][1]["metres"] = 4.4
    file.write_text(yaml.safe_dump({"format": 1, **machine}), encoding="utf-8")
    typed(monkeypatch, "pause\n", *line)
    said = " ".join(capsys.readouterr().out.split())
    assert "The machine file is not the one of this case. It differs in: nominal volts; circuit ground-a." in said
    opened = CaseStore(data).read(case_id).case.events[0]
    assert opened == opening(small_knowledge(), scenario()).model_copy(update={"at": MORNING})
