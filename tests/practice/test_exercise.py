"""An exercise is a session like any other, answers as its machine, and says what each choice cost."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import pytest
from builders import small_knowledge, small_machine
from hypothesis import example, given, settings
from hypothesis import strategies as st

from advisor.commands.practice_talk import Practice, exercise, review
from advisor.consultation.actions import open_actions
from advisor.consultation.advice import advise
from advisor.consultation.steps import prepared, repair_step
from advisor.errors import ExitCode
from advisor.model.case import Answered, Case, Event, Repaired, fold
from advisor.model.field_case import FieldCase
from advisor.model.finding import NOT_LISTED, Step
from advisor.practice.exercise import hidden_machine as hidden
from advisor.practice.exercise import judge, proves_the_leader
from advisor.practice.field import begin
from advisor.practice.plant import FieldPlant, Plant, SimulatedPlant
from advisor.practice.policies import as_step
from advisor.practice.trial import Bench
from advisor.session.session import Session
from advisor.terminal.client import Person
from advisor.terminal.environment import Terminal

CAUSE = "sensor-coupling-loose"
FIELD = {
    "title": "Marsh buggy that swerves", "story": "Told for people.", "complaint": "motion-without-steering",
    "intake": {"occurrences": 4, "hours": 20}, "fault": {"cause": CAUSE, "says": "The clamp was never tightened."},
    "found": {"coupling-grip": "slips"}, "cannot": ["wiggle-harness"],
    "master": [{"check": "coupling-grip", "why": "it is quick"}, {"repair": CAUSE}],
}  # fmt: skip


@dataclass
class Played:
    """What came of an exercise."""

    shown: str
    code: ExitCode
    done: Practice | None
    plant: Plant


@cache
def bench() -> Bench:
    return Bench(small_knowledge(), small_machine())


def talked(*typed: str, width: int = 80, seed: int = 3) -> Played:
    """Types lines at an exercise on a simulated machine; the end of the lines is the end of input."""
    machine = hidden(bench(), seed, CAUSE)
    return ran(bench().consultation, Case((machine.opened(),)), SimulatedPlant(machine), *typed, width=width)


def played(*typed: str, width: int = 80, **changes: object) -> Played:
    """The same on the machine of a field case."""
    game = begin(small_knowledge(), FieldCase.model_validate({**FIELD, **changes}), None, 0)
    return ran(game.consultation, game.case, FieldPlant(game.machine), *typed, width=width)


def ran(consultation, case, plant: Plant, *typed: str, width: int) -> Played:  # type: ignore[no-untyped-def]
    output = io.StringIO()
    terminal = Terminal(output=output, source=io.StringIO("".join(f"{line}\n" for line in typed)), width=width, blocks=False)
    kept: list[Practice] = []

    def told(done: Practice) -> Iterator[str]:
        kept.append(done)
        yield f"You: {done.minutes:.0f} min."

    code = exercise(terminal, consultation, case, plant, told)
    return Played(output.getvalue(), code, kept[0] if kept else None, plant)


@pytest.mark.parametrize("seed", range(4))
def test_the_machine_comes_again_from_its_seed(seed: int) -> None:
    """The same seed hides the same fault, one that is on the list."""
    first, again = hidden(bench(), seed), hidden(bench(), seed)
    assert first == again
    assert first.hidden.cause != NOT_LISTED
    assert hidden(bench(), seed, CAUSE).hidden.cause == CAUSE


def test_nothing_is_advised_before_a_step_is_chosen() -> None:
    """The technician chooses; `why` names what the program would do, and `go` takes it over."""
    shown = talked("why", "pause").shown
    assert shown.index("your step> why") < shown.index("The program would do: ")
    assert "Do:" not in shown
    assert "Do:" in talked("go", "pause").shown


def test_cautions_stand_before_the_step_and_nothing_is_done_before_go() -> None:
    """Choosing a check shows its cautions, then its steps; its answer comes after go."""
    shown = talked("watch-wheel-against-reading").shown
    assert shown.index("CAUTION") < shown.index("Do:")
    assert "The machine:" not in shown
    assert "The machine:" in talked("watch-wheel-against-reading", "go").shown


def test_the_machine_answers_and_not_the_person() -> None:
    """A result that is typed is not taken."""
    shown = talked("coupling-grip", "slips", "go").shown
    assert "Not taken: the machine answers here, not you." in shown
    assert shown.index("Not taken") < shown.index("The machine:")


def test_a_wrong_repair_leaves_the_fault_and_the_right_one_ends_it() -> None:
    """After a repair in vain the fault comes back in the run; after the right one it stays away, and all is reviewed."""
    found = talked("repair sensor-internal", "go", "go", "go", f"repair {CAUSE}", "go", "go", "go", "close", "me", "")
    shown = found.shown
    assert found.code == ExitCode.OK
    assert found.plant.cured
    assert shown.index("The machine: 1 h") < shown.index("The machine: 40 h") < shown.index("What your choices cost")
    assert found.done is not None
    assert [j.kind for j in found.done.judged] == ["repair", "repair"]


def test_leaving_early_says_what_it_cost_so_far() -> None:
    """The review comes also where the fault is not found."""
    found = talked("coupling-grip", "go", "pause")
    assert found.code == ExitCode.PAUSED
    assert "1. " in found.shown.rsplit("What your choices cost", 1)[1]
    assert "The fault is not found yet." in found.shown


def test_a_load_test_shows_its_reading() -> None:
    """A load test is chosen by its run and answered in volts."""
    shown = talked("load-test supply-a controller sensor", "go", "pause").shown
    assert "V dropped" in shown


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("more", "no step is chosen yet"),
        ("skip", "no step is chosen yet"),
        ("sensor-internl-thing-xyz", "is no check"),
        ("terminal-drag nowhere", "no terminal 'nowhere'"),
        ("other 99", "there is no step 99"),
    ],
)
def test_what_cannot_be_is_refused_and_the_exercise_goes_on(typed: str, says: str) -> None:
    """Bad input says what is wrong; nothing is done by it."""
    shown = talked(typed, "coupling-grip", "go", "pause").shown
    assert says in " ".join(shown.split())
    assert "The machine:" in shown


@pytest.mark.parametrize("width", [40, 80])
def test_lines_keep_to_the_width(width: int) -> None:
    """No line is wider than the window, save what was typed."""
    shown = talked("coupling-grip", "go", "why", "show", "help", "pause", width=width).shown
    assert max(len(line) for line in shown.splitlines()) <= width


def test_a_field_case_is_played_by_its_own_answers() -> None:
    """The machine shows what the case says, skips what cannot be done, and the right repair is the one of the case."""
    found = played("coupling-grip", "go", "wiggle-harness", "go", f"repair {CAUSE}", "go", "pause")
    assert "The machine: It turns or rocks on the stem" in found.shown
    assert "skip why it cannot be done on this machine" in found.shown
    assert found.plant.cured
    assert found.done is not None
    assert [j.kind for j in found.done.judged] == ["check", "repair"]
    assert found.done.until_cure < found.done.minutes


def test_what_was_answered_stands_in_the_case_as_in_a_real_one() -> None:
    """The events are those of any case: an answer, a repair, and nothing is stored outside."""
    game = begin(small_knowledge(), FieldCase.model_validate(FIELD), None, 0)
    events: list[Event] = []
    session = Session.going_on(
        game.consultation.knowledge, game.case, lambda *new: events.extend(new), consultation=game.consultation, blind=True
    )
    terminal = Terminal(output=io.StringIO(), source=io.StringIO(f"coupling-grip\ngo\nrepair {CAUSE}\ngo\n"))
    practice = Practice(terminal, Person(terminal), FieldPlant(game.machine), session)
    from advisor.terminal.client import play

    play(terminal, practice, session)
    assert [e.result for e in events if isinstance(e, Answered)] == ["slips"]
    assert [e.cause for e in events if isinstance(e, Repaired)] == [CAUSE]
    review(terminal, practice, lambda done: iter(()))
    assert fold(session.room.case).repairs


@settings(max_examples=10, deadline=None)
@example(seed=17, picks=[258])
@given(st.integers(0, 50), st.lists(st.integers(0, 10_000), min_size=1, max_size=3))
def test_no_choice_costs_less_than_nothing_and_the_programs_own_costs_nothing(seed: int, picks: list[int]) -> None:
    """Any choice, check or repair, is judged at no less than the best; the program's own, and a proof of the first, at nothing."""
    job = bench().job(hidden(bench(), seed))
    for number in picks:
        s, advice = job.situation, advise(job.situation)
        listed = [i for i, suspect in enumerate(s.space.suspects) if suspect.cause != NOT_LISTED]
        repairs = [r for r in (repair_step(s, i, 0.0) for i in listed) if r is not None]
        choices = [as_step(s, a) for a in open_actions(s)] + repairs
        for choice in choices:
            if proves_the_leader(s, choice):
                assert judge(s, advice, choice).cost == 0
        step = choices[number % len(choices)]
        assert judge(s, advice, step).cost >= 0
        assert judge(s, advice, advice.next).cost == 0
        job.do(step)
        if job.cured:
            break


def test_what_tells_nothing_costs_its_minutes() -> None:
    """A check that says nothing of this complaint, or was done, is a loss of its time."""
    job = bench().job(hidden(bench(), 3, CAUSE))
    s = job.situation
    check = s.knowledge.checks["drift-engine-off"]
    done = Case((*job.case.events, Answered(check=check.id, result="holds")))
    s = bench().consultation.situation(done)
    step = prepared(s, Step("check", check.id, check.title, minutes=check.minutes))
    assert step.key not in advise(s).to_the_end
    assert judge(s, advise(s), step).cost == pytest.approx(step.minutes)
