"""`advisor verify`: what it lets pass, and the event it names when a file is not what was answered."""

from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from builders import MORNING, SMALL, scenario, small_knowledge
from folders import changed, variant

from advisor.cli import run
from advisor.consultation.scenario import events_of, opening
from advisor.model.case import Event, Noted, Undone
from advisor.store.folder import CaseStore

LINES: tuple[dict[str, Any], ...] = (
    {"check": "coupling-grip", "result": "slips"},
    {"reading": "supply-at-sensor-loaded", "value": 4.41, "unit": "V"},
    {"note": "seen by two people"},
    {"repair": "sensor-coupling-loose", "minutes": 25},
    {"retest": "coupling-grip", "result": "tight"},
    {"run": 9},
)
INTAKE: dict[str, Any] = {"temperature": "cold", "recent-work": ["sensor-replaced"], "occurrences": 3, "hours": 20}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A case of seven events."""
    told = scenario(*LINES, intake=INTAKE)
    return stored(tmp_path, *(event for _, event, _ in events_of(small_knowledge(), told)))


def stored(where: Path, *events: Event) -> Path:
    """A case file with these events after an opening."""
    knowledge = small_knowledge()
    first = opening(knowledge, scenario(intake=INTAKE))
    with CaseStore(where / "cases").create(first, knowledge.digest, MORNING) as case:
        for event in events:
            case.append(event, MORNING)
        return case.stored.path


def verified(file: Path, capsys: pytest.CaptureFixture[str], knowledge: Path = SMALL) -> tuple[int, dict[str, Any]]:
    code = run(["verify", file.stem, "--data-dir", str(file.parent), "--knowledge", str(knowledge), "--json"])
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return code, found


def rehashed(file: Path, old: str, new: str) -> None:
    """An edit by somebody who computes every hash anew."""
    rows = [file.read_bytes().splitlines()[0]]
    for line in file.read_text(encoding="utf-8").replace(old, new).splitlines()[1:]:
        data = json.loads(line)
        del data["own"]
        data["previous"] = sha256(rows[-1]).hexdigest()
        bare = json.dumps(data, separators=(",", ":"), ensure_ascii=False).encode()
        rows.append(bare[:-1] + f',"own":"{sha256(bare).hexdigest()}"}}'.encode())
    file.write_bytes(b"\n".join(rows) + b"\n")


def test_a_case_as_it_was_answered_passes(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 0, the number of events, and the check of the last line to write on the paper."""
    code, found = verified(file, capsys)
    assert (code, found["ok"], found["events"], found["sealed"], found["knowledge_same"]) == (0, True, 7, True, True)
    assert found["head"] == sha256(file.read_bytes().splitlines()[-1]).hexdigest()
    assert run(["verify", file.stem, "--data-dir", str(file.parent), "--knowledge", str(SMALL)]) == 0
    said = capsys.readouterr().out
    assert f"Case {file.stem}: the case file is unaltered." in said
    assert found["code"] in said
    assert "A file cannot show two things by itself" in said


@pytest.mark.parametrize("number", range(7))
def test_an_edited_event_is_named(number: int, file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each event, the last one too: an edit that leaves it readable is found, exit 1."""
    rows = file.read_bytes().splitlines(keepends=True)
    rows[number + 1] = rows[number + 1].replace(b"2031-03-04", b"2031-03-05")
    file.write_bytes(b"".join(rows))
    code, found = verified(file, capsys)
    assert (code, found["ok"], found["failed"]["event"]) == (1, False, number)
    assert run(["verify", file.stem, "--data-dir", str(file.parent), "--knowledge", str(SMALL)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert f"event {number} is the first that was altered" in said


def test_a_last_event_cut_off_changes_the_check(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No file can show a last line that is gone; the check noted before does."""
    _, before = verified(file, capsys)
    file.write_bytes(b"".join(file.read_bytes().splitlines(keepends=True)[:-1]))
    code, after = verified(file, capsys)
    assert code == 0
    assert after["head"] != before["head"]


def test_a_line_cut_short_is_named(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A line without its end is not what was answered, until the case is opened and it is moved aside."""
    file.write_bytes(file.read_bytes()[:-9])
    code, found = verified(file, capsys)
    assert (code, found["failed"]["event"]) == (1, 6)


@pytest.mark.parametrize(
    ("old", "new", "event", "says"),
    [
        ('"result":"slips"', '"result":"sings"', 1, "'sings' is no result of coupling-grip"),
        ('"value":4.41', '"value":4.97', 2, "the case says"),
        ('"cause":"sensor-coupling-loose"', '"cause":"moon"', 4, "no cause 'moon'"),
        ('"hours":9.0', '"hours":200000.0', 6, "cannot be hours run"),
        ('"cold"', '"mild"', 0, "'mild' is no answer to temperature"),
        ('"nominal_volts":24', '"nominal_volts":-4', 0, "the machine in this case cannot be used"),
    ],
)
def test_what_could_not_be_answered_is_named(
    old: str, new: str, event: int, says: str, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An edit with every hash computed anew still shows when it says what nobody could have answered."""
    before = file.read_bytes()
    rehashed(file, old, new)
    assert file.read_bytes() != before
    code, found = verified(file, capsys)
    assert (code, found["failed"]["event"]) == (1, event)
    assert says in found["failed"]["what"]


def test_taking_back_what_never_counted_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An undo of a note, or of nothing, is no answer of the dialogue."""
    code, found = verified(stored(tmp_path, Noted(text="wet"), Undone(number=1)), capsys)
    assert (code, found["failed"]["event"]) == (1, 2)


def test_changed_knowledge_is_said_and_passes(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The answers stand although the knowledge has changed since; that it has is said."""
    other = variant(tmp_path, tools=changed("tools.yaml", "Digital multimeter", "Multimeter"))
    code, found = verified(file, capsys, other)
    assert (code, found["knowledge_same"]) == (0, False)
    assert run(["verify", file.stem, "--data-dir", str(file.parent), "--knowledge", str(other)]) == 0
    assert "The knowledge has changed since" in capsys.readouterr().out


def test_an_answer_that_the_knowledge_no_longer_has_is_named(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A result that was taken out of the knowledge leaves an answer that cannot be weighed; the way out is named."""
    text = (SMALL / "intake.yaml").read_text(encoding="utf-8").replace("id: sensor-replaced", "id: sensor-new")
    code, found = verified(file, capsys, variant(tmp_path, intake=text))
    assert (code, found["failed"]["event"]) == (1, 0)
    assert "--knowledge" in found["failed"]["hint"]


def test_the_file_stays_as_it_is(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Looking changes nothing and leaves nothing behind."""
    before = {p.name: p.read_bytes() for p in file.parent.iterdir()}
    verified(file, capsys)
    assert {p.name: p.read_bytes() for p in file.parent.iterdir()} == before


def test_a_code_on_the_card_shows_a_cut_and_an_edit_of_the_end(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The code written down stands for everything up to its event: later events do no harm, a cut or an edit shows."""
    arguments = ["verify", file.stem, "--data-dir", str(file.parent), "--knowledge", str(SMALL)]
    _, found = verified(file, capsys)
    card = found["code"]
    assert run([*arguments, "--code", card.upper().replace("-", " ")]) == 0
    with CaseStore(file.parent).open(file.stem) as case:
        case.append(Noted(text="later"), MORNING)
    assert run([*arguments, "--code", card]) == 0
    assert f"event {found['events'] - 1}. Up to that event the file is unchanged" in " ".join(capsys.readouterr().out.split())
    lines = file.read_bytes().splitlines(keepends=True)
    file.write_bytes(b"".join(lines[:-2]))
    assert verified(file, capsys)[0] == 0
    assert run([*arguments, "--code", card]) == 1
    assert "cut off" in capsys.readouterr().out


def test_the_record_prints_the_code_that_verify_shows(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Paper and file can be held against each other."""
    _, found = verified(file, capsys)
    assert run(["record", file.stem, "--data-dir", str(file.parent), "--knowledge", str(SMALL)]) == 0
    assert found["code"] in capsys.readouterr().out
