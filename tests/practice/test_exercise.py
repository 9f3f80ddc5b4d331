"""An exercise answers as its machine, shows cautions before each step, and says what each choice cost."""

from __future__ import annotations

import io
from functools import cache

import pytest
from builders import small_knowledge, small_machine
from hypothesis import example, given, settings
from hypothesis import strategies as st

from advisor.commands.practice_talk import PracticeTalk
from advisor.consultation.actions import open_actions
from advisor.consultation.consultation import Consultation
from advisor.errors import ExitCode
from advisor.model.finding import NOT_LISTED
from advisor.practice.exercise import Exercise, begin
from advisor.practice.policies import as_step
from advisor.practice.trial import Bench
from advisor.terminal.client import Person
from advisor.terminal.environment import Terminal

CAUSE = "sensor-coupling-loose"


@cache
def bench() -> Bench:
    return Bench(small_knowledge(), small_machine())


def talked(*typed: str, width: int = 80, cause: str | None = CAUSE, seed: int = 3) -> tuple[Exercise, str, ExitCode]:
    """Types lines at an exercise; the end of the lines is the end of input."""
    output = io.StringIO()
    terminal = Terminal(output=output, source=io.StringIO("".join(f"{line}\n" for line in typed)), width=width, blocks=False)
    exercise = begin(bench(), seed, cause)
    code = PracticeTalk(terminal, Person(terminal), exercise, Consultation(small_knowledge(), small_machine())).run()
    return exercise, output.getvalue(), code


@pytest.mark.parametrize("seed", range(4))
def test_the_machine_comes_again_from_its_seed(seed: int) -> None:
    """The same seed hides the same fault, one that is on the list."""
    first, again = begin(bench(), seed), begin(bench(), seed)
    assert first.job.machine == again.job.machine
    assert first.hidden.cause != NOT_LISTED
    assert begin(bench(), seed, CAUSE).hidden.cause == CAUSE


def test_cautions_stand_before_the_step_and_nothing_is_done_before_go() -> None:
    """Choosing a check shows its cautions, then its steps; its answer comes after go."""
    exercise, shown, _ = talked("watch-wheel-against-reading")
    assert shown.index("CAUTION") < shown.index("Do:")
    assert not exercise.job.done
    exercise, shown, _ = talked("watch-wheel-against-reading", "go")
    assert [d.key[0] for d in exercise.job.done] == ["watch-wheel-against-reading"]
    assert "min so far" in shown


def test_a_wrong_repair_leaves_the_fault_and_the_right_one_ends_the_exercise() -> None:
    """After the right repair each choice is reviewed, and both totals are named."""
    _, shown, code = talked("repair sensor-internal", "go", f"repair {CAUSE}", "go")
    assert code == ExitCode.OK
    assert shown.index("still there") < shown.index("the fault is gone") < shown.index("What your choices cost")
    assert "You: " in shown
    assert "The program, on the same machine: " in shown


def test_numbers_choose_from_the_list_shown_last() -> None:
    """A number stands for a system, then for one of its checks; the program's own choice can be taken over."""
    exercise, _, code = talked("4", "1", "go", "why", "1", "go")
    assert len(exercise.job.done) == 2
    assert code == ExitCode.PAUSED


def test_a_load_test_shows_its_reading() -> None:
    """A load test is chosen by its run and answered in volts."""
    exercise, shown, _ = talked("load-test supply-a controller sensor", "go", "show")
    assert exercise.job.done[0].kind == "reading"
    assert "V dropped" in shown


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("go", "no step is chosen yet"),
        ("sensor-internl", "no check 'sensor-internl'"),
        ("repair sensor-internl", "no cause 'sensor-internl'"),
        ("terminal-drag nowhere", "no terminal 'nowhere'"),
        ("99", "there is no answer 99"),
        ("load-test supply-a bulkhead", "is no run of this layout"),
    ],
)
def test_what_cannot_be_is_refused_and_the_exercise_goes_on(typed: str, says: str) -> None:
    """Bad input says what is wrong; nothing is done by it."""
    exercise, shown, _ = talked(typed, "coupling-grip", "go")
    assert says in " ".join(shown.split())
    assert len(exercise.job.done) == 1


@pytest.mark.parametrize("width", [40, 80])
def test_lines_keep_to_the_width(width: int) -> None:
    """No line is wider than the window, save what was typed."""
    _, shown, _ = talked("other", "coupling-grip", "go", "why", "show", "help", "repair", "pause", width=width)
    assert max(len(line) for line in shown.splitlines()) <= width


@settings(max_examples=15, deadline=None)
@example(seed=17, picks=[258])
@given(st.integers(0, 50), st.lists(st.integers(0, 10_000), min_size=1, max_size=4))
def test_no_choice_costs_less_than_nothing_and_the_programs_own_costs_nothing(seed: int, picks: list[int]) -> None:
    """Any choice, check or repair, is judged at no less than the best; the program's own at no more."""
    exercise = begin(bench(), seed)
    for number in picks:
        s = exercise.situation
        listed = [i for i, suspect in enumerate(s.space.suspects) if suspect.cause != NOT_LISTED]
        choices = [as_step(s, a) for a in open_actions(s)] + [exercise.repair_step(i) for i in listed]
        exercise.do(choices[number % len(choices)])
        if exercise.job.cured:
            break
    assert all(j.cost >= 0 for j in exercise.judged)
    if not exercise.job.cured:
        exercise.do(exercise.advised().next)
        assert exercise.judged[-1].cost == pytest.approx(0, abs=1e-6)
