"""An independent engine agrees: CLIPS fires the same rules on the same facts as our engine does."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from random import Random

import pytest
from builders import small_knowledge
from folders import SCENARIOS, real_knowledge
from hypothesis import given, settings
from hypothesis import strategies as st
from inference.clips_peer import Peer, firings
from inference.made_up import compiled, rule_sets, some_facts

from advisor.consultation.consultation import Consultation
from advisor.consultation.intake_told import machine_of
from advisor.consultation.rule_cases import facts_of
from advisor.consultation.scenario import events_of
from advisor.inference.compiler import compile_rules
from advisor.inference.engine import Engine
from advisor.inference.facts import Fact, case_facts
from advisor.library.files import read_scenario
from advisor.library.references import LAYOUT_FACTS
from advisor.model.case import SKIPPED, fold
from advisor.model.knowledge import Knowledge
from advisor.model.rule import Rule

KNOWLEDGES = {"real": real_knowledge, "small": small_knowledge}


@cache
def engines(which: str) -> tuple[Engine, Peer]:
    rules = compile_rules(KNOWLEDGES[which]())
    return Engine(rules), Peer(rules)


def agree(which: str, facts: tuple[Fact, ...]) -> int:
    """Holds the two engines against one another; how many rules fired."""
    ours, peer = engines(which)
    found = firings(ours.deduce(facts))
    assert found == peer.deduce(facts)
    return found.total()


def random_facts(k: Knowledge, dice: Random) -> tuple[Fact, ...]:
    """The facts of a case in which anything may have been answered, sometimes one check in two ways."""

    def some(things: object, most: int) -> list[str]:
        listed = sorted(things)  # type: ignore[call-overload]
        return dice.sample(listed, min(dice.randint(0, most), len(listed)))

    answers: list[tuple[str, str, str | None]] = []
    for name in some(k.checks, 25):
        results = [*(r.id for r in k.checks[name].results), SKIPPED]
        place = None if k.checks[name].at in (None, "section") else dice.choice(["bulkhead:3", "splice-1", "feed"])
        answers += [(name, dice.choice(results), place) for _ in range(dice.choice([1, 1, 1, 2]))]
    return case_facts(
        dice.choice([None, *sorted(k.complaints)]),
        {q: tuple(some((r.id for r in k.intake[q].results), 2)) for q in some(k.intake, 6)},
        [(dice.choice([None, 520, 521]), dice.choice(range(32))) for _ in range(dice.randint(0, 3))],
        answers,
        [
            (dice.choice(["over", "within", "unsure"]), dice.choice(["supply-a", "signal-a", "ground-b"]))
            for _ in range(dice.randint(0, 4))
        ],
        some(LAYOUT_FACTS, 5),
        some(k.causes, 2),
    )


@pytest.mark.parametrize("which", KNOWLEDGES)
def test_both_engines_agree_on_every_rule_case(which: str) -> None:
    """On the cases beside the rules both fire the same rules on the same premises, and every rule fires somewhere."""
    knowledge = KNOWLEDGES[which]()
    assert knowledge.rule_cases
    fired = [agree(which, facts_of(knowledge, case)) for case in knowledge.rule_cases]
    assert any(fired)


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda f: f.stem)
def test_both_engines_agree_after_every_answer_of_a_scenario(file: Path) -> None:
    """From the opening on, each event of a whole case leads both engines to the same firings."""
    scenario = read_scenario(file)
    consultation = Consultation(real_knowledge())
    for number, event, before in events_of(real_knowledge(), scenario):
        if number == 0:
            consultation.machine = machine_of(before.events[0])  # type: ignore[arg-type]
            assert agree("real", consultation.facts(fold(before))) > 0
        assert agree("real", consultation.facts(fold(before.then(event)))) > 0


@pytest.mark.parametrize("which", KNOWLEDGES)
@given(st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_both_engines_agree_on_any_answers(which: str, dice: Random) -> None:
    """Whatever is answered, skipped, measured and repaired, the engines agree."""
    facts = random_facts(KNOWLEDGES[which](), dice)
    ours, peer = engines(which)
    assert firings(ours.deduce(facts)) == peer.deduce(facts)


@pytest.mark.parametrize("which", KNOWLEDGES)
def test_random_answers_try_most_of_the_rules(which: str) -> None:
    """The random cases above are no empty exercise: most of the rules fire in some hundreds of them."""
    knowledge = KNOWLEDGES[which]()
    ours, _ = engines(which)
    fired = {f.rule.id for seed in range(300) for f in ours.deduce(random_facts(knowledge, Random(seed)))}
    assert len(fired) > 0.75 * len(ours.rules)


def test_the_peer_is_no_echo() -> None:
    """The peer differs from our engine when it is given other rules."""
    rules = compile_rules(small_knowledge())
    facts = case_facts("reads-low", {"temperature": ("hot",)}, [], [], [], [])
    assert firings(Engine(rules).deduce(facts)) == Peer(rules).deduce(facts)
    assert firings(Engine(rules).deduce(facts)) != Peer([r for r in rules if r.id != "rule:hot-means-joint"]).deduce(facts)


@given(rule_sets(), some_facts)
@settings(max_examples=120, deadline=None)
def test_both_engines_agree_on_made_up_rules(rules: tuple[Rule, ...], facts: tuple[Fact, ...]) -> None:
    """Joins over places, negations of answers and of findings, rules of nothing but negations: both read them alike."""
    ready = compiled(*rules)
    assert firings(Engine(ready).deduce(facts)) == Peer(ready).deduce(facts)
