"""Where it reacted and on which side: asked after the result, kept, shown, and never forced."""

from __future__ import annotations

import io
import json
from typing import Any

from builders import MORNING, small_knowledge
from terminal.talk import Talk, talk

from advisor.consultation.consultation import Consultation
from advisor.model.case import Answered, Case, Corrected, Event, Opened, fold
from advisor.model.finding import Step
from advisor.model.knowledge import Knowledge
from advisor.model.machine import generic_machine
from advisor.model.scenario import Scenario
from advisor.record.material import gather
from advisor.session.conversation import Conversation
from advisor.session.lines import converse
from advisor.session.script import Script
from advisor.session.session import Session
from advisor.terminal.client import play
from advisor.terminal.environment import Terminal

BEGUN = Opened(complaint="motion-without-steering", occurrences=6, hours=14)


def asking() -> Knowledge:
    """The small knowledge, whose harness check asks where and whose grip check asks the side."""
    small = small_knowledge()
    moved = small.checks["wiggle-harness"].model_copy(update={"where": "anywhere"})
    drift = small.checks["coupling-grip"].model_copy(update={"sides": True})
    return small.model_copy(update={"checks": {**small.checks, moved.id: moved, drift.id: drift}})


def said(*typed: str, **keys: Any) -> Talk:
    return talk(*typed, knowledge=asking(), **keys)


def answered(told: Talk) -> Answered:
    return next(e for e in told.stored if isinstance(e, Answered))


def test_where_it_reacted_is_asked_by_the_machines_own_words() -> None:
    """The plugs, runs and splices of the layout are offered, and the answer is kept and shown."""
    told = said("other wiggle-harness", "jumps", "splice-1", "show", width=120)
    assert answered(told).where == "splice-1"
    assert "sensor plug" in told.printed
    assert "It jumps at one spot (splice-1, supply A and B)" in told.printed.rsplit("Done so far", 1)[1]


def test_a_single_cavity_can_be_named_too() -> None:
    """Whoever knows more than the plug types the place as the layout has it."""
    assert answered(said("other wiggle-harness", "jumps", "sensor:3")).where == "sensor:3"


def test_nobody_has_to_know_where() -> None:
    """Enter alone and the words both stand for not sure; the answer counts all the same."""
    for typed in ("", "not sure"):
        found = answered(said("other wiggle-harness", "jumps", typed))
        assert found == Answered(check="wiggle-harness", result="jumps-at-one-spot")


def test_where_is_not_asked_of_what_stayed_quiet() -> None:
    """A normal result has no place."""
    told = said("other wiggle-harness", "quiet", "show")
    assert answered(told).where is None
    assert "Where on the harness" not in told.printed


def test_the_side_is_asked_where_it_tells() -> None:
    """Left, right or both, kept with the answer."""
    told = said("other coupling-grip", "1", "left", "show")
    assert answered(told).side == "left"
    assert "(left)" in told.printed.rsplit("Done so far", 1)[1]


def test_a_place_that_is_not_there_is_refused_and_asked_again() -> None:
    """The harness of this machine is what counts."""
    told = said("other wiggle-harness", "jumps", "roof", "sensor plug")
    assert "Not taken: 'roof' is not one of the answers." in told.printed
    assert answered(told).where == "sensor"


def test_back_at_the_place_takes_the_result_back() -> None:
    """Nothing is stored before the place was answered."""
    told = said("other wiggle-harness", "jumps", "back", "quiet")
    assert answered(told).result == "quiet"


def test_a_corrected_answer_asks_where_again() -> None:
    """A correction that reacts has a place of its own."""
    told = said("other wiggle-harness", "quiet", "correct wiggle-harness = jumps", "sensor plug")
    corrected = next(e for e in told.stored if isinstance(e, Corrected))
    assert isinstance(corrected.by, Answered)
    assert (corrected.by.result, corrected.by.where) == ("jumps-at-one-spot", "sensor")


def test_a_file_of_answers_names_place_and_side() -> None:
    """The keys `where` and `side` of a line answer the two questions."""
    lines: list[dict[str, Any]] = [
        {"check": "wiggle-harness", "result": "jumps-at-one-spot", "where": "bulkhead"},
        {"check": "coupling-grip", "result": "slips", "side": "both"},
    ]
    told = Scenario.model_validate({"title": "Told", "complaint": BEGUN.complaint, "answers": lines})
    events: list[Event] = []
    session = Session.going_on(asking(), Case((BEGUN,)), lambda *new: events.extend(new))
    play(Terminal(output=io.StringIO()), Script(told), session)
    found = [e for e in events if isinstance(e, Answered)]
    assert [(a.where, a.side) for a in found] == [("bulkhead", None), (None, "both")]


def test_the_place_moves_the_ranking() -> None:
    """A reaction at the splice puts the splice first among the places of its cause."""
    consultation = Consultation(asking(), generic_machine())

    def splice(where: str | None) -> float:
        case = Case((BEGUN, Answered(check="wiggle-harness", result="jumps-at-one-spot", where=where)))
        return consultation.situation(case).ranking.of("high-resistance-splice", "splice-1")

    assert splice("splice-1") > 2 * splice(None) > 2 * splice("sensor")


def test_the_record_says_where() -> None:
    """What came back stands with its place."""
    consultation = Consultation(asking(), generic_machine())
    case = Case((BEGUN, Answered(check="wiggle-harness", result="jumps-at-one-spot", where="bulkhead..sensor")))
    told = case.events[1]
    assert isinstance(told, Answered)
    assert gather(consultation, case, MORNING).said(told) == "It jumps at one spot (run from bulkhead to sensor)"


def together(*typed: str) -> list[Answered]:
    """The cavities of one plug looked at in one step."""
    knowledge = small_knowledge()
    drag = knowledge.checks["terminal-drag"].model_copy(update={"together": 1.0})
    knowledge = knowledge.model_copy(update={"checks": {**knowledge.checks, drag.id: drag}})
    events: list[Event] = []
    session = Session.going_on(knowledge, Case((BEGUN,)), lambda *new: events.extend(new))
    _ = session.question
    talk_of = session.conversation
    assert isinstance(talk_of, Conversation)
    step = Step("check", "terminal-drag", drag.title, places=("sensor:1", "sensor:2", "sensor:3"), minutes=7.0)
    talk_of.chosen = step
    session.answer("note begun")
    for text in typed:
        session.answer(text)
    return list(fold(session.room.case).answers.values())


def test_a_plug_without_a_fault_is_one_answer() -> None:
    """All cavities are written down as normal at once."""
    assert [(a.place, a.result) for a in together("drags")] == [(f"sensor:{n}", "drags") for n in (1, 2, 3)]


def test_of_a_plug_the_bad_cavity_is_named() -> None:
    """The others are normal."""
    found = together("1", "2")
    assert [a.place for a in found if a.result == "loose"] == ["sensor:2"]
    assert len(found) == 3


def test_a_front_end_gets_the_places_as_choices() -> None:
    """Over lines of JSON the question after the result has its own kind, its choices by id, and may stay open."""
    out: list[str] = []
    left = ['"other wiggle-harness"', '"jumps-at-one-spot"', '{"answer": "splice-1"}']
    session = Session.going_on(asking(), Case((BEGUN,)), lambda *new: None)
    converse(session, out.append, lambda: left.pop(0) if left else None, lambda: "CASE")
    asked = next(o for o in map(json.loads, out) if o["kind"] == "where")
    assert {"sensor", "bulkhead..sensor", "splice-1", "not-sure"} <= {c["id"] for c in asked["choices"]}
    assert asked["optional"]
    assert [a.where for a in fold(session.room.case).answers.values()] == ["splice-1"]
