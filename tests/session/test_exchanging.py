"""The machine file given or changed in the middle of a case: what no longer fits is named, and the case goes on."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import yaml
from builders import MACHINE, SMALL, scenario, small_knowledge, stamped, told, trade_knowledge

from advisor.cli import run
from advisor.consultation.again import first_unfit
from advisor.consultation.consultation import Consultation
from advisor.consultation.exchange import exchange
from advisor.consultation.intake_told import machine_of
from advisor.consultation.scenario import events_of, opening
from advisor.model.case import Case, Corrected, Event, MachineChanged, Opened, Undone, fold
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.record.render import html
from advisor.record.view import build
from advisor.session.session import Session
from advisor.store.folder import CaseStore
from advisor.terminal.client import Person, play
from advisor.terminal.environment import Terminal

AT = datetime(2031, 3, 4, 9, 0, tzinfo=UTC)
SLIPS = {"check": "coupling-grip", "result": "slips"}
PULLED = {"check": "open-splice-and-pull", "place": "splice-7", "result": "holds"}
LOADED = {"reading": "load-test", "circuit": "supply-a", "from": "controller", "to": "sensor", "reference": 23.84, "loaded": 23.1}
WHOLE = Machine.model_validate(MACHINE).model_dump(mode="json", by_alias=True, exclude_none=True)


def renamed(old: str, new: str, **changes: Any) -> Machine:
    """The small machine with another name for one of its elements."""
    return Machine.model_validate({**json.loads(json.dumps(WHOLE).replace(f'"{old}"', f'"{new}"')), **changes})


def lines_of(*lines: dict[str, Any]) -> Case:
    return told(*lines)[1]


def talked(case: Case, machine: Machine, *typed: str, knowledge: Knowledge | None = None) -> tuple[str, list[Event], Session]:
    """A case gone on with, in which `machine FILE` reads this machine."""
    output, stored = io.StringIO(), list[Event]()
    terminal = Terminal(output=output, source=io.StringIO("".join(f"{t}\n" for t in typed)), width=80, blocks=False)
    session = Session.going_on(knowledge or small_knowledge(), case, lambda *new: stored.extend(new))
    session.room.read_machine = lambda name: machine
    play(terminal, Person(terminal), session)
    return " ".join(output.getvalue().split()), stored, session


def test_what_the_new_machine_lacks_is_named_and_taken_back() -> None:
    """The answer about a splice of another name goes after a yes, all others stay, and the record keeps what was said."""
    printed, stored, session = talked(lines_of(SLIPS, PULLED, LOADED), renamed("splice-7", "splice-9"), "machine new.yaml", "yes")
    assert "No longer fits: Open the splice and pull (splice-7)" in printed or "splice-7" in printed
    assert "The new layout has no splice-7." in printed
    assert [type(e) for e in stored] == [MachineChanged, Undone]
    state = fold(session.room.case)
    assert [a.check for a in state.answers.values()] == ["coupling-grip"]
    assert len(state.readings) == 1
    assert "splice-9" in machine_of(state.opened).elements  # type: ignore[arg-type]


def test_a_no_keeps_the_machine_and_every_answer() -> None:
    """Nothing is written where the technician does not want it."""
    printed, stored, _ = talked(lines_of(SLIPS, PULLED), renamed("splice-7", "splice-9"), "machine new.yaml", "no")
    assert "Back at the step. Nothing was changed." in printed
    assert stored == []


def test_where_everything_fits_nothing_is_asked() -> None:
    """Another length of a wire takes nothing back; the parts that differ are named."""
    machine = json.loads(json.dumps(WHOLE))
    machine["circuits"]["ground-a"][1]["metres"] = 4.4
    printed, stored, _ = talked(lines_of(SLIPS, PULLED, LOADED), Machine.model_validate(machine), "machine new.yaml")
    assert "It differs in: circuit ground-a." in printed
    assert [type(e) for e in stored] == [MachineChanged]
    printed, stored, _ = talked(lines_of(SLIPS), Machine.model_validate(WHOLE), "machine same.yaml")
    assert "It is the machine of this case. Nothing was changed." in printed
    assert stored == []


def test_the_case_read_again_stands_where_the_dialogue_stood() -> None:
    """The events alone give the same machine, the same ranking and the same next step as the live session."""
    case = lines_of(SLIPS, PULLED, LOADED)
    _, _, session = talked(case, renamed("splice-7", "splice-9"), "machine new.yaml", "yes")
    live, whole = session.conversation, session.room.case
    assert live is not None
    assert first_unfit(small_knowledge(), whole) is None
    machine = machine_of(fold(whole).opened)  # type: ignore[arg-type]
    again = Consultation(small_knowledge(), machine).assess(whole)
    assert again.ranking == live.assessment.ranking
    assert again.next == live.assessment.next
    opening_now = whole.events[0].model_copy(update={"machine": machine.model_dump(mode="json", by_alias=True, exclude_none=True)})
    without = Case((opening_now, *lines_of(SLIPS, LOADED).events[1:]))
    assert [(s.cause, round(s.share, 9)) for s in again.ranking] == [
        (s.cause, round(s.share, 9)) for s in Consultation(small_knowledge(), machine).assess(without).ranking
    ]


def test_a_machine_file_for_a_case_without_one_ends_the_generic_layout() -> None:
    """An answer at a cavity that both have stays; the word layout then says that there is a file."""
    opened = Opened(complaint="motion-without-steering")
    printed, _, session = talked(Case((opened,)), Machine.model_validate(WHOLE), "machine dumper.yaml", "layout")
    assert "Machine: Tracked dumper with hinge (invented)." in printed
    assert "this case has a machine file of its own" in printed
    assert session.conversation is not None
    assert not session.conversation.consultation.machine.generic


def test_a_repair_that_no_longer_fits_takes_its_retest_and_run_along() -> None:
    """A retest of a repair that does not count would prove another one."""
    case = lines_of(
        LOADED, {"repair": "high-resistance-splice", "place": "splice-7"},
        {"retest": "load-test", **{k: v for k, v in LOADED.items() if k != "reading"}, "loaded": 23.8}, {"run": 9},
    )  # fmt: skip
    found = exchange(
        small_knowledge(), case, MachineChanged(machine=renamed("splice-7", "splice-9").model_dump(mode="json", by_alias=True))
    )
    assert {e.event for e in found.gone} == {"repaired", "retested", "ran"}
    state = fold(Case((*case.events, *found.events)))
    assert (state.repairs, state.retests, state.runs) == ({}, {}, {})


def test_a_number_is_judged_by_the_limits_of_the_new_machine() -> None:
    """4.9 V is right for a sensor of 5 V and low for one of 8 V; the answer is corrected, and both are told."""
    knowledge = trade_knowledge()
    lines = ({"reading": "supply-at-sensor-loaded", "value": 4.9, "unit": "V"},)
    told_of = scenario(*lines)
    case = stamped([opening(knowledge, told_of), *(event for _, event, _ in events_of(knowledge, told_of))])
    machine = Machine.model_validate({**WHOLE, "sensor": {**WHOLE["sensor"], "supply_volts": 8.0, "band_volts": [0.5, 7.5]}})
    printed, stored, _ = talked(case, machine, "machine new.yaml", knowledge=knowledge)
    assert "Judged anew: Sensor supply under load" in printed
    corrected = [e for e in stored if isinstance(e, Corrected)]
    assert [(e.by.value, e.by.result) for e in corrected] == [(4.9, "low")]  # type: ignore[union-attr]


def test_a_generic_layout_exchanged_late_takes_back_what_it_lacks() -> None:
    """Exchanged after an answer at a cavity that only the first layout has, the case goes on with the second."""
    opened = Opened(complaint="reads-low")
    typed = ("other terminal-drag sensor:6", "1", "layout", "2", "yes")
    printed, _, session = talked(Case((opened,)), Machine.model_validate(WHOLE), *typed)
    assert "The new layout has no sensor:6." in printed
    assert session.conversation is not None
    assert "one track" in session.conversation.consultation.machine.title
    assert fold(session.room.case).answers == {}
    assert first_unfit(small_knowledge(), session.room.case) is None


def test_a_plug_that_the_new_machine_lacks_leaves_no_trace_in_how_it_stands() -> None:
    """Plugs that were opened on the old layout, and runs between them, go; the next step can be done on the new one."""
    typed = ("other load-test supply-a controller bulkhead", "23.84 23.1", "machine new.yaml", "yes", "1", "show")
    printed, _, session = talked(lines_of(SLIPS), renamed_points(), *typed)
    assert "The new layout has no bulkhead." in printed
    assert session.conversation is not None
    assert fold(session.room.case).readings == {}
    assert not any("bulkhead" in name for name in session.conversation.situation.ground.names)
    assert "Plugs have other names now. Say which of them are open." in printed
    assert "Hinge-plug plug home" in printed


def renamed_points() -> Machine:
    """The small machine with another name for the plug in the middle, and for its cavities."""
    return Machine.model_validate(json.loads(json.dumps(WHOLE).replace("bulkhead", "hinge-plug")))


def test_the_record_of_such_a_case_tells_the_exchange() -> None:
    """Every assessment on the way can be made on the last machine, and the trail names the new file."""
    _, _, session = talked(lines_of(SLIPS, PULLED, LOADED), renamed("splice-7", "splice-9"), "machine new.yaml", "yes")
    assert session.conversation is not None
    case = stamped([e.model_copy(update={"at": None}) for e in session.room.case.events])
    page = html(build(session.conversation.consultation, case, "c-1", AT))
    assert "Another machine file" in page


@pytest.mark.parametrize(
    ("text", "told_of"),
    [(None, "no-such.yaml"), ("format: 1\ntitle: [", "bad.yaml"), ("format: 1\ntitle: x\ncircuits: {}\n", "'points' is missing")],
)
def test_a_file_that_cannot_be_read_is_named_and_the_case_goes_on(
    text: str | None, told_of: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A missing or broken file changes nothing; the same step is asked again."""
    file = tmp_path / ("no-such.yaml" if text is None else "bad.yaml")
    if text is not None:
        file.write_text(text, encoding="utf-8")
    monkeypatch.setattr("sys.stdin", io.StringIO("\n" * 12 + f"machine {file}\npause\n"))
    shared = ["--data-dir", str(tmp_path / "cases"), "--knowledge", str(SMALL)]
    assert run(["start", "--complaint", "motion-without-steering", *shared]) == 5
    said = capsys.readouterr().out
    assert "Not taken" in said
    assert told_of in said
    events = CaseStore(tmp_path / "cases").read(CaseStore(tmp_path / "cases").newest()).case.events
    assert not any(isinstance(e, MachineChanged) for e in events)


def test_resume_takes_a_machine_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The case goes on with the file, and resumed once more it still has it; `show`, `verify` and `record` read it."""
    data, file = tmp_path / "cases", tmp_path / "dumper.yaml"
    file.write_text(yaml.safe_dump({"format": 1, **MACHINE}), encoding="utf-8")
    shared = ["--data-dir", str(data), "--knowledge", str(SMALL)]
    monkeypatch.setattr("sys.stdin", io.StringIO("\n" * 12 + "pause\n"))
    run(["start", "--complaint", "motion-without-steering", *shared])
    monkeypatch.setattr("sys.stdin", io.StringIO("\npause\n"))
    run(["resume", *shared, "--machine", str(file)])
    assert "Machine: Tracked dumper with hinge (invented)." in capsys.readouterr().out
    monkeypatch.setattr("sys.stdin", io.StringIO("1\nother load-test supply-a controller bulkhead\n23.84 23.7\npause\n"))
    run(["resume", *shared])
    assert "supply-a from controller to bulkhead" in capsys.readouterr().out
    assert run(["verify", *shared]) == 0
    assert run(["show", *shared]) == 0
    assert run(["record", "--format", "md", *shared]) == 0
    assert "Tracked dumper with hinge (invented)" in capsys.readouterr().out
