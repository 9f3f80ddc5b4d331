"""Without a machine file one of four generic layouts stands in, chosen by two questions and exchanged by a word."""

from __future__ import annotations

import io
from typing import Any

import pytest
from builders import small_knowledge

from advisor.consultation.again import first_unfit
from advisor.consultation.intake_told import machine_of
from advisor.consultation.scenario import opening, replay
from advisor.errors import InputError
from advisor.model.case import EVENT, Case, Event, Opened, Told, fold
from advisor.model.machine import GENERIC_LAYOUTS, generic_machine, layout_of
from advisor.model.scenario import Scenario
from advisor.session.script import Script
from advisor.session.session import Session
from advisor.terminal.client import Echoed, Person, play
from advisor.terminal.environment import Terminal


def begun(*typed: str, width: int = 80) -> tuple[str, list[Event], Session]:
    """A case without a machine file whose intake is passed over up to the wiring, and what is typed from there."""
    output, stored = io.StringIO(), list[Event]()
    opened = Opened(complaint="reads-low", asks=True)
    told = [Told(question=q) for q in ("codes", *small_knowledge().intake, "occurrences", "hours")]
    lines = "".join(f"{line}\n" for line in typed)
    terminal = Terminal(output=output, source=io.StringIO(lines), width=width, blocks=False)
    session = Session.going_on(small_knowledge(), Case((opened, *told)), lambda *new: stored.extend(new))
    play(terminal, Person(terminal), session)
    return output.getvalue(), stored, session


def machine_told(session: Session) -> str:
    opened = fold(session.room.case).opened
    assert opened is not None
    return layout_of(machine_of(opened))


@pytest.mark.parametrize(
    ("typed", "layout"),
    [
        (("1", "1"), "two tracks, one shared supply"),
        (("1", "2"), "two tracks, one shared ground"),
        (("2",), "one track"),
        (("3",), "sensor on the bus"),
        (("",), "two tracks, one shared supply"),
    ],
)
def test_two_questions_choose_among_four_layouts(typed: tuple[str, ...], layout: str) -> None:
    """The second question comes only for two tracks, and Enter alone keeps the layout that always stood in."""
    printed, stored, session = begun(*typed)
    assert machine_told(session) == layout
    assert f"Layout: {layout}." in printed
    assert isinstance(stored[0], Told)
    assert stored[0].question == "layout"
    assert ("Which wire at the controller do both tracks share?" in printed) is (typed[0] == "1")


def test_an_answer_before_a_layout_was_asked_keeps_the_first_layout() -> None:
    """A case of an older version that was worked on is not asked for its wiring when it goes on."""
    told = [Told(question=q) for q in ("codes", *small_knowledge().intake, "occurrences", "hours")]
    line: dict[str, Any] = {"event": "answered", "check": "drift-engine-off", "result": "holds"}
    case = Case((Opened(complaint="reads-low", asks=True), *told, EVENT.validate_python(line)))
    session = Session.going_on(small_knowledge(), case, lambda *new: None)
    assert session.question is not None
    assert session.question.kind == "step"


def test_the_layout_is_named_wherever_its_names_are_shown() -> None:
    """A step at a cavity says which wire it carries and whose names these are, and so does the harness."""
    printed, _, _ = begun("1", "2", "other terminal-drag sensor:5", "show")
    assert "(sensor:5, ground A)" in printed
    assert "Names are those of the generic layout (two tracks, one shared ground)." in printed
    assert "Generic layout: two tracks, one shared ground." in printed


def test_the_word_layout_exchanges_it_and_weighs_everything_anew() -> None:
    """The new layout stands from then on, also for who reads the case later."""
    _, stored, session = begun("2", "layout", "3")
    assert [e.words for e in stored if isinstance(e, Told)] == [("one-track",), ("bus-sensor",)]
    assert machine_told(session) == "sensor on the bus"
    assert session.conversation is not None
    assert "bus-high" in session.conversation.consultation.machine.circuits
    assert first_unfit(small_knowledge(), session.room.case) is None


def test_a_case_with_a_machine_file_keeps_it() -> None:
    """The word layout is for cases without a file only."""
    whole = generic_machine().model_copy(update={"generic": False})
    opened = Opened(complaint="reads-low", machine=whole.model_dump(mode="json", by_alias=True, exclude_none=True))
    output = io.StringIO()
    terminal = Terminal(output=output, source=io.StringIO("layout\n"), width=80, blocks=False)
    play(terminal, Person(terminal), Session.going_on(small_knowledge(), Case((opened,)), lambda *new: None))
    assert "this case has a machine file of its own" in output.getvalue()


@pytest.mark.parametrize("name", GENERIC_LAYOUTS)
def test_a_scenario_without_a_machine_names_its_layout(name: str) -> None:
    """The replay and the dialogue answer the same two questions."""
    scenario = Scenario(title="Wiring (invented)", layout=name, complaint="reads-low")
    assert replay(small_knowledge(), scenario).consultation.machine == generic_machine(name)
    output, stored = io.StringIO(), list[Event]()
    terminal = Terminal(output=output, source=io.StringIO(""), width=80, blocks=False)
    session = Session.going_on(
        small_knowledge(), Case((Opened(complaint="reads-low", asks=True),)), lambda *new: stored.extend(new)
    )
    play(terminal, Echoed(terminal, Script(scenario)), session)
    assert machine_told(session) == GENERIC_LAYOUTS[name]  # type: ignore[index]


def test_a_layout_that_is_none_is_refused_by_its_name() -> None:
    """The nearest name is offered."""
    scenario = Scenario(title="Wiring (invented)", layout="one-trak", complaint="reads-low")
    with pytest.raises(InputError, match="no generic layout 'one-trak'") as refused:
        machine_of(opening(small_knowledge(), scenario))
    assert "one-track" in refused.value.hint


@pytest.mark.parametrize("name", GENERIC_LAYOUTS)
def test_every_generic_layout_has_supply_and_ground_that_can_be_tested(name: str) -> None:
    """Each is a whole machine: sections from controller to sensor, a word for each cavity, the facts of its kind."""
    machine = generic_machine(name)
    assert {"supply-a", "ground-a"} <= set(machine.circuits)
    assert machine.section("ground-a", "controller", "sensor") is not None
    terminals = [e.name for e in machine.elements.values() if e.kind == "terminal"]
    assert all(", " in machine.told(t) for t in terminals)
    facts = machine.facts()
    assert ("shared-supply" in facts) is (name == "two-tracks-shared-supply")
    assert ("shared-splice" in facts) is name.startswith("two-tracks")
    assert ("bus-sensor" in facts) is (name == "bus-sensor")
