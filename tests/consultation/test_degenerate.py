"""Where nothing is left to choose, or everything contradicts: a sensible step and a sensible sentence all the same."""

from __future__ import annotations

import io
from functools import cache

import pytest
from builders import small_machine
from worlds import cause, check, knowledge

from advisor.commands.shared import knowledge_folder
from advisor.consultation.consultation import Consultation
from advisor.library.parser import load
from advisor.model.case import Answered, Case, Event, Opened, Skipped
from advisor.model.finding import Assessment, Step
from advisor.model.knowledge import Knowledge
from advisor.model.rule import Rule
from advisor.terminal import reasons
from advisor.terminal.environment import Terminal

SPLIT = {"one": {"bad": "very-likely"}, "other": {"bad": "very-unlikely"}, "otherwise": {"bad": "unlikely"}}


def assessed(made: Knowledge, *events: Event) -> Assessment:
    return Consultation(made, small_machine()).assess(Case((Opened(complaint="odd-reading"), *events)))


def step_of(made: Knowledge, *events: Event) -> Step:
    found = assessed(made, *events).next
    assert found is not None
    assert found.title
    assert all(found.reason)
    return found


def two(*checks: object) -> Knowledge:
    return knowledge([cause("one", proof={"look": "bad"}), cause("other", proof={"look": "bad"})], list(checks))


def test_with_all_suspects_alike_the_step_is_the_check_that_parts_them() -> None:
    """Nothing is known yet, so what tells them apart comes first."""
    step = step_of(two(check("look", SPLIT)))
    assert (step.kind, step.id) == ("check", "look")


def test_with_one_suspect_it_is_proven_and_then_repaired() -> None:
    """No other check is asked for."""
    looks = check("look", {"one": {"bad": "almost-certain"}, "otherwise": {"bad": "almost-no-chance"}})
    made = knowledge([cause("one")], [looks])
    assert step_of(made).id == "look"
    step = step_of(made, Answered(check="look", result="bad"))
    assert (step.kind, step.id) == ("repair", "one")


def test_when_no_check_is_left_the_likeliest_is_repaired_or_help_is_asked_for() -> None:
    """With its proof left out, one suspect that leads clearly is repaired on suspicion; the sentence says that none proves it."""
    step = step_of(knowledge([cause("one")], [check("look", SPLIT | {"other": {}})]), Skipped(check="look"))
    assert step.kind == "repair"
    assert "No check here can prove it before the repair." in step.reason[0]


def test_a_check_that_no_suspect_changes_is_not_preferred() -> None:
    """It says nothing, so the check that says something comes first though it takes longer."""
    blind = check("blind", {"otherwise": {"bad": "roughly-even"}}, minutes=1)
    assert step_of(two(blind, check("look", SPLIT, minutes=9))).id == "look"


def test_a_check_of_no_minutes_comes_before_one_that_takes_some() -> None:
    """Of two that tell the same, the free one."""
    looks = check("look", SPLIT, minutes=6)
    glance = check("a-glance", SPLIT, minutes=0)
    takes_long = check("takes-long", {"one": {"bad": "almost-certain"}, "otherwise": {"bad": "almost-no-chance"}}, minutes=60)
    causes = [cause(name, proof={"takes-long": "bad"}, retest="takes-long") for name in ("one", "other")]
    assert step_of(knowledge(causes, [looks, glance, takes_long])).id == "a-glance"


def test_contradictory_answers_leave_every_share_a_number_and_say_that_nothing_fits() -> None:
    """Each cause is all but excluded by a check of its own: what is not on the list leads, and the message says so."""
    names = ["one", "other", "third"]
    against = [check(f"look-{n}", {n: {"bad": "almost-certain"}, "otherwise": {"bad": "almost-no-chance"}}) for n in names] + [
        check("look", {n: {"bad": "almost-no-chance"} for n in names} | {"otherwise": {"bad": "roughly-even"}})
    ]
    made = knowledge([cause(n, proof={f"look-{n}": "bad"}, retest=f"look-{n}") for n in names], against)
    answers = [Answered(check=f"look-{n}", result="good") for n in names] + [Answered(check="look", result="bad")]
    found = assessed(made, *answers)
    assert sum(s for _, _, s in found.suspects) >= 0.999
    assert all(s >= 0 for _, _, s in found.suspects)
    assert found.leading.cause == "not-listed"
    assert any("No cause on the list" in m for m in found.messages)
    assert found.next is not None
    assert (found.next.kind, found.next.title) == ("done", "Ask for help with this record in hand")


@cache
def full() -> Consultation:
    return Consultation(load(knowledge_folder(None)))


@pytest.mark.parametrize("complaint", ["position-erratic", "hunting", "message-missing"])
def test_with_every_check_left_out_there_is_still_a_step(complaint: str) -> None:
    """Whoever can do nothing here is told so, or told what is repaired on suspicion; the screen can say why."""
    case = Case((Opened(complaint=complaint), *(Skipped(check=name) for name in full().knowledge.checks)))
    found = full().assess(case)
    assert found.next is not None
    assert found.next.kind in ("repair", "done")
    output = io.StringIO()
    reasons.why_all(Terminal(output=output, source=io.StringIO(), width=40, blocks=False), found.next, found, full().knowledge)
    assert max(len(line) for line in output.getvalue().splitlines()) <= 40


def test_with_everything_on_hold_the_holds_are_named() -> None:
    """Where rules hold what is left, the step says what it waits for."""
    waits = {
        "id": "look-first", "when": [{"complaint": "odd-reading"}, {"not": {"answer": "look", "is": "bad"}}],
        "then": [{"hold": {"stage": "look", "until": "the wheel was watched"}}, {"hold": {"cause": "one", "until": "it was seen"}}],
        "because": "Made up.", "source": "from-memory",
    }  # fmt: skip
    made = knowledge([cause("one")], [check("look", {"one": {"bad": "very-likely"}, "otherwise": {"bad": "unlikely"}})])
    step = step_of(made.model_copy(update={"rules": {"look-first": Rule.model_validate(waits)}}))
    assert step.kind == "done"
    assert "the wheel was watched" in step.reason[0]
