"""A step fits the screen as far as it can, and nothing that warns is lost by it."""

from __future__ import annotations

import io
import re

import pytest
from folders import real_knowledge
from terminal.talk import talk

from advisor.consultation.consultation import Consultation
from advisor.model.case import Case, Opened
from advisor.model.machine import generic_machine
from advisor.session.said import Presented
from advisor.session.session import Session
from advisor.terminal import stage
from advisor.terminal.environment import Terminal


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def test_a_caution_told_in_full_is_named_after_that_and_can_be_read_again() -> None:
    """The step after tells it by its short name; the word cautions tells it in full."""
    knowledge = real_knowledge()
    said = flat(talk("other confirm-complaint", "back", "other confirm-complaint", "cautions", knowledge=knowledge).printed)
    caution = knowledge.cautions["hands-clear-steering"]
    first, named, again = said.partition("! In force: ")
    assert first.count(caution.says) == 1
    assert caution.name in again.split(".")[0]
    assert again.count(f"{caution.says} {caution.why}") == 1
    assert named


def test_a_long_step_names_what_the_step_before_told_and_more_tells_it_again() -> None:
    """Tools and the standing of the machine are told once; the next long step says that they stay, and the word more tells all."""
    knowledge = real_knowledge()
    said = talk("other visual-harness", "other coupling-stripe", "more", knowledge=knowledge, width=80).printed
    step, _, rest = flat(said.rsplit("Next: Paint line", 1)[1]).partition("answer> more")
    assert "Tools: as before." in step
    assert "Tools: Paint marker; Camera; Lamp." in rest


def test_a_step_that_fits_does_not_repeat_its_title() -> None:
    """On a screen that holds the whole step the title above the question is still to be read."""
    knowledge = real_knowledge()
    for name in ("onset", "coupling-grip", "open-splice-and-pull", "coupling-stripe", "confirm-complaint"):
        title = knowledge.checks[name].title
        said = talk(f"other {name}", "1", knowledge=knowledge, width=80).printed
        step = said[said.index(title) :].split("answer> ")[0]
        assert flat(step).count(title) == (2 if step.count("\n") + 1 > 24 else 1)


def test_work_told_a_few_steps_ago_is_counted_and_more_tells_it_again() -> None:
    """The second load test of a case needs no seven steps on the screen; its cautions stand all the same."""
    knowledge = real_knowledge()
    again = ("other load-test supply-a controller sensor", "11.84 11.52", "other load-test ground-a sensor controller", "more")
    said = talk(*again, knowledge=knowledge, width=80).printed
    first, step = said.split("11.84 11.52")[0], said.rsplit("ground-a sensor controller\n", 1)[1]
    short, rest = step.split("answer> more")
    doing = knowledge.checks["load-test"].steps[-1]
    assert doing in flat(first)
    assert doing not in flat(short)
    assert re.search(r"Do as before: \d+ steps \(more tells how\)", short)
    assert doing in flat(rest)
    assert "! In force: " in short


def test_work_in_which_a_slip_hurts_is_told_step_by_step_each_time() -> None:
    """Hands are at the hinge: the second time, too, each step stands on the screen."""
    knowledge = real_knowledge()
    check = knowledge.checks["hinge-run-look"]
    assert check.hurts
    said = talk("other hinge-run-look", "3", "other hinge-run-look", knowledge=knowledge, width=80).printed
    step = flat(said.rsplit("other hinge-run-look", 1)[1])
    assert all(text in step for text in check.steps)


def test_a_tool_has_its_short_name_once_it_was_told() -> None:
    """What the meter must be able to do is read once."""
    knowledge = real_knowledge()
    title = knowledge.tools["multimeter"].title
    said = flat(
        talk(
            "other load-test supply-a controller sensor", "11.84 11.52", "other onset", "other bus-pair-ohms", knowledge=knowledge
        ).printed
    )
    assert said.count(title) == 1
    assert "Digital multimeter; Meter" in said.rsplit("Next: Resistance", 1)[1]


def test_points_of_good_work_that_a_long_repair_leaves_out_are_told_by_more() -> None:
    """They are asked after it one by one, and can be read before."""
    knowledge = real_knowledge()
    name = next(n for n, c in knowledge.causes.items() if len(c.repair.steps) > 6 and len(c.repair.workmanship) > 2)
    said = talk(f"repair {name}", *([""] if knowledge.causes[name].place != "none" else []), "more", knowledge=knowledge).printed
    before, _, more = said.rpartition("answer> more")
    assert "points of good work are asked afterwards (more tells them)." in flat(before)
    assert knowledge.causes[name].repair.workmanship[0] in flat(more)


@pytest.mark.parametrize("width", [40, 80])
def test_no_caution_of_a_step_is_left_out(width: int) -> None:
    """However short a step is cut, each of its cautions stands on the screen: in full, or by its name where it was told."""
    knowledge = real_knowledge()
    case = Case((Opened(complaint="motion-without-steering", occurrences=6, hours=14),))
    session = Session.going_on(knowledge, case, lambda *new: None, consultation=Consultation(knowledge, generic_machine()))
    warned = 0
    for name in sorted(knowledge.checks)[::9]:
        for typed in (f"other {name}", "1"):
            for item in session.take():
                if isinstance(item, Presented):
                    terminal = Terminal(output=io.StringIO(), width=width, blocks=False)
                    stage.present(terminal, item)
                    shown = flat(terminal.output.getvalue())  # type: ignore[attr-defined]
                    assert all(f"{knowledge.cautions[c].says} {knowledge.cautions[c].why}" in shown for c in item.new)
                    assert all(knowledge.cautions[c].name in shown for c in item.standing)
                    warned += len(item.new) + len(item.standing)
            session.answer(typed)
    assert warned > 50


def test_a_caution_is_told_in_full_again_after_some_steps() -> None:
    """What was read some steps ago is not taken for known; a step that was only looked at is no time gone by."""
    knowledge = real_knowledge()
    caution = knowledge.cautions["hands-clear-steering"].says
    done = ["other onset", "1", "other at-position", "1", "other when", "1", "other consumers", "1", "other tried", "1"]
    said = flat(talk("other confirm-complaint", *done, "other confirm-complaint", knowledge=knowledge).printed)
    assert said.count(caution) == 2
    looked = flat(
        talk("other confirm-complaint", *["other onset", "back"] * 6, "other confirm-complaint", knowledge=knowledge).printed
    )
    assert looked.count(caution) == 1


@pytest.mark.parametrize("width", [40, 80])
def test_more_tells_what_a_short_screen_leaves_out(width: int) -> None:
    """The common mistakes of a long step wait for the word, and its title stands again at the question."""
    knowledge = real_knowledge()
    said = talk("other confirm-complaint", "more", knowledge=knowledge, width=width).printed
    said = said[said.index("See the complaint yourself") :]
    check = knowledge.checks["confirm-complaint"]
    step, _, rest = flat(said).partition("answer> more")
    assert check.mistakes[0] not in step
    assert step.count(check.title) == (2 if width < 80 else 1)  # at 80 columns the whole step fits
    assert f"more: {len(check.mistakes)} mistakes]" in step
    assert check.mistakes[0] in rest
    assert check.question in rest


def test_a_move_told_before_is_named_in_one_line_with_its_like() -> None:
    """A move stands in full once; the next time its title is enough, and more tells how."""
    knowledge = real_knowledge()
    how = knowledge.moves["block-machine"].steps[-1]
    said = talk("other wiggle-harness", "other rock-the-plugs sensor", knowledge=knowledge, width=400).printed
    assert said.count(how) == 1
    assert "; lower, brake and chock the machine; " in said.rsplit("First, as before: ", 1)[1].split("\n")[0]
    assert (
        talk("other wiggle-harness", "other rock-the-plugs sensor", "more", knowledge=knowledge, width=400).printed.count(how) == 2
    )


def test_the_work_stands_in_the_order_in_which_it_is_done() -> None:
    """The moves to a later part come after the steps of the part before it."""
    knowledge = real_knowledge()
    said = talk("other stripe-across", knowledge=knowledge, width=400).printed
    shown = said[said.index("Paint line across stem and coupling (") :]
    check = next(c for c in knowledge.checks.values() if c.title == "Paint line across stem and coupling")
    order = [shown.index(check.steps[0]), shown.index("Then: Take the chocks away"), shown.index(check.then[0].steps[0])]
    assert order == sorted(order)


def test_nothing_moved_is_one_line() -> None:
    """A ranking that stays as it was is not told again."""
    said = talk("other confirm-complaint", "seen", knowledge=real_knowledge()).printed
    assert "Nothing moved. First is still: " in said.rsplit("Likely causes", 1)[1].splitlines()[1]


def test_the_first_look_at_the_machine_fits_one_screen_with_every_caution_and_step() -> None:
    """Where lists would push its cautions off the screen, titles stand on the line of what follows, and nothing is left out."""
    knowledge = real_knowledge()
    printed = talk("other confirm-complaint", knowledge=knowledge, width=80).printed
    step = printed[printed.index("Next: See the complaint yourself") :]
    assert step.count("\n") + 1 <= 24
    check, said = knowledge.checks["confirm-complaint"], flat(step)
    assert all(text in said for part in check.sequence for text in part.steps)
    assert all(r.says in said for r in check.results)
    assert said.index("CAUTION") < said.index(check.steps[0]) < said.index(check.then[0].steps[0]) < said.index(check.question)


def test_a_step_of_a_move_that_comes_twice_in_one_paragraph_is_named_by_its_letter() -> None:
    """Everybody is away before the key, and once more before the engine: both stand there, and no number of another list."""
    printed = talk("other confirm-complaint", knowledge=real_knowledge(), width=80).printed
    said = flat(printed[printed.index("Next: See the complaint yourself") :])
    assert "Then: (a) Check that everybody is away from wheels, hinge and linkage. (b) Turn the key on." in said
    assert "(c) Do (a) again. (d) Look that the park brake is on" in said


def test_a_question_stands_on_one_page_with_its_answers() -> None:
    """On a small window the page ends before the question and not between it and what can be answered."""
    knowledge = real_knowledge()
    case = Case((Opened(complaint="motion-without-steering", occurrences=6, hours=14),))
    session = Session.going_on(knowledge, case, lambda *new: None, consultation=Consultation(knowledge, generic_machine()))
    for name in sorted(knowledge.checks)[::9]:
        session.answer(f"other {name}")
        for item in session.take():
            if isinstance(item, Presented) and item.step.circuit is None:
                terminal = Terminal(output=io.StringIO(), source=io.StringIO("\n" * 40), width=40, blocks=False, page=30)
                stage.present(terminal, item)
                last = flat(terminal.output.getvalue().rsplit("Enter goes on>", 1)[-1])  # type: ignore[attr-defined]
                check = knowledge.checks[item.step.id]
                assert check.question in last
        session.answer("back")


def test_a_question_to_the_operator_is_not_told_twice() -> None:
    """Its title says the same in other words: below many cautions the question alone stands there."""
    knowledge = real_knowledge()
    opened = Opened(complaint="position-erratic", intake={"water": ("after-washing",), "recent-work": ("harness-repair",)})
    said = talk("other direction", opened=opened, knowledge=knowledge, width=40).printed
    title = knowledge.checks["direction"].title
    assert said.split("answer> other direction")[1].count(title) == 1
