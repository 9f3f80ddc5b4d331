"""What was once taken, crashed on or never ended: refused in words, and it ends."""

from __future__ import annotations

import io
import os
import shlex
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from builders import MACHINE, MORNING, SMALL, scenario, small_knowledge
from folders import changed, variant
from pydantic import ValidationError

from advisor.cli import run
from advisor.consultation.again import first_unfit
from advisor.consultation.scenario import events_of
from advisor.errors import EndOfInput, InputError, StoreError
from advisor.model.case import Answered, Case, Corrected, Event, KnowledgeChanged, Opened, Ran, Reading, Repaired, Retested
from advisor.model.question import Question
from advisor.session.script import Script
from advisor.store import disk
from advisor.store.folder import CaseStore
from advisor.store.transfer import take_in, unpack

OPENED = Opened(complaint="motion-without-steering", machine=MACHINE)
LINES: tuple[dict[str, Any], ...] = (
    {"check": "coupling-grip", "result": "tight", "place": None},
    {"reading": "load-test", "circuit": "supply-a", "from": "controller", "to": "sensor", "reference": 23.7, "loaded": 23.1},
    {"reading": "supply-at-sensor-loaded", "value": 4.71, "unit": "V"},
    {"correct": "coupling-grip", "result": "tight"},
    {"skip": "coupling-grip", "why": "no time"},
    {"repair": "high-resistance-splice", "place": "splice-7", "minutes": 50},
    {"retest": "coupling-grip", "result": "tight"},
    {"run": 6.5, "recurrences": 1},
    {"note": "x"},
    {"close": "sensor-coupling-loose", "by": "x", "reason": "x"},
)
WRONG: tuple[Any, ...] = ([1], {"a": 1}, [], {})


@pytest.mark.parametrize(("line", "key"), [(line, key) for line in LINES for key in line])
def test_a_list_or_a_mapping_in_a_scenario_is_refused(line: dict[str, Any], key: str) -> None:
    """Whatever the key: the line is refused in words, or the list is of one result and meant."""
    for value in WRONG:
        with pytest.raises((ValidationError, InputError)):
            list(events_of(small_knowledge(), scenario({"check": "coupling-grip", "result": "slips"}, {**line, key: value})))


@pytest.mark.parametrize("key", ["check", "correct", "retest", "skip", "repair", "close"])
def test_a_place_a_value_or_a_unit_out_of_place_is_refused(key: str) -> None:
    """Numbers, signs that drive a terminal and names of nothing too."""
    names = {"repair": "high-resistance-splice", "close": "high-resistance-splice"}
    for more in ({"place": "nowhere"}, {"value": 1}, {"unit": "V"}, {"values": [1, 2]}):
        with pytest.raises((ValidationError, InputError)):
            list(events_of(small_knowledge(), scenario({"check": "coupling-grip", "result": "slips"},
                                                       {key: names.get(key, "coupling-grip"), **more})))  # fmt: skip


# ---- no loop without an end


def test_a_script_whose_answer_is_refused_does_not_type_it_for_ever() -> None:
    """The second time it is asked the same, it says which answer does not fit."""
    script = Script(scenario(intake={"hours": 12}))
    question = Question(kind="hours", text="In how many working hours?", prompt="hours")
    assert script.answer(question) == "12.0"
    with pytest.raises(InputError, match="is no answer to: In how many working hours"):
        script.answer(question)


def test_a_repair_without_its_place_ends_a_script(tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A place that the dialogue asks for and the scenario does not know is no loop."""
    told = tmp_path / "told.yaml"
    told.write_text(
        "format: 1\ntitle: t\ncomplaint: motion-without-steering\nanswers:\n"
        "  - {check: open-splice-and-pull, result: pulls-out}\n  - {repair: high-resistance-splice}\n",
        encoding="utf-8",
    )
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    code = run(["start", "--answers", str(told), "--knowledge", str(SMALL), "--data-dir", str(tmp_path / "c")])
    said = capsys.readouterr()
    assert code in (0, 1, 2, 5)
    assert len(said.out) < 20_000


def test_a_disk_that_takes_no_byte_ends_the_write() -> None:
    """A write that returns 0 for ever is a failure of the disk."""

    class Nothing(io.RawIOBase):
        def write(self, data: Any) -> int:
            return 0

    with pytest.raises(OSError, match="the disk is full"):
        disk._fill(Nothing(), b"x")  # type: ignore[arg-type]


# ---- numbers that cannot be


@pytest.mark.parametrize(
    "given",
    [
        "--load-ohms 1e11", "--load-ohms 10001", "--amps 1e6", "--sections 999999999 --load-ohms 5", "--load-ohms nan",
        "--amps inf", "--load-ohms -1", "--mm2 1e9 --metres 3 --load-ohms 5", "--sections 0",
    ],
)  # fmt: skip
def test_a_drop_with_what_no_load_has_is_refused(given: str, capsys: Any) -> None:
    """No verdict in a sure voice over numbers that nobody can have read."""
    assert run(["drop", "--reference", "23.7", "--loaded", "23.1", *given.split()]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert len(said.err.splitlines()) == 2


@pytest.mark.parametrize("read", ["--reference 1e308 --loaded 1e308", "--reference 101 --loaded 99", "--reference 0 --loaded 0"])
def test_a_drop_with_what_no_meter_shows_is_refused(read: str) -> None:
    """A harness of a machine has tens of volts."""
    assert run(["drop", *read.split()]) == 2


def test_nothing_behind_a_break_is_no_range_of_ohms(capsys: Any) -> None:
    """With 0 V behind it there is no upper end, and `inf` is no word for anybody."""
    assert run(shlex.split("drop --reference 23.7 --loaded 0 --load-ohms 9")) == 0
    said = capsys.readouterr().out
    assert "no end of" in said
    assert "inf" not in said


@pytest.mark.parametrize(
    "condition",
    [{"copper_celsius": -300}, {"copper_celsius": 99999}, {"meter": "99999%+99999"}, {"load_ohms": 1e11}, {"load_ohms": 0.1}],
)
def test_a_load_test_under_impossible_conditions_is_refused(condition: dict[str, Any]) -> None:
    """Copper below absolute zero has no resistance to reckon with, and no meter is wrong by a thousand times."""
    line = LINES[1] | condition
    with pytest.raises(InputError):
        list(events_of(small_knowledge(), scenario(line)))
    kept = Reading.model_validate({k: v for k, v in line.items() if k != "reading"})
    assert first_unfit(small_knowledge(), Case((OPENED, kept))) is not None


# ---- forged files whose checks are right


def _read(reference: float, loaded: float, circuit: str = "supply-a", **more: Any) -> Reading:
    return Reading.model_validate(
        {"circuit": circuit, "from": "controller", "to": "sensor", "reference": reference, "loaded": loaded, **more}
    )


FORGED: tuple[tuple[Event, ...], ...] = (
    (_read(0, 0),), (_read(1e308, 1e308),), (_read(-1e308, 1e308),), (_read(23.7, 23.1, load_ohms=0.0),),
    (_read(23.7, 23.1, load_amps=1e308),), (_read(23.7, 23.1, load_ohms=9.0, load_amps=1.0),),
    (_read(23.7, 23.1, copper_celsius=-300.0),), (_read(23.7, 23.1, meter="x"),),
    (_read(23.7, 23.1, circuit="nowhere"),),
    (KnowledgeChanged(digest="d", before={"Coupling loose": 1e308}),), (Retested(by=_read(0, 0)),),
    (Answered(check="supply-at-sensor-loaded", result="low", value=1e308),), (Answered(check="no-such", result="x"),),
    (Repaired(cause="no-such"),), (Repaired(cause="sensor-coupling-loose", minutes=1e308),), (Ran(hours=1e308),),
    (Ran(hours=1, recurrences=10**9),), (Corrected(number=99, by=Answered(check="coupling-grip", result="tight")),),
    (Answered(check="coupling-grip", result="tight", place="x\x1b[2J"),),
)  # fmt: skip


@pytest.mark.parametrize("events", FORGED, ids=lambda e: e[0].event)
def test_a_forged_event_with_a_right_hash_ends_in_words(events: tuple[Event, ...], tmp_path: Path, capsys: Any) -> None:
    """Somebody who reckons the checks anew gets a refusal: `verify` names the event, and no command crashes on it."""
    with CaseStore(tmp_path).create(OPENED, small_knowledge().digest, MORNING) as case:
        case.append_all(events, MORNING)
        name = case.stored.case_id
    own = ("--knowledge", str(SMALL), "--data-dir", str(tmp_path))
    assert run(["verify", name, *own]) == 1
    assert "event 1 is the first that was altered" in capsys.readouterr().out
    for command in (["show"], ["show", "--json"], ["record"], ["record", "--format", "html"], ["record", "--format", "json"]):
        assert run([command[0], name, *command[1:], *own]) in (0, 1)
        said = capsys.readouterr()
        assert "inf%" not in said.out
        assert "nan" not in said.out.lower().replace("maintenance", "")


# ---- files and folders


def test_a_copy_made_by_hand_is_left_out_of_an_export_by_name(tmp_path: Path, capsys: Any) -> None:
    """One such file made an archive that no computer took; now the cases travel, and the copy is named with what to do."""
    with CaseStore(tmp_path / "a").create(OPENED, "d" * 64, MORNING) as case:
        file = case.stored.path
    file.with_name(f"{file.stem}.copy.jsonl").write_bytes(file.read_bytes())
    archive = tmp_path / "out.zip"
    assert run(["cases", "--export", str(archive), "--data-dir", str(file.parent)]) == 1
    assert squeezed(f"{file.stem}.copy.jsonl is a copy with a name of its own") in squeezed(capsys.readouterr().out)
    assert [t.did for t in take_in(CaseStore(tmp_path / "b"), unpack(archive))] == ["added"]
    assert run(["cases", "--import", str(archive), "--data-dir", str(file.parent)]) == 0


@pytest.mark.parametrize("name", ["", ".", "/", "no/such/folder/page.html"])
def test_a_trial_refuses_its_page_before_the_work(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Minutes of work are not thrown away for a name."""

    def worked(*_: Any, **__: Any) -> None:
        raise AssertionError("the work was done")

    monkeypatch.setattr("advisor.practice.trial.run_trial", worked, raising=False)
    assert run(["trial", "--cases", "1", "--knowledge", str(SMALL), "--html", name]) in (2, 3)


def test_a_folder_name_of_five_thousand_letters_is_refused_in_words(capsys: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every command that opens the folder."""
    monkeypatch.setattr("sys.stdin", io.StringIO("1\n"))
    for command in (["cases"], ["show"], ["record"], ["verify"], ["resume"], ["start"]):
        assert run([*command, "--data-dir", "x" * 5000]) in (1, 3)
        assert len(capsys.readouterr().err.splitlines()) == 2


def test_a_ranking_that_cannot_be_kept_is_no_failure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    """It is a help for the next time: on a disk that just filled, a closed case is closed, and the exit code says so."""

    def full(*_: Any) -> None:
        raise StoreError("cannot write: No space left on device")

    monkeypatch.setattr(CaseStore, "keep_ranking", full)
    monkeypatch.setattr("sys.stdin", io.StringIO("close none\nyes\nno use\nme\n"))
    with CaseStore(tmp_path).create(OPENED, small_knowledge().digest, MORNING) as case:
        name = case.stored.case_id
    assert run(["resume", name, "--data-dir", str(tmp_path), "--knowledge", str(SMALL)]) in (0, 5)
    assert "Saved." in capsys.readouterr().out


def as_nobody(doing: Callable[[], None]) -> str:
    """What went wrong in a child that permissions bind; empty when nothing did."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        said = ""
        try:
            if os.geteuid() == 0:
                os.setgid(65534)
                os.setuid(65534)
            doing()
        except BaseException:
            said = traceback.format_exc()
        os.write(writing, said.encode()[-4000:])
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        said = pipe.read().decode()
    os.waitpid(child, 0)
    return said


@pytest.mark.skipif(os.name == "nt", reason="no such permissions there")
@pytest.mark.parametrize("mode", [0o000, 0o400, 0o500, 0o600])
@pytest.mark.parametrize("line", ["cases", "show", "verify", "record", "resume", "start", "cases --import z"])
def test_a_folder_whose_permission_was_lost_is_told_in_two_lines(mode: int, line: str, tmp_path: Path) -> None:
    """Not to be read, not to be written, not to be entered: one line says what, one what to do; no case is touched."""
    top = tmp_path
    while top != top.parent and top.stat().st_uid == os.geteuid():
        top.chmod(0o755)
        top = top.parent
    folder = tmp_path / "cases"
    with CaseStore(folder).create(OPENED, small_knowledge().digest, MORNING) as case:
        file = case.stored.path
    before = file.read_bytes()
    if os.geteuid() == 0:
        for path in (folder, *folder.iterdir()):
            os.chown(path, 65534, 65534)
    error = tmp_path / "error"
    error.write_text("", encoding="utf-8")
    error.chmod(0o666)

    def doing() -> None:
        with error.open("w", encoding="utf-8") as stream, pytest.MonkeyPatch.context() as patch:
            patch.setattr("sys.stderr", stream)
            patch.setattr("sys.stdout", io.StringIO())
            patch.setattr("sys.stdin", io.StringIO("pause\n"))
            own = [] if line.startswith("cases") else ["--knowledge", str(SMALL)]
            code = run([*line.split(), "--data-dir", str(folder), *own])
        assert code in (0, 1, 2, 3, 5), code
        assert code not in (1, 2, 3) or len(error.read_text(encoding="utf-8").splitlines()) in (1, 2)

    doing()  # loads what is imported late, which nobody else may be allowed to read
    folder.chmod(mode)
    said = as_nobody(doing)
    folder.chmod(0o700)
    assert said == ""
    assert file.read_bytes().startswith(before)


def squeezed(text: str) -> str:
    """What stands on a screen, whatever its width."""
    return "".join(text.split())


# ---- control characters of the knowledge itself


def test_titles_of_a_foreign_knowledge_do_not_drive_the_terminal(tmp_path: Path, capsys: Any) -> None:
    """`knowledge list`, `show`, `check` and `find` print what stands in its files as text."""
    evil = '"Grip \\u001b[2J\\u202e of the coupling"'
    file = next(p for p in (SMALL / "checks").rglob("*.yaml") if "id: coupling-grip" in p.read_text(encoding="utf-8"))
    title = next(t for t in file.read_text(encoding="utf-8").splitlines() if "title:" in t and t.strip() != "")
    path = str(file.relative_to(SMALL))
    name = path.removesuffix(".yaml").replace("/", "__").replace("-", "_")
    found = variant(tmp_path, **{name: changed(path, title, f"{title.split('title:')[0]}title: {evil}")})
    for command in (["list", "checks"], ["show", "coupling-grip"], ["check"]):
        run(["knowledge", *command, "--knowledge", str(found)])
    run(["find", "coupling", "--knowledge", str(found)])
    said = capsys.readouterr()
    assert "Grip" in said.out
    assert "\x1b" not in said.out + said.err
    assert "\u202e" not in said.out + said.err


def test_the_end_of_the_answers_ends_a_script() -> None:
    """So that nothing here waits for more."""
    with pytest.raises(EndOfInput):
        Script(scenario()).answer(Question(kind="step", text="?", prompt="answer"))
