"""Deduction: the same facts give the same trace, and whatever goes wrong leaves no trace in the next one."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from builders import small_knowledge, small_machine
from folders import real_knowledge
from hypothesis import given, settings
from hypothesis import strategies as st
from inference.from_nothing import from_nothing
from inference.made_up import OPEN, answered, compiled, judged, rule, rule_sets, some_facts

from advisor.consultation.consultation import Consultation
from advisor.inference import _experta
from advisor.inference import parts as module
from advisor.inference.compiler import CompiledRule, compile_rules
from advisor.inference.engine import Engine, Fired
from advisor.inference.facts import NOWHERE, TEMPLATES, Fact, case_facts, fact
from advisor.inference.matching import can_fire, findings, matched, simple
from advisor.inference.parts import Part, TooManyFirings, apart
from advisor.model.case import Answered, Case, Opened, fold
from advisor.model.rule import Rule

SIMPLE = compiled(rule("one", {"answer": "c-a"}, finding="f-1"), rule("two", {"finding": "f-1"}), rule("three", {"answer": "c-b"}))


def ids(engine: Engine, *facts: Fact) -> list[str]:
    return [f.rule.id for f in engine.deduce((OPEN, *facts))]


def test_one_engine_serves_deduction_after_deduction() -> None:
    """Nothing of one deduction is left in the next."""
    engine = Engine(SIMPLE)
    for _ in range(3):
        assert ids(engine, answered("c-a")) == ["rule:one", "rule:two"]
        assert ids(engine, answered("c-b")) == ["rule:three"]
        assert ids(engine) == []


@given(rule_sets(), some_facts, st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_the_order_of_facts_does_not_matter(rules: tuple[Rule, ...], facts: tuple[Fact, ...], dice: Random) -> None:
    """Shuffled facts, facts given twice, a used engine and a fresh one all give the same trace in the same order."""
    ready = compiled(*rules)
    shuffled = dice.sample([*facts, *facts], 2 * len(facts))
    used = Engine(ready)
    first = used.deduce(facts)
    used.deduce(facts[:1])  # else the trace of the last deduction would only be handed out again
    assert used.deduce(shuffled) == first
    assert Engine(ready).deduce(shuffled) == first


@given(rule_sets(), st.lists(some_facts, min_size=1, max_size=5))
@settings(max_examples=150, deadline=None)
def test_what_is_kept_is_what_an_engine_finds_from_nothing(rules: tuple[Rule, ...], told: list[tuple[Fact, ...]]) -> None:
    """Facts that come and go leave the same trace, firing by firing, as one engine with all rules that never saw them before."""
    ready = compiled(*rules)
    kept = Engine(ready)
    for facts in told:
        assert kept.deduce(facts) == from_nothing(ready, facts)


@given(st.randoms(use_true_random=False))
@settings(max_examples=4, deadline=None)
def test_a_case_that_is_taken_back_and_corrected_leaves_the_trace_of_its_answers(dice: Random) -> None:
    """With the real rules too: answers that are given, taken back and given otherwise leave what the last of them say."""
    k = real_knowledge()
    rules, checks = compile_rules(k), dice.sample(sorted(k.checks), 30)
    places = ["", "bulkhead:3", "splice-1"]
    engine = Engine(rules)
    known = {OPEN, fact("complaint", dice.choice(sorted(k.complaints))), fact("codes", "none")}
    for _ in range(12):
        for name in dice.sample(checks, 6):
            known -= {f for f in known if f.template == "answered" and f.get("check") == name}
            if dice.random() < 0.7:
                known.add(answered(name, dice.choice(k.checks[name].results).id, dice.choice(places)))
        engine.deduce(known)
    assert engine.deduce(known) == from_nothing(rules, known)


def test_a_part_is_run_again_for_its_own_facts_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """An answer that no rule of a part asks for leaves what the part has fired."""
    ran: list[str] = []
    real = Part.fire

    def watched(self: Part) -> list[tuple[int, Fired]]:
        ran.extend(r.id for r in self.rules)
        return real(self)

    monkeypatch.setattr(Part, "fire", watched)
    engine = Engine(SIMPLE)
    assert ids(engine, answered("c-a")) == ["rule:one", "rule:two"]
    assert ran == ["rule:one", "rule:two"]
    assert ids(engine, answered("c-a"), answered("c-b")) == ["rule:one", "rule:two", "rule:three"]
    assert ran == ["rule:one", "rule:two", "rule:three"]


@given(rule_sets(), some_facts)
def test_rules_that_fire_at_most_once_by_themselves_need_no_engine(rules: tuple[Rule, ...], facts: tuple[Fact, ...]) -> None:
    """What such a rule fires is what the engine makes it fire; one that fires more often is left to the engine."""
    for one in filter(simple, compiled(*rules)):
        told = list(matched(one, facts))
        by_engine = [f.premises for f in from_nothing((one,), facts)]
        assert told == by_engine if len(told) < 2 else sorted(told) == sorted(by_engine)


def test_rules_that_feed_themselves_are_not_told_fact_by_fact() -> None:
    """Nor is one with a variable in what must not be, or one of nothing but what must not be."""
    feeds = rule("feeds", {"finding": "f-1"}, {"answer": "c-a"}, finding="f-1")
    nowhere = rule("nowhere", {"answer": "c-a", "place": "$p"}, {"not": {"answer": "c-b", "place": "$p"}})
    plain = rule("plain", {"answer": "c-a", "place": "$p"}, {"not": {"answer": "c-b", "place": "p-1"}}, finding="f-1")
    assert [simple(one) for one in compiled(feeds, nowhere, plain)] == [False, False, True]


def test_rules_are_one_part_when_a_finding_joins_them() -> None:
    """A chain over findings is one part, and so are two rules that conclude the same one; the others stand alone."""
    rules = compiled(
        rule("alone", {"answer": "c-a"}),
        rule("first", {"answer": "c-a"}, finding="f-1"),
        rule("second", {"finding": "f-1"}, finding="f-2"),
        rule("not-third", {"answer": "c-b"}, {"not": {"finding": "f-2"}}),
        rule("also-first", {"answer": "c-b"}, finding="f-1"),
        rule("other", {"answer": "c-b"}, finding="f-3"),
    )
    found = {frozenset(r.id.removeprefix("rule:") for r in part.rules) for part in apart(rules)}
    assert found == {frozenset({"alone"}), frozenset({"first", "second", "not-third", "also-first"}), frozenset({"other"})}


@given(rule_sets(), some_facts, st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_rules_that_cannot_fire_are_not_missed(rules: tuple[Rule, ...], facts: tuple[Fact, ...], dice: Random) -> None:
    """Without the rules that nothing known can fire, these facts and every part of them give the same trace."""
    ready = compiled(*rules)
    narrow, whole = Engine(can_fire(ready, facts)), Engine(ready)
    for part in (facts, dice.sample(facts, dice.randrange(len(facts) + 1))):
        assert narrow.deduce(part) == whole.deduce(part)


def test_only_rules_with_a_fact_for_every_pattern_can_fire() -> None:
    """A concluded finding counts as a fact; a rule that waits for another answer is left out."""
    assert [r.id for r in can_fire(SIMPLE, [OPEN, answered("c-a")])] == ["rule:one", "rule:two"]
    assert [r.id for r in can_fire(SIMPLE, [OPEN, answered("c-b")])] == ["rule:three"]


@given(st.randoms(use_true_random=False))
@settings(max_examples=25, deadline=None)
def test_the_order_of_answers_does_not_matter(dice: Random) -> None:
    """Answers given in another order lead to the same evidence, rule by rule and premise by premise."""
    k = small_knowledge()
    answers = [
        Answered(check=name, result=dice.choice(k.checks[name].results).id, place=place)
        for name, place in [
            ("wiggle-harness", None),
            ("supply-at-sensor-loaded", None),
            ("coupling-grip", None),
            ("terminal-drag", "bulkhead:2"),
            ("terminal-drag", "sensor:4"),
            ("drift-engine-off", None),
            ("confirm-complaint", None),
        ]
    ]
    opened = Opened(complaint="reads-low", intake={"temperature": ("hot",)}, codes=("SPN 520 FMI 4",))
    consultation = Consultation(k, small_machine())
    traces = []
    for _ in range(2):
        dice.shuffle(answers)
        traces.append(consultation.engine.deduce(consultation.facts(fold(Case((opened, *answers))))))
    assert traces[0] == traces[1]
    assert traces[0]


@given(rule_sets(), some_facts)
@settings(max_examples=60, deadline=None)
def test_premises_are_facts_that_were_known(rules: tuple[Rule, ...], facts: tuple[Fact, ...]) -> None:
    """Each premise was given or concluded before, stands where its condition stands, and has its template's fields."""
    known = set(facts)
    for f in Engine(compiled(*rules)).deduce(facts):
        wanted = [c for c in f.rule.conditions if not c.negated]
        assert len(f.premises) == len(wanted)
        for premise, condition in zip(f.premises, wanted, strict=True):
            assert premise in known
            assert premise.template == condition.template
            assert tuple(name for name, _ in premise.fields) == TEMPLATES[premise.template]
            assert all(isinstance(allowed, str) or premise.get(name) in allowed for name, allowed in condition.fields)
        known |= {fact("finding", c.subject) for c in f.conclusions if c.kind == "finding"}


def test_premises_stand_in_the_order_of_the_conditions() -> None:
    """A trail shows what was known in the order in which the rule asks for it."""
    rules = compiled(rule("joined", {"reading": "load-test", "is": "over"}, {"answer": "c-b"}, {"answer": "c-a", "place": "p-2"}))
    (found,) = Engine(rules).deduce(
        [OPEN, answered("c-a", place="p-1"), answered("c-a", place="p-2"), answered("c-b"), judged("over", "k-1")]
    )
    assert found.premises == (judged("over", "k-1"), answered("c-b"), answered("c-a", place="p-2"))
    assert found.conclusions == found.rule.conclusions


def test_a_rule_fires_once_for_each_choice_of_facts() -> None:
    """Two places that fit are two firings; a fact given twice is one."""
    rules = compiled(rule("each", {"answer": "c-a"}))
    facts = [OPEN, answered("c-a", place="p-1"), answered("c-a", place="p-2"), answered("c-a", place="p-1")]
    assert sorted(f.premises[0].get("place") for f in Engine(rules).deduce(facts)) == ["p-1", "p-2"]


def test_a_finding_concluded_twice_is_one_fact() -> None:
    """Two rules conclude the same; what follows from it follows once."""
    rules = compiled(
        rule("by-a", {"answer": "c-a"}, finding="f-1"),
        rule("by-b", {"answer": "c-b"}, finding="f-1"),
        rule("then", {"finding": "f-1"}),
    )
    assert sorted(ids(Engine(rules), answered("c-a"), answered("c-b"))) == ["rule:by-a", "rule:by-b", "rule:then"]


class Broken(Exception):
    """Stands for anything that can go wrong inside of the library."""


@pytest.mark.parametrize("wrong", [Broken, KeyboardInterrupt, MemoryError])
def test_an_engine_that_failed_is_thrown_away(wrong: type[BaseException], monkeypatch: pytest.MonkeyPatch) -> None:
    """After an exception in the middle of a run the next deduction is right, on new engines and with nothing kept."""
    engine = Engine(SIMPLE)
    assert ids(engine, answered("c-b")) == ["rule:three"]
    assert ids(engine, answered("c-a"), answered("c-b")) == ["rule:one", "rule:two", "rule:three"]
    assert ids(engine) == []
    built: list[str] = []
    real_build = _experta.build

    def watched(rules: tuple[CompiledRule, ...], fire: _experta.Fire) -> Any:
        built.extend(r.id for r in rules)
        return real_build(rules, fire)

    def fails(rule: CompiledRule) -> tuple[Fact, ...]:
        if rule.id == "rule:two":
            raise wrong
        return findings(rule)

    monkeypatch.setattr(module, "findings", fails)
    with pytest.raises(wrong):
        engine.deduce((OPEN, answered("c-a"), answered("c-b")))
    monkeypatch.undo()
    monkeypatch.setattr(_experta, "build", watched)
    assert ids(engine, answered("c-b")) == ["rule:three"]
    assert ids(engine, answered("c-a"), answered("c-b")) == ["rule:one", "rule:two", "rule:three"]
    assert sorted(built) == ["rule:one", "rule:two"]  # the third fires once by itself, and needs none


def test_an_engine_that_failed_before_the_run_is_thrown_away() -> None:
    """A fact that cannot be given to the engine is an error, and the next deduction is right."""
    engine = Engine(SIMPLE)
    assert ids(engine, answered("c-a")) == ["rule:one", "rule:two"]
    unhashable: Any = Fact("answered", (("check", ["c-b"]),))  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        engine.deduce((OPEN, answered("c-a"), unhashable))
    assert ids(engine, answered("c-b")) == ["rule:three"]


def test_rules_without_end_are_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rules that feed each other new facts for ever end in an error that names a rule, and not in a hang."""
    monkeypatch.setattr(module, "MOST_FIRINGS", 50)
    rules = compiled(rule("every-pair", {"answer": "c-a", "place": "$p"}, {"answer": "c-b", "place": "$q"}))
    few = [answered(c, place=f"p-{n}") for c in ("c-a", "c-b") for n in range(5)]
    many = [answered(c, place=f"p-{n}") for c in ("c-a", "c-b") for n in range(9)]
    engine = Engine(rules)
    assert len(engine.deduce(few)) == 25
    with pytest.raises(TooManyFirings, match="more than 50 firings; the last was rule:every-pair"):
        engine.deduce(many)
    assert len(engine.deduce(few)) == 25


def test_rules_that_invent_facts_for_ever_are_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    """A real endless loop, each firing giving a fact never seen, is stopped too."""
    monkeypatch.setattr(module, "MOST_FIRINGS", 200)
    count = iter(range(10**9))
    monkeypatch.setattr(module, "findings", lambda rule: (answered("c-a", place=f"p-{next(count)}"),))
    with pytest.raises(TooManyFirings):
        Engine(SIMPLE).deduce([OPEN, answered("c-a")])


def test_numbers_and_truth_values_are_kept_apart() -> None:
    """All values are text: code 1 is not the answer true, and 3 is not 3.0."""
    rules = compiled(rule("three", {"code": "fmi", "is": [3]}), rule("one", {"code": "fmi", "is": [1]}))
    assert ids(Engine(rules), fact("code", "3")) == ["rule:three"]
    assert ids(Engine(rules), fact("code", "True")) == []
    assert ids(Engine(rules), fact("code", "3.0")) == []


@pytest.mark.parametrize("value", ["", " ", "a b", "'", '"', "$p", "?x", "(", "nil", "None", "grün", "\\", "{x}", "a:1"])
def test_any_text_is_a_place(value: str) -> None:
    """A place may be called anything that a machine file can say."""
    rules = compiled(rule("same", {"answer": "c-a", "place": "$here"}, {"answer": "c-b", "place": "$here"}))
    (found,) = Engine(rules).deduce(
        [OPEN, answered("c-a", place=value), answered("c-b", place=value), answered("c-b", place=value + "x")]
    )
    assert found.premises == (answered("c-a", place=value), answered("c-b", place=value))


def test_the_facts_of_a_case_are_complete_and_in_order() -> None:
    """Each thing known is one fact, once, in an order that does not depend on how it was told."""
    told = case_facts(
        "reads-low",
        {"recent-work": ("b", "a")},
        [(7, 3), (7, 3), (None, 9)],
        [("c-a", "r-x", None), ("c-a", "r-x", "p-1")],
        [("over", "k-1"), ("over", "k-1")],
        ["bulkhead"],
        ["cause-z"],
    )
    assert set(told) == {
        OPEN,
        fact("complaint", "reads-low"),
        fact("intake", "recent-work", "a"),
        fact("intake", "recent-work", "b"),
        fact("code", "3"),
        fact("code", "9"),
        fact("codes", "several"),
        answered("c-a", "r-x", NOWHERE),
        answered("c-a", "r-x", "p-1"),
        judged("over", "k-1"),
        fact("layout", "bulkhead"),
        fact("repaired", "cause-z"),
    }
    assert list(told) == sorted(told)
    assert len(told) == len(set(told))


@pytest.mark.parametrize(
    ("codes", "count"),
    [([], "none"), ([(7, 3)], "one"), ([(7, 3), (7, 4)], "one"), ([(7, 3), (8, 3)], "several"), ([(None, 3)], "one")],
)
def test_codes_are_counted_by_parameter(codes: list[tuple[int | None, int]], count: str) -> None:
    """Two failure modes of one parameter are one complaint of the controller; two parameters are several."""
    assert fact("codes", count) in case_facts(None, {}, codes, [], [], [])


def test_a_fact_has_exactly_the_fields_of_its_template() -> None:
    """Too few or too many values are refused where the fact is made."""
    assert fact("answered", "c", "r", "p").get("place") == "p"
    for values in (("c", "r"), ("c", "r", "p", "x")):
        with pytest.raises(ValueError, match="zip"):
            fact("answered", *values)


def test_the_small_knowledge_deduces_what_its_rules_say() -> None:
    """A supply that sags is found, weighs against other causes, and asks for the load test until that is done."""
    engine = Engine(compile_rules(small_knowledge()))

    def told(*verdicts: tuple[str, str]) -> tuple[Fact, ...]:
        return case_facts("reads-low", {}, [], [("supply-at-sensor-loaded", "low", None)], verdicts, [])

    before = [f.rule.id for f in engine.deduce(told())]
    assert "rule:supply-sags" in before
    assert "rule:weak-supply-is-loaded" in before
    assert "check:supply-at-sensor-loaded:low" in before
    assert "rule:weak-supply-is-loaded" not in [f.rule.id for f in engine.deduce(told(("over", "supply-a")))]
