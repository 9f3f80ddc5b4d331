"""A technician who does anything in any order, held to a simple model after each step; and random answers, true or not."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from attacks.dialogues import plain_events
from benchmarks.honesty import concluded, wrong_with
from builders import MACHINE, MORNING, SMALL, small_knowledge, small_machine, trade_knowledge
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule, run_state_machine_as_test

from advisor.commands.stored import consultation_of, named_now
from advisor.consultation.answers import answer
from advisor.consultation.consultation import Consultation
from advisor.errors import InputError
from advisor.library.parser import load
from advisor.model.case import Case, Event, KnowledgeChanged, Opened, fold
from advisor.model.finding import NOT_LISTED
from advisor.model.knowledge import Knowledge
from advisor.reasoning.likelihoods import check_places
from advisor.session.said import plain
from advisor.session.session import Session
from advisor.store.folder import CaseStore
from advisor.store.open_case import OpenCase

COMPLAINT = "motion-without-steering"
CHECKS = sorted(c.id for c in small_knowledge().checks.values() if c.at is None and c.measure is None and not c.many)
RESULTS = {name: [r.id for r in small_knowledge().checks[name].results] for name in CHECKS}
RUNS = [("controller", "bulkhead"), ("bulkhead", "sensor"), ("controller", "sensor")]
CAUSES = sorted(small_knowledge().causes)
QUESTION = next(iter(small_knowledge().intake))


@cache
def layers() -> tuple[Knowledge, ...]:
    """The knowledge alone, and under two layers of a shop that change what a check costs and what it is called."""
    found = [small_knowledge()]
    for text in ("minutes: 9", "title: Grip as the yard does it"):
        with tempfile.TemporaryDirectory() as name:
            file = next(p for p in (SMALL / "checks").rglob("*.yaml") if "id: coupling-grip" in p.read_text(encoding="utf-8"))
            over = Path(name) / file.relative_to(SMALL)
            over.parent.mkdir(parents=True)
            over.write_text(f"extends: coupling-grip\n{text}\n", encoding="utf-8")
            found.append(load(SMALL, Path(name)))
    return tuple(found)


@dataclass
class Model:
    """What a technician would say that the case holds: no event, no fold, only what counts now, in the order it was given."""

    counts: list[tuple[Any, ...]] = field(default_factory=list)  # kind, then what was said; taken back from the end
    before: dict[int, tuple[int, tuple[Any, ...]]] = field(default_factory=dict)  # what a correction stands for, by its identity
    notes: list[str] = field(default_factory=list)
    missing: set[str] = field(default_factory=set)
    hot: tuple[str, ...] = ()
    closed: bool = False


class Technician(RuleBasedStateMachine):
    """Types at a session whose case lies on a disk."""

    looks = 0  # how often the case was held to the model

    def __init__(self) -> None:
        super().__init__()
        self.place = tempfile.TemporaryDirectory()
        self.store, self.model, self.layer = CaseStore(Path(self.place.name)), Model(), 0
        self.seen: dict[Any, list[float]] = {}
        self.open: OpenCase
        self.session: Session

    @initialize()
    def begin(self) -> None:
        knowledge = layers()[0]
        self.open = self.store.create(Opened(complaint=COMPLAINT, machine=MACHINE), knowledge.digest, MORNING)
        self._sit_down(knowledge, self.open.case)

    def _sit_down(self, knowledge: Knowledge, case: Case) -> None:
        def append(*events: Event) -> None:
            self.open.append_all(events, MORNING)

        consultation = consultation_of(knowledge, named_now(knowledge, self.open.stored))
        self.session = Session.going_on(knowledge, case, append, consultation=consultation)
        self._settled()

    def _settled(self) -> str:
        """What was said, as one text."""
        return " ".join(text for item in self.session.take() for text in plain(item))

    def say(self, *texts: str) -> str:
        for text in texts:
            if self.session.over:
                break
            self.session.answer(text)
        return self._settled()

    def until_a_step(self, reply: Callable[[str], str]) -> None:
        """Answers what is asked in between."""
        for _ in range(30):
            question = self.session.question
            if question is None or question.kind == "step":
                return
            self.session.answer(reply(question.kind))
        raise AssertionError("it asks without an end")

    @property
    def working(self) -> bool:
        return hasattr(self, "session") and not self.model.closed

    def _asked(self, check: str) -> bool:
        question = self.session.question
        return question is not None and question.step is not None and question.step.id == check

    # ---- what a technician does

    @precondition(lambda self: self.working)
    @rule(check=st.sampled_from(CHECKS), which=st.integers(0, 9))
    def answers(self, check: str, which: int) -> None:
        result = RESULTS[check][which % len(RESULTS[check])]
        self.say(f"other {check}")
        assert self._asked(check)
        self.say(result)
        self.model.counts.append(("answered", check, result))

    @precondition(lambda self: self.working and "load-resistor" not in self.model.missing)
    @rule(run=st.sampled_from(RUNS), hundredths=st.integers(0, 60))
    def measures(self, run: tuple[str, str], hundredths: int) -> None:
        self.say(f"other load-test supply-a {run[0]} {run[1]}")
        self.until_a_step(lambda kind: "")
        assert self._asked("load-test")
        loaded = round(23.6 - hundredths / 100, 2)
        self.say(f"23.65 {loaded} fresh=yes")
        self.model.counts.append(("measured", *run, loaded))

    @precondition(lambda self: self.working)
    @rule(which=st.integers(1, 4))
    def says_how_the_machine_stands(self, which: int) -> None:
        """Somebody moved something by hand: the next step begins there."""
        self.say("stands", "no", str(which), "1", "done")
        self.until_a_step(lambda kind: "done")
        self._settled()
        question = self.session.question
        assert question is not None
        assert question.kind == "step"

    @precondition(lambda self: self.working and any(c[0] == "answered" for c in self.model.counts))
    @rule(data=st.data(), which=st.integers(0, 9))
    def corrects(self, data: st.DataObject, which: int) -> None:
        check = data.draw(st.sampled_from(sorted({c[1] for c in self.model.counts if c[0] == "answered"})))
        at = max(i for i, c in enumerate(self.model.counts) if c[:2] == ("answered", check))
        result = RESULTS[check][which % len(RESULTS[check])]
        self.say(f"correct {check} = {result}")
        corrected = ("answered", check, result)
        old = self.model.counts.pop(at)
        self.model.counts.append(corrected)
        self.model.before[len(self.model.counts) - 1] = (at, old)

    @precondition(lambda self: self.working)
    @rule()
    def goes_back(self) -> None:
        said = self.say("back")
        if not self.model.counts:
            assert "nothing is left to take back" in said
            return
        last = len(self.model.counts) - 1
        self.model.counts.pop()
        if last in self.model.before:
            at, old = self.model.before.pop(last)
            self.model.counts.insert(at, old)

    @precondition(lambda self: self.working)
    @rule(check=st.sampled_from(CHECKS))
    def skips(self, check: str) -> None:
        self.say(f"skip {check} why no time")
        self.model.counts.append(("skipped", check))

    @precondition(lambda self: self.working)
    @rule(text=st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=8))
    def notes(self, text: str) -> None:
        self.say(f"note {text}")
        self.model.notes.append(text)

    @precondition(lambda self: self.working)
    @rule(here=st.booleans(), what=st.sampled_from(["load-resistor", "breakout-lead"]))
    def says_what_is_here(self, here: bool, what: str) -> None:
        if here and not self.model.missing:
            return
        self.say(f"{'have' if here else 'missing'} {what}")
        self.until_a_step(lambda kind: "back")
        (self.model.missing.discard if here else self.model.missing.add)(what)

    @precondition(lambda self: self.working)
    @rule(which=st.integers(0, 9))
    def tells_the_intake_anew(self, which: int) -> None:
        entry = small_knowledge().intake[QUESTION]
        result = entry.results[which % len(entry.results)].id
        self.say(f"correct {QUESTION}")
        self.until_a_step(lambda kind: result)
        self._settled()
        self.model.hot = (result,)

    @precondition(lambda self: self.working)
    @rule(cause=st.sampled_from(CAUSES))
    def repairs(self, cause: str) -> None:
        self.say(f"repair {cause}")
        self.until_a_step(lambda kind: "")
        assert self._asked(cause)
        self.say("done")
        self.until_a_step(lambda kind: "yes" if kind == "point" else "")  # what was found, where, and how long may be left out
        self._settled()
        self.model.counts.append(("repaired", cause))

    @precondition(lambda self: self.working and any(c[0] == "repaired" for c in self.model.counts))
    @rule(data=st.data(), which=st.integers(0, 9))
    def retests(self, data: st.DataObject, which: int) -> None:
        cause = next(c[1] for c in reversed(self.model.counts) if c[0] == "repaired")
        fits = [name for name in small_knowledge().causes[cause].retest if name in CHECKS]
        if not fits:
            return
        check = data.draw(st.sampled_from(fits))
        result = RESULTS[check][which % len(RESULTS[check])]
        self.say(f"retest {check}")
        self.until_a_step(lambda kind: "")
        assert self._asked(check)
        self.say(result)
        self.model.counts.append(("retested", check, result))

    @precondition(lambda self: self.working and any(c[0] == "repaired" for c in self.model.counts))
    @rule(hours=st.integers(0, 40), times=st.integers(0, 3))
    def runs(self, hours: int, times: int) -> None:
        self.say(f"run {hours}")
        self.until_a_step(lambda kind: str(times) if kind == "recurrences" else "")
        self._settled()
        self.model.counts.append(("ran", float(hours), times))

    @precondition(lambda self: self.working)
    @rule(word=st.sampled_from(["why", "more", "cautions", "show", "help", "", "no such word", "99", "other 99", "correct 99 = x"]))
    def asks_or_mistypes(self, word: str) -> None:
        self.say(word)
        self.until_a_step(lambda kind: "back")
        self._settled()

    @precondition(lambda self: self.working)
    @rule()
    def closes(self) -> None:
        self.say("close none")
        self.until_a_step(lambda kind: "" if kind == "machine-hours" else "yes")
        self._settled()
        assert self.session.over
        self.model.closed = True

    @rule(layer=st.integers(0, 2))
    @precondition(lambda self: hasattr(self, "session"))
    def leaves_and_comes_back(self, layer: int) -> None:
        """A pause; the shop's layer may be another one by then; a closed case is opened again."""
        self.session.pause()
        self.open.close()
        knowledge = layers()[layer]
        self.open = self.store.open(self.open.stored.case_id)
        if self.model.closed:
            ours = consultation_of(knowledge, self.open.stored)
            asked = Session.reopening(knowledge, self.open.case, lambda *e: self.open.append_all(e, MORNING), ours)
            while not asked.over:
                asked.answer("it came back")
            self.model.closed = False
        if layer != self.layer:
            self.open.append(KnowledgeChanged(digest=knowledge.digest), MORNING)
            self.layer, self.seen = layer, {}
        self._sit_down(knowledge, self.open.case)

    # ---- what holds after each step

    @invariant()
    def the_file_holds_what_was_said(self) -> None:
        if not hasattr(self, "session"):
            return
        Technician.looks += 1
        stored = self.store.read(self.open.stored.case_id)
        assert plain_events(stored.case) == plain_events(self.session.room.case)
        state, model = fold(stored.case), self.model
        kept: list[tuple[int, tuple[Any, ...]]] = []
        kept += [(n, ("answered", a.check, a.result)) for n, a in state.answers.items()]
        kept += [(n, ("measured", r.start, r.end, r.loaded)) for n, r in state.readings.items()]
        kept += [(n, ("skipped", s.check)) for n, s in state.skipped.items()]
        kept += [(n, ("repaired", r.cause)) for n, r in state.repairs.items()]
        kept += [(n, ("retested", getattr(r.by, "check", ""), getattr(r.by, "result", ""))) for n, r in state.retests.items()]
        kept += [(n, ("ran", r.hours, r.recurrences)) for n, r in state.runs.items()]
        assert [what for _, what in sorted(kept)] == model.counts
        assert list(state.notes) == model.notes
        assert set(state.unavailable) == model.missing
        assert (state.closed is not None) == model.closed
        assert state.opened is not None
        assert state.opened.intake.get(QUESTION, ()) == model.hot

    @invariant()
    def what_follows_is_sane(self) -> None:
        if not hasattr(self, "session") or self.model.closed or self.session.conversation is None:
            return
        found = self.session.conversation.assessment
        assert wrong_with(found) == ""
        if any(c[0] in ("repaired", "retested", "ran") for c in self.model.counts):
            return
        key = tuple(sorted(self.model.counts)), frozenset(self.model.missing), self.model.hot
        shares = [s for _, _, s in sorted(found.suspects, key=lambda row: str(row[0]))]
        assert self.seen.setdefault(key, shares) == pytest.approx(shares, abs=1e-9)  # whatever way led here

    def teardown(self) -> None:
        if hasattr(self, "open"):
            self.open.close()
        self.place.cleanup()


def walked(days: int, steps: int) -> int:
    """So many technicians, each with at most so many things to do; how often a case was held to the model."""
    looks = Technician.looks
    run_state_machine_as_test(  # type: ignore[no-untyped-call]
        Technician,
        settings=settings(
            max_examples=days, stateful_step_count=steps, deadline=None, phases=[Phase.generate],
            suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
        ),
    )  # fmt: skip
    return Technician.looks - looks


def test_any_order_of_doing_things_holds_what_was_said() -> None:
    """Facts, answers, readings, corrections, skips, back, notes, pauses, repairs, retests, runs, closing, opening, layers."""
    assert walked(days=15, steps=18) > 100


@pytest.mark.parametrize(("shipped", "sets"), [(False, 200), (True, 8)])
def test_random_answers_keep_every_share_a_number_and_their_sum_one(shipped: bool, sets: int) -> None:
    """A bounded part of the benchmark `honesty`."""
    found = list(concluded(sets, seed=3, shipped=shipped, plan=False))
    assert sum(c.answers for c in found) > 10 * sets
    assert [c.wrong for c in found if c.wrong] == []


def test_no_step_is_advised_that_a_rule_holds() -> None:
    """After random answers: no repair and no check while a rule says to wait with it, and never one without a reason."""
    assert [c.wrong for c in concluded(12, seed=8, shipped=False, plan=True) if c.wrong] == []


@pytest.mark.parametrize("complaint", [COMPLAINT, "reads-low"])
def test_answers_that_fit_no_cause_raise_what_is_not_on_the_list(complaint: str) -> None:
    """Every check that can be answered shows its normal result, yet the complaint stands: nothing listed fits, and that is said."""
    known, machine = trade_knowledge(), small_machine()
    opened = Opened(complaint=complaint, machine=MACHINE)
    events: list[Event] = [opened]
    for check in known.checks.values():
        if check.id == "confirm-complaint" or check.stage == "ask":
            continue
        for place in check_places(check, machine):
            try:
                events.append(answer(known, machine, check.id, next(r.id for r in check.results if r.normal), place))
            except (InputError, StopIteration):
                continue
    ours = Consultation(known, machine)
    before = ours.assess(Case((opened,)), plan=False)
    after = ours.assess(Case(tuple(events)), plan=False)

    def unlisted(found: Any) -> float:
        return next(s for suspect, _, s in found.suspects if suspect.cause == NOT_LISTED)

    assert unlisted(after) > 10 * unlisted(before)
    assert before.messages == ()
    assert after.leading.cause == NOT_LISTED
    assert any("No cause on the list" in text for text in after.messages)
