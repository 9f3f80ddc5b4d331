"""The operator's own words in the dialogue: each fact in them is confirmed or struck, and the words are kept."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from builders import MORNING, small_knowledge
from folders import real_knowledge

from advisor.cli import run
from advisor.consultation.again import first_unfit
from advisor.consultation.consultation import Consultation
from advisor.errors import ExitCode
from advisor.model.case import OPERATOR_WORDS, Answered, Case, Event, Opened, State, Told, fold
from advisor.model.knowledge import Knowledge
from advisor.record.material import gather
from advisor.record.outcome import outcome
from advisor.session.session import Session
from advisor.terminal.client import Person, play
from advisor.terminal.environment import Terminal

BEGUN = Opened(complaint="position-erratic", asks=True)
SAID = "It is bad on cold mornings, only at full left. They put a new snesor in, no help. Nobody washed it."
REST = [""] * 10  # no code, and nothing known of what the words did not answer


def told(
    *typed: str, before: tuple[Event, ...] = (BEGUN,), width: int = 80, knowledge: Knowledge | None = None
) -> tuple[tuple[Event, ...], str]:
    """The events of an intake into which these lines were typed, and what was printed."""
    output = io.StringIO()
    terminal = Terminal(output=output, source=io.StringIO("".join(f"{line}\n" for line in typed)), blocks=False, width=width)
    events = list(before)
    session = Session.going_on(knowledge or real_knowledge(), Case(before), lambda *new: events.extend(new))
    play(terminal, Person(terminal), session)
    return tuple(events), output.getvalue()


def state(events: tuple[Event, ...]) -> State:
    return fold(Case(events))


def answers(events: tuple[Event, ...]) -> dict[str, tuple[str, ...]]:
    return {a.check: (a.result, *a.also) for a in state(events).answers.values()}


def test_what_is_confirmed_becomes_an_ordinary_answer_and_what_is_struck_does_not() -> None:
    """An answer to the intake is no longer asked, one to the operator stands in the case, one that was struck is nowhere."""
    events, printed = told(SAID, "y", "n", "y", "y", *REST)
    opened = state(events).opened
    assert opened is not None
    assert opened.intake["temperature"] == ("cold",)
    assert answers(events) == {"tried": ("sensor-replaced",), "stayed-good": ("not-at-all",)}
    assert "Is the fault worse hot or cold?" not in printed
    assert 'of 4: "new snesor"' in printed


def test_nothing_is_taken_in_silence() -> None:
    """Enter, a number too many and another word are no yes: the fact is asked again, and nothing is stored."""
    events, printed = told(SAID, "", "7", "maybe", "skip")
    assert [e.question for e in events if isinstance(e, Told)] == [OPERATOR_WORDS]
    assert printed.count("Not taken:") == 4


def test_the_words_are_kept_as_they_were_typed_and_stand_in_the_record() -> None:
    """Page one shows them as a quotation; a case without words has none."""
    small = small_knowledge()
    for typed in (SAID, ""):
        opened = Opened(complaint="motion-without-steering", asks=True)
        events, _ = told(typed, *REST, before=(opened,), knowledge=small)
        assert outcome(gather(Consultation(small), Case(events), MORNING)).operator_words == typed


def test_enter_alone_asks_nothing_more_of_the_words() -> None:
    """Who has nothing to type comes to the codes at once."""
    _, printed = told("")
    assert "found in these words" not in printed
    assert "code>" not in printed.split("words>")[0]


def test_words_without_a_fact_are_kept() -> None:
    """They stand in the record, and the program says that it found nothing."""
    events, printed = told("He is off home now.", *REST)
    assert state(events).opened.operator_words == "He is off home now."  # type: ignore[union-attr]
    assert "No answer was found in these words" in printed


def test_a_fault_code_typed_where_words_are_asked_is_a_code() -> None:
    """Nobody types a code in vain."""
    events, printed = told("522990/10", *REST)
    opened = state(events).opened
    assert opened is not None
    assert (opened.codes, opened.operator_words) == (("522990/10",), "")
    assert "Taken as a fault code" in printed


def test_a_note_is_a_note_at_the_words_too() -> None:
    """Another sentence may begin with any word of the prompts."""
    events, _ = told("note the lock bar is bent", "Back in May it was fine.", *REST)
    assert state(events).notes == ("the lock bar is bent",)
    assert state(events).opened.operator_words == "Back in May it was fine."  # type: ignore[union-attr]


def test_back_asks_the_fact_before_again_and_what_was_taken_can_be_struck() -> None:
    """From the first fact it leads to the words themselves."""
    events, _ = told(SAID, "y", "back", "n", "n", "y", "y", *REST)
    assert "temperature" not in state(events).opened.intake  # type: ignore[union-attr]
    again, printed = told(SAID, "back", "He said nothing.", *REST)
    assert state(again).opened.operator_words == "He said nothing."  # type: ignore[union-attr]
    assert printed.count("What did the operator say?") == 2


def test_enter_after_back_keeps_what_was_told_before() -> None:
    """Of words, codes, conditions and counts; skip takes it out, and another answer takes its place."""
    first = ("He said little.", "1208/3", "", "1", "1", "2")  # words, code, no more, behaviour, temperature, water
    events, printed = told(*first, *["back"] * 4, *[""] * 4)
    opened = state(events).opened
    assert opened is not None
    assert (opened.operator_words, opened.codes) == ("He said little.", ("1208/3",))
    kept = [opened.intake[q] for q in ("behaviour", "temperature", "weather")]
    assert kept == [("comes-and-goes",), ("hot",), ("after-washing",)]
    assert printed.count("Kept as it was.") == 4
    assert "Told so far: Worse hot or after some hours. Enter alone keeps it; skip takes it out." in " ".join(printed.split())
    other, _ = told(*first, "back", "back", "skip", "1")
    changed = state(other).opened
    assert changed is not None
    assert "temperature" not in changed.intake or not changed.intake["temperature"]
    assert changed.intake["weather"] == ("wet",)


def test_back_at_the_words_asks_the_complaint_again() -> None:
    """A wrong number at the very first question is put right at once; Enter alone keeps the complaint."""
    events, printed = told("back", "position stuck", "back", "", "He said little.", *REST)
    assert "Told so far: Position reading jumps. Enter alone keeps it" in " ".join(printed.split())
    opened = state(events).opened
    assert opened is not None
    assert (opened.complaint, opened.operator_words) == ("position-stuck", "He said little.")


def test_back_from_the_first_fact_and_enter_keeps_the_words() -> None:
    """The facts are asked again, and nothing was thrown away."""
    events, _ = told(SAID, "back", "", "y", "y", "y", "y", *REST)
    assert state(events).opened.operator_words == SAID  # type: ignore[union-attr]
    assert state(events).opened.intake["temperature"] == ("cold",)  # type: ignore[union-attr]


@pytest.mark.parametrize("typed", ["y", "no", "yes"])
def test_yes_and_no_are_not_what_the_operator_said(typed: str) -> None:
    """A key that was meant for the question before does not stand in the record as the complaint."""
    events, printed = told(typed, "It jumps.", *REST)
    assert f"Not taken: '{typed}' says nothing of the fault." in printed
    assert state(events).opened.operator_words == "It jumps."  # type: ignore[union-attr]


def test_a_pause_after_the_words_loses_none_of_their_facts() -> None:
    """Gone on with, the same words are looked through, and are not asked again."""
    paused, _ = told(SAID)
    events, printed = told("y", "n", "y", "y", *REST, before=paused)
    assert answers(events) == {"tried": ("sensor-replaced",), "stayed-good": ("not-at-all",)}
    assert "words>" not in printed


def test_a_case_of_an_older_version_is_not_asked_for_words() -> None:
    """Its intake went on after the complaint with the codes."""
    older: tuple[Event, ...] = (BEGUN, Told(question="codes"))
    _, printed = told("", before=older)
    assert "words>" not in printed


def test_words_that_tell_another_complaint_offer_it() -> None:
    """It is taken only with a yes, and the case goes on with it."""
    events, printed = told("The signal of track a is too high.", "y", "y", "y", *REST)
    assert "Complaint, instead of the one chosen" in printed
    assert printed.count("First: ") == 2
    assert state(events).opened.complaint == "reads-high"  # type: ignore[union-attr]
    events, _ = told("The signal of track a is too high.", "y", "y", "n", *REST)
    assert state(events).opened.complaint == "position-erratic"  # type: ignore[union-attr]


@pytest.mark.parametrize(("typed", "number"), [("it jumps when I steer", 4), ("readng jups", 4), ("both tracks disagree", 7)])
def test_a_complaint_in_other_words_is_named_with_its_number(typed: str, number: int) -> None:
    """Nothing is guessed: the number to type stands in the refusal."""
    output = io.StringIO()
    terminal = Terminal(output=output, source=io.StringIO(f"{typed}\n"), blocks=False)
    play(terminal, Person(terminal), Session.fresh(real_knowledge(), lambda name: (BEGUN, lambda *events: None)))
    assert f"Type {number} for: " in output.getvalue() or "words>" in output.getvalue()


@pytest.mark.parametrize("typed", ["not known", "Don't know", "skip", ""])
def test_not_known_is_an_answer_in_words_too(typed: str) -> None:
    """Where a question may stay open, saying so is enough."""
    events, _ = told("", "", typed)
    assert [e.question for e in events if isinstance(e, Told)][:3] == [OPERATOR_WORDS, "codes", "behaviour"]


def test_only_one_answer_is_taken_where_one_can_be_true() -> None:
    """After full left was confirmed, full right is not asked."""
    _, printed = told("First it was hard left, then also hard right.", "y")
    assert printed.count("Where in the travel it comes") == 1


def test_two_answers_to_a_question_that_takes_several_make_one() -> None:
    """The works in which it comes are one answer with all that were confirmed."""
    events, _ = told("It comes on the road, and under load.", "y", "y", *REST)
    assert answers(events)["when"] == ("road", "under-load")


def test_every_event_of_the_words_holds_when_it_is_looked_at_again() -> None:
    """The case is sound, and one with an answer that is not in the knowledge is named."""
    events, _ = told(SAID, "y", "y", "y", "y", *REST)
    assert first_unfit(real_knowledge(), Case(events)) is None
    wrong = Told(question="heard:onset", words=("nowhere",))
    found = first_unfit(real_knowledge(), Case((BEGUN, wrong)))
    assert found is not None
    assert found[0] == 1


@pytest.mark.parametrize("typed", ["1234", "!!!", "a" * 4000])
def test_what_are_no_words_is_refused(typed: str) -> None:
    """Figures alone, signs alone and a book are refused with what is wanted."""
    events, printed = told(typed)
    assert len(events) == 1
    assert "Not taken:" in printed


def test_the_screen_keeps_to_forty_columns() -> None:
    """No line of the talk is cut."""
    _, printed = told(SAID, "y", "n", "y", "y", width=40)
    shown = [line for line in printed.splitlines() if not line.startswith(("words>", "Type the words"))]
    assert max(map(len, shown)) <= 40


def test_lines_of_json_carry_the_words_and_each_fact(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A client reads the fact from the kind of its question, and answers y or n."""
    lines = ["position-erratic", SAID, "y", "n"]
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(json.dumps(line) + "\n" for line in lines)))
    code = run(["start", "--json-lines", "--data-dir", str(tmp_path)])
    objects = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert code == ExitCode.PAUSED
    assert [o["kind"] for o in objects[:4]] == [
        "complaint", "operator-words", "heard:temperature:cold", "heard:at-position:full-left"
    ]  # fmt: skip
    assert '"cold mornings"' in objects[2]["text"]


def test_a_scenario_brings_the_words_with_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Facts that its intake or one of its lines holds are confirmed, all others are struck."""
    file = tmp_path / "told.yaml"
    file.write_text(
        "format: 1\ntitle: Told by an operator\ncomplaint: position-erratic\n"
        f'operator_words: "{SAID}"\nintake: {{temperature: cold}}\nanswers:\n  - {{check: tried, result: sensor-replaced}}\n',
        encoding="utf-8",
    )
    assert run(["start", "--answers", str(file), "--data-dir", str(tmp_path / "cases")]) in (ExitCode.OK, ExitCode.PAUSED)
    capsys.readouterr()
    assert run(["record", "--format", "json", "--data-dir", str(tmp_path / "cases")]) == ExitCode.OK
    record = json.loads(capsys.readouterr().out)
    assert SAID in json.dumps(record)


def test_answered_is_still_the_only_way_an_answer_counts() -> None:
    """A fact that was confirmed to a question of the operator is an answered event, as if it had been asked."""
    events, _ = told(SAID, "y", "y", "y", "y", *REST)
    assert {e.check for e in events if isinstance(e, Answered)} == {"at-position", "tried", "stayed-good"}
