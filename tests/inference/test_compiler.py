"""Rules of the knowledge compiled: an order of firing in which negation means what it says."""

from __future__ import annotations

from typing import Any

import pytest
from builders import small_knowledge
from folders import real_knowledge
from hypothesis import given, settings
from inference.made_up import OPEN, answered, compiled, judged, rule, rule_sets, some_facts

from advisor.errors import AdvisorError
from advisor.inference.compiler import CompiledRule, Condition, compile_rules
from advisor.inference.engine import Engine
from advisor.inference.facts import TEMPLATES, Fact, fact
from advisor.model.knowledge import Knowledge
from advisor.model.rule import Action, Pattern, Rule


def fired(rules: tuple[CompiledRule, ...], *facts: Fact) -> list[str]:
    return [f.rule.id for f in Engine(rules).deduce((OPEN, *facts))]


@pytest.mark.parametrize("knowledge", [small_knowledge, real_knowledge], ids=["small", "real"])
def test_every_rule_has_a_salience_of_its_own(knowledge: Any) -> None:
    """Numbers go from the count of rules down to 1, each once, and ids are unique."""
    rules = compile_rules(knowledge())
    assert [r.salience for r in rules] == list(range(len(rules), 0, -1))
    assert len({r.id for r in rules}) == len(rules)


@pytest.mark.parametrize("knowledge", [small_knowledge, real_knowledge], ids=["small", "real"])
def test_everything_that_is_known_becomes_rules(knowledge: Any) -> None:
    """Each rule, each result of a check, each answer that is evidence and each failure mode that suggests something is a rule."""
    k: Knowledge = knowledge()
    ids = {r.id for r in compile_rules(k)}
    wanted = {f"rule:{name}" for name in k.rules}
    wanted |= {f"check:{c.id}:{r.id}" for c in k.checks.values() for r in c.results}
    wanted |= {f"intake:{q.id}:{r.id}" for q in k.intake.values() for r in q.results if r.usual is not None}
    wanted |= {f"code:{m.fmi}" for m in k.fault_modes.values() if m.suggests}
    assert ids == wanted


@pytest.mark.parametrize("knowledge", [small_knowledge, real_knowledge], ids=["small", "real"])
def test_conditions_use_only_fields_of_their_template(knowledge: Any) -> None:
    """A field that a template does not have would never match, in silence."""
    for compiled_rule in compile_rules(knowledge()):
        for condition in compiled_rule.conditions:
            assert {name for name, _ in condition.fields} <= set(TEMPLATES[condition.template])
            assert all(isinstance(allowed, str) or allowed for _, allowed in condition.fields)
        assert not compiled_rule.conditions[0].negated


@pytest.mark.parametrize("knowledge", [small_knowledge, real_knowledge], ids=["small", "real"])
def test_a_rule_that_negates_a_finding_comes_after_those_that_conclude_it(knowledge: Any) -> None:
    """In the order of firing everything that is negated is decided."""
    rules = compile_rules(knowledge())
    for later in rules:
        for condition in later.conditions:
            if condition.template == "finding" and condition.negated:
                name = condition.fields[0][1][0]
                assert all(
                    r.salience > later.salience
                    for r in rules
                    if any(c.kind == "finding" and c.subject == name for c in r.conclusions)
                )


def test_a_negated_finding_is_waited_for() -> None:
    """Written first, the rule that negates a finding still fires only when nothing concludes the finding."""
    rules = compiled(
        rule("negates", {"not": {"finding": "sags"}}, {"answer": "c-a"}),
        rule("concludes", {"answer": "c-b"}, finding="sags"),
    )
    assert fired(rules, answered("c-a"), answered("c-b")) == ["rule:concludes"]
    assert fired(rules, answered("c-a")) == ["rule:negates"]


def test_a_chain_of_negations_is_decided_layer_by_layer() -> None:
    """Each layer of negation waits for the layer under it, through findings that are only passed on."""
    rules = compiled(
        rule("third", {"not": {"finding": "f-2"}}, finding="f-3"),
        rule("second", {"not": {"finding": "passed-on"}}, finding="f-2"),
        rule("passes", {"finding": "f-1"}, finding="passed-on"),
        rule("first", {"answer": "c-a"}, finding="f-1"),
    )
    assert set(fired(rules, answered("c-a"))) == {"rule:first", "rule:passes", "rule:third"}
    assert set(fired(rules)) == {"rule:second"}


def test_findings_may_lead_round_in_a_ring_without_negation() -> None:
    """Two findings that say the same as one another are no contradiction."""
    rules = compiled(
        rule("there", {"finding": "f-1"}, finding="f-2"),
        rule("back", {"finding": "f-2"}, finding="f-1"),
        rule("start", {"answer": "c-a"}, finding="f-2"),
    )
    assert sorted(fired(rules, answered("c-a"))) == ["rule:back", "rule:start", "rule:there"]
    assert fired(rules) == []


@pytest.mark.parametrize(
    "rules",
    [
        [rule("a", {"not": {"finding": "f-1"}}, finding="f-1")],
        [rule("a", {"not": {"finding": "f-2"}}, finding="f-1"), rule("b", {"not": {"finding": "f-1"}}, finding="f-2")],
        [rule("a", {"not": {"finding": "f-2"}}, finding="f-1"), rule("b", {"finding": "f-1"}, finding="f-2")],
        [
            rule("a", {"not": {"finding": "f-3"}}, finding="f-1"),
            rule("b", {"finding": "f-1"}, finding="f-2"),
            rule("c", {"finding": "f-2"}, finding="f-3"),
        ],
    ],
    ids=["itself", "one-another", "through-one", "through-two"],
)
def test_a_ring_of_negations_is_refused(rules: list[Rule]) -> None:
    """No order of firing is right when a finding hangs on its own absence."""
    with pytest.raises(AdvisorError, match="negate each other's findings in a ring") as failure:
        compiled(*rules)
    assert failure.value.hint


def test_a_rule_of_nothing_but_negations_works() -> None:
    """It stands on the open case and fires while nothing of what it negates is known."""
    rules = compiled(rule("quiet", {"not": {"answer": "c-a", "is": "r-x"}}, {"not": {"reading": "load-test"}}))
    assert fired(rules) == ["rule:quiet"]
    assert fired(rules, answered("c-a", "r-y")) == ["rule:quiet"]
    assert fired(rules, answered("c-a", "r-x")) == []
    assert fired(rules, judged("over", "k-1")) == []


def test_a_negation_of_a_negation_is_a_plain_condition() -> None:
    """Not-not is what stands inside, and is a premise again."""
    rules = compiled(rule("double", {"not": {"not": {"answer": "c-a"}}}))
    assert fired(rules, answered("c-a")) == ["rule:double"]
    assert fired(rules) == []


def test_a_variable_joins_places() -> None:
    """Two answers with one variable must be of one place; the firing is for each place that fits."""
    rules = compiled(rule("same", {"answer": "c-a", "place": "$here"}, {"answer": "c-b", "place": "$here"}))
    assert fired(rules, answered("c-a", place="p-1"), answered("c-b", place="p-2")) == []
    both = [answered(c, place=p) for c in ("c-a", "c-b") for p in ("p-1", "p-2")]
    found = Engine(rules).deduce((OPEN, *both))
    assert sorted(f.premises[0].get("place") for f in found) == ["p-1", "p-2"]
    assert all(f.premises[0].get("place") == f.premises[1].get("place") for f in found)


def test_a_variable_is_bound_before_a_negation_uses_it() -> None:
    """`not` written first still reads the place that the pattern after it finds."""
    rules = compiled(rule("alone", {"not": {"answer": "c-b", "place": "$here"}}, {"answer": "c-a", "place": "$here"}))
    assert fired(rules, answered("c-a", place="p-1"), answered("c-b", place="p-2")) == ["rule:alone"]
    assert fired(rules, answered("c-a", place="p-1"), answered("c-b", place="p-1")) == []


def test_a_variable_joins_circuits_of_readings() -> None:
    """Two readings that disagree about one circuit are found, and two circuits are not mixed up."""
    rules = compiled(
        rule(
            "moody",
            {"reading": "load-test", "is": "over", "circuit": "$c-1"},
            {"reading": "load-test", "is": "within", "circuit": "$c-1"},
        )
    )
    assert fired(rules, judged("over", "k-1"), judged("within", "k-2")) == []
    assert fired(rules, judged("over", "k-1"), judged("within", "k-1")) == ["rule:moody"]


@pytest.mark.parametrize("name", ["reset", "run", "declare", "facts", "agenda", "get-rules", "matcher", "halt"])
def test_a_rule_named_like_a_part_of_the_engine_does_no_harm(name: str) -> None:
    """Any id is free: a rule called reset is a rule and does not take the engine's place."""
    engine = Engine(compiled(rule(name, {"answer": "c-a"})))
    assert [f.rule.id for f in engine.deduce([OPEN, answered("c-a")])] == [f"rule:{name}"]
    assert [f.rule.id for f in engine.deduce([OPEN])] == []


def test_rules_that_are_alike_stay_two() -> None:
    """Two rules with the same conditions both fire, each under its own name."""
    assert fired(compiled(rule("one", {"answer": "c-a"}), rule("two", {"answer": "c-a"})), answered("c-a")) == [
        "rule:one",
        "rule:two",
    ]


def test_rules_of_one_layer_fire_in_file_order() -> None:
    """Where negation does not demand another order, the file's order is kept."""
    names = ["zebra", "apple", "mango"]
    assert fired(compiled(*(rule(n, {"answer": "c-a"}) for n in names)), answered("c-a")) == [f"rule:{n}" for n in names]


@pytest.mark.parametrize(
    ("pattern", "wanted"),
    [
        ({"complaint": ["a", "b"]}, Condition("complaint", (("id", ("a", "b")),))),
        ({"intake": "q"}, Condition("intake", (("question", ("q",)),))),
        ({"intake": "q", "is": ["x", "y"]}, Condition("intake", (("question", ("q",)), ("answer", ("x", "y"))))),
        ({"code": "fmi", "is": [3, 4]}, Condition("code", (("fmi", ("3", "4")),))),
        ({"code": "any"}, Condition("codes", (("count", ("one", "several")),))),
        ({"code": "several"}, Condition("codes", (("count", ("several",)),))),
        ({"code": "none"}, Condition("codes", (("count", ("none",)),))),
        ({"answer": "c", "is": "skipped"}, Condition("answered", (("check", ("c",)), ("result", ("skipped",))))),
        ({"answer": "c", "place": "bulkhead:2"}, Condition("answered", (("check", ("c",)), ("place", ("bulkhead:2",))))),
        ({"answer": "c", "place": "$p"}, Condition("answered", (("check", ("c",)), ("place", "$p")))),
        ({"reading": "load-test", "is": "over", "circuit": "$c"},
         Condition("judged", (("reading", ("load-test",)), ("verdict", ("over",)), ("circuit", "$c")))),
        ({"finding": "f"}, Condition("finding", (("id", ("f",)),))),
        ({"layout": "bulkhead"}, Condition("layout", (("id", ("bulkhead",)),))),
        ({"repaired": "c"}, Condition("repaired", (("cause", ("c",)),))),
        ({"not": {"repaired": "c"}}, Condition("repaired", (("cause", ("c",)),), negated=True)),
    ],
)  # fmt: skip
def test_each_kind_of_pattern_becomes_its_condition(pattern: dict[str, Any], wanted: Condition) -> None:
    """Every word that a rule may use is a condition on the facts that stand for it."""
    found = compiled(
        Rule.model_validate({"id": "one", "when": [pattern], "then": [{"advice": "x"}], "because": "y", "source": "from-memory"})
    )
    assert wanted in found[0].conditions
    assert Pattern.model_validate(pattern)


@pytest.mark.parametrize(
    ("action", "wanted"),
    [
        ({"finding": "f", "says": "It is."}, [("finding", "f", "", "It is.")]),
        ({"prior": {"a": "more", "b": "less"}}, [("prior", "a", "more", ""), ("prior", "b", "less", "")]),
        ({"evidence": {"a": "much-less"}}, [("evidence", "a", "much-less", "")]),
        ({"discount": "c"}, [("discount", "c", "", "")]),
        ({"hold": {"check": "c", "until": "then"}}, [("hold", "c", "", "then")]),
        ({"hold": {"stage": "unplug", "until": "then"}}, [("hold", "unplug", "", "then")]),
        ({"hold": {"cause": "k", "until": "then"}}, [("hold", "k", "", "then")]),
        ({"caution": "mind"}, [("caution", "mind", "", "")]),
        ({"advice": "Wait."}, [("advice", "", "", "Wait.")]),
    ],
)  # fmt: skip
def test_each_kind_of_action_becomes_its_conclusions(action: dict[str, Any], wanted: list[tuple[str, str, str, str]]) -> None:
    """Every word that a rule may conclude arrives with its subject, factor and text."""
    given = {"id": "one", "when": [{"answer": "c"}], "then": [action], "because": "y", "source": "from-memory"}
    (found,) = compiled(Rule.model_validate(given))
    assert [(c.kind, c.subject, c.word, c.text) for c in found.conclusions] == wanted
    assert Action.model_validate(action)


def test_each_failure_mode_suggests_its_causes() -> None:
    """A code's failure mode fires the factors written for it, and no other's."""
    rules = compile_rules(small_knowledge())
    found = Engine(rules).deduce([OPEN, fact("code", "4"), fact("code", "19")])
    assert [f.rule.id for f in found] == ["code:4"]
    assert [(c.kind, c.subject, c.word) for c in found[0].conclusions] == [("prior", "chafe-to-ground", "much-more")]


def holds(condition: Condition, facts: set[Fact], bound: dict[str, str]) -> list[tuple[Fact, dict[str, str]]]:
    """The facts that a condition matches, with the variables bound then: the meaning of a pattern, written down again."""
    found = []
    for f in facts:
        if f.template != condition.template:
            continue
        now, fits = dict(bound), True
        for name, allowed in condition.fields:
            value = f.get(name)
            fits = fits and (now.setdefault(allowed, value) == value if isinstance(allowed, str) else value in allowed)
        if fits:
            found.append((f, now))
    return found


def meant(rules: tuple[CompiledRule, ...], facts: set[Fact]) -> set[tuple[str, tuple[Fact, ...]]]:
    """What should fire, by trying everything: rule after rule in their order, again and again until nothing is new."""
    known, fired_by_now = set(facts), set()
    while True:
        news = {
            (r.id, premises) for r in rules for premises in matches(r.conditions, known, {}) if (r.id, premises) not in fired_by_now
        }
        if not news:
            return fired_by_now
        best = max(news, key=lambda n: next(r.salience for r in rules if r.id == n[0]))
        fired_by_now.add(best)
        concluded = next(r for r in rules if r.id == best[0]).conclusions
        known |= {fact("finding", c.subject) for c in concluded if c.kind == "finding"}


def matches(conditions: tuple[Condition, ...], facts: set[Fact], bound: dict[str, str]) -> list[tuple[Fact, ...]]:
    if not conditions:
        return [()]
    first, rest = conditions[0], conditions[1:]
    found = holds(first, facts, bound)
    if first.negated:
        return [] if found else matches(rest, facts, bound)
    return [(f, *more) for f, now in found for more in matches(rest, facts, now)]


@given(rule_sets(), some_facts)
@settings(max_examples=80, deadline=None)
def test_what_fires_is_what_the_patterns_mean(rules: tuple[Rule, ...], facts: tuple[Fact, ...]) -> None:
    """Trying every rule on every choice of facts gives the same firings with the same premises, none twice."""
    ready = compiled(*rules)
    found = [(f.rule.id, f.premises) for f in Engine(ready).deduce(facts)]
    assert len(found) == len(set(found))
    assert set(found) == meant(ready, set(facts))


@given(rule_sets(), some_facts)
@settings(max_examples=40, deadline=None)
def test_no_firing_rests_on_an_absence_that_ended(rules: tuple[Rule, ...], facts: tuple[Fact, ...]) -> None:
    """When all has been deduced, everything that a fired rule negates is still absent: the order of firing was right."""
    ready = compiled(*rules)
    found = Engine(ready).deduce(facts)
    known = set(facts) | {fact("finding", c.subject) for f in found for c in f.conclusions if c.kind == "finding"}
    for f in found:
        assert f.premises in matches(f.rule.conditions, known, {})
