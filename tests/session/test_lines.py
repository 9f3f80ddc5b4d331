"""A session over lines of JSON comes to the same case as the terminal, and forgives a bad line."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from builders import SMALL, small_knowledge
from folders import REAL, ROOT, real_knowledge
from jsonschema import Draft202012Validator

from advisor.cli import run
from advisor.consultation.scenario import opening
from advisor.errors import EndOfInput, ExitCode
from advisor.library.files import read_scenario
from advisor.model.case import Case, Event, Opened
from advisor.model.question import Question
from advisor.model.scenario import Scenario
from advisor.session.lines import converse
from advisor.session.script import Script
from advisor.session.session import Session
from advisor.terminal.client import Person, play
from advisor.terminal.environment import Terminal

BEGUN = Opened(complaint="motion-without-steering", occurrences=6, hours=14)


def spoken(*replies: str) -> tuple[list[dict[str, Any]], list[Event]]:
    """The objects that come out for these lines, and the events stored."""
    events: list[Event] = []
    out: list[str] = []
    left = list(replies)
    session = Session.going_on(small_knowledge(), Case((BEGUN,)), lambda *new: events.extend(new))
    converse(session, out.append, lambda: left.pop(0) if left else None, lambda: "CASE")
    return [json.loads(line) for line in out], events


def test_each_object_holds_the_question_and_what_was_said() -> None:
    """Choices, cautions, the machine and the reasons are data: nothing has to be read out of text."""
    objects, events = spoken('{"answer": "1"}')
    first, last = objects[0], objects[-1]
    assert first["kind"] == "step"
    assert [c["id"] for c in first["choices"]]
    assert first["cautions_new"]
    assert first["stands"]
    assert first["reasons"]
    assert [e.event for e in events if e.event == "answered"] == ["answered"]
    assert (last["kind"], last["case"], last["closed"]) == ("ended", "CASE", False)


@pytest.mark.parametrize(
    ("line", "says"),
    [("{", "is not JSON"), ('{"reply": "1"}', "has no answer"), ("[1]", "has no answer"), ("true", "has no answer")],
)
def test_a_line_that_is_no_reply_is_told_and_the_question_stays(line: str, says: str) -> None:
    """Nothing is stored, the same question comes again, and what was said names the fault."""
    objects, events = spoken(line)
    assert objects[1]["step"] == objects[0]["step"]
    assert any(says in text for text in objects[1]["said"])
    assert events == []


@pytest.mark.parametrize("name", ["session-question", "session-ended"])
def test_every_object_fits_its_schema(name: str) -> None:
    """The schema beside the knowledge is what a front end is written against."""
    schema = json.loads((REAL / "schema" / f"{name}.schema.json").read_text(encoding="utf-8"))
    objects, _ = spoken("1", '{"answer": "why"}', "{")
    found = [o for o in objects if (o["kind"] == "ended") == (name == "session-ended")]
    assert found
    for value in found:
        Draft202012Validator(schema).validate(value)


def by_lines(scenario: Scenario) -> list[Event]:
    """A scenario played by a client that knows only the lines of JSON."""
    events: list[Event] = []
    script, asked = Script(scenario), [""]
    session = Session.going_on(real_knowledge(), Case((opening(real_knowledge(), scenario),)), lambda *new: events.extend(new))

    def read() -> str | None:
        value = {k: v for k, v in json.loads(asked[-1]).items() if k != "said"}
        try:
            return json.dumps({"answer": script.answer(Question.model_validate(value))})
        except EndOfInput:
            return None

    converse(session, asked.append, read, lambda: None)
    return events


def by_terminal(scenario: Scenario) -> list[Event]:
    events: list[Event] = []
    session = Session.going_on(real_knowledge(), Case((opening(real_knowledge(), scenario),)), lambda *new: events.extend(new))
    terminal = Terminal(output=io.StringIO(), blocks=False)
    play(terminal, Script(scenario), session)
    return events


@pytest.mark.parametrize("name", ["loader-splice", "harvester-wrong-first-guess"])
def test_both_clients_come_to_the_same_events(name: str) -> None:
    """The same answers, over lines and at the terminal, store the same events in the same order."""
    scenario = real_knowledge().retired.scenario(read_scenario(ROOT / "scenarios" / f"{name}.yaml"))
    events = by_lines(scenario)
    assert len(events) > len(scenario.answers)
    assert events == by_terminal(scenario)


def test_a_person_who_leaves_pauses_the_session() -> None:
    """The end of the input is no answer."""
    session = Session.going_on(small_knowledge(), Case((BEGUN,)), lambda event: None)
    play(Terminal(output=io.StringIO(), source=io.StringIO("")), Person(Terminal(source=io.StringIO(""))), session)
    assert session.paused


def test_the_command_speaks_only_json_on_its_output(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each line is an object, from the complaint on; what is said around it goes to standard error, and the case is kept."""
    monkeypatch.setattr("sys.stdin", io.StringIO('"motion-without-steering"\n'))
    code = run(["start", "--json-lines", "--knowledge", str(SMALL), "--data-dir", str(tmp_path)])
    output = capsys.readouterr()
    objects = [json.loads(line) for line in output.out.splitlines()]
    assert code == ExitCode.PAUSED
    assert [o["kind"] for o in objects] == ["complaint", "operator-words", "ended"]
    assert objects[-1]["case"] in output.err
    assert len(list(tmp_path.glob("*.jsonl"))) == 1
