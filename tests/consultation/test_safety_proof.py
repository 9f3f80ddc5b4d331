"""No step is ever presented in a state that a safety rule forbids, and a knowledge in which one would be is found out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from folders import real_knowledge

from advisor.consultation.safety_proof import LAYOUTS, STANDING, Named, Proof, prove
from advisor.model.knowledge import Knowledge
from advisor.model.states import Move, SafetyRule

BOTH = next(a for a in LAYOUTS if a.steering == "hinge-and-wheels" and a.between and a.people == 2)
TRACKS = next(a for a in LAYOUTS if a.steering == "tracks-or-skid" and a.between and a.people == 2)


@pytest.fixture(scope="module")
def bare() -> Knowledge:
    """The shipped moves and rules, without checks and causes, so that a planted one stands alone."""
    return real_knowledge().model_copy(update={"checks": {}, "causes": {}})


def with_check(knowledge: Knowledge, **changes: Any) -> Knowledge:
    """The knowledge with one more check, which is done in the state that it needs."""
    plain = next(c for c in real_knowledge().checks.values() if c.stage == "look" and c.at is None)
    nothing: dict[str, Any] = dict.fromkeys(("steers", "pressure", "turns", "under", "loads", "cuts"), False)
    fields = nothing | {"id": "planted", "hands": "none", "then": (), "leaves": {}, "needs": {}} | changes
    return knowledge.model_copy(update={"checks": {**knowledge.checks, "planted": plain.model_copy(update=fields)}})


def with_move(knowledge: Knowledge, **fields: Any) -> Knowledge:
    """The knowledge with one more move."""
    move = Move.model_validate({"id": "planted", "title": "Planted", "minutes": 1, "steps": ["Do it."], **fields})
    return knowledge.model_copy(update={"moves": {**knowledge.moves, "planted": move}})


def planted(knowledge: Knowledge, rule: SafetyRule) -> Knowledge:
    """The knowledge with one step that breaks a rule: done in the very state that the rule forbids, or leading to it."""
    if rule.doing is None:
        *when, (last, values) = sorted(rule.forbids.items(), key=lambda item: item[0] != "leads")  # they are set at two ends
        last = "sensor-plug" if last == "any-plug" else last
        others = [v.id for v in knowledge.variables[last.removeprefix("sensor-")].values if v.id not in values]
        return with_move(knowledge, **{"from": {last: others}}, when=dict(when), sets={last: values[0]})
    if rule.doing.opens_plug:
        at = list(rule.at) or ["first", "between", "last"]
        return with_move(knowledge, plug=at, **{"from": {"plug": "home"}}, when=rule.forbids, sets={"plug": "apart"})
    if rule.doing.connects_battery:
        return with_move(knowledge, **{"from": {"battery": "off"}}, when=rule.forbids, sets={"battery": "on"})
    done: dict[str, Any] = {k: v for k, v in rule.doing.model_dump().items() if v}
    done |= {"hands": done["hands"][0]} if "hands" in done else {}
    return with_check(knowledge, needs={**rule.forbids, **({"sensor-plug": ("home", "apart")} if rule.at else {})}, **done)


def broken(proof: Proof) -> set[str]:
    """The rules that something breaks."""
    return {v.rule for v in proof.violations}


def test_the_shipped_knowledge_breaks_no_safety_rule_on_any_layout() -> None:
    """Every step in every state that can be reached is allowed, can be reached, and leads back to work."""
    proof = prove(real_knowledge())
    assert proof.holds, [*map(str, proof.violations), *map(str, proof.dead), *proof.stuck][:5]
    assert (proof.layouts, len({str(a) for a in LAYOUTS})) == (32, 32)
    assert proof.states > 32 * 1000
    assert proof.steps > 100 * proof.states


@pytest.mark.parametrize("rule", real_knowledge().safety.values(), ids=lambda r: r.id)
def test_a_step_that_breaks_a_rule_is_found_with_its_story(bare: Knowledge, rule: SafetyRule) -> None:
    """For each rule one step is planted that breaks it; the proof names the rule, the step, and the way that leads there."""
    clean = prove(bare, [BOTH])
    assert not clean.violations
    found = [v for v in prove(planted(bare, rule), [BOTH]).violations if v.rule == rule.id]
    assert found, f"nothing breaks {rule.id}"
    assert all(v.step in (STANDING, Named("moves", "planted"), Named("checks", "planted")) for v in found)
    assert str(BOTH) in str(found[0])
    assert f"breaks '{rule.id}'" in str(found[0])


@pytest.mark.parametrize("rule", real_knowledge().safety, ids=str)
def test_without_a_rule_its_planted_step_passes(bare: Knowledge, rule: str) -> None:
    """What is found is found by that rule, not by another one."""
    left = {name: r for name, r in bare.safety.items() if name != rule}
    worse = planted(bare, bare.safety[rule]).model_copy(update={"safety": left})
    assert rule not in broken(prove(worse, [BOTH]))


def test_the_story_of_a_violation_is_the_shortest_way_to_it(bare: Knowledge) -> None:
    """Hands at the hinge with the key on: from work one move alone leads there."""
    proof = prove(with_check(bare, needs={"key": ("on",)}, hands="hinge"), [TRACKS])
    stories = {v.rule: v.story for v in proof.violations}
    assert stories["hands-need-the-key-out"] == ("Turn the key on",)


def said(proof: Proof) -> Mapping[str, str]:
    """What is said of entries that can do nothing."""
    return {d.entry.id: d.what for d in proof.dead}


def test_a_check_that_needs_what_cannot_be_is_named_with_its_layout(bare: Knowledge) -> None:
    """The engine never runs with the battery off."""
    proof = prove(with_check(bare, needs={"engine": ("running",), "battery": ("off",)}), [TRACKS, BOTH])
    assert said(proof)["planted"] == f"needs a state that nothing leads to ({TRACKS} and 1 more)"


def test_a_check_that_one_layout_alone_cannot_reach_is_named_with_that_layout(bare: Knowledge) -> None:
    """With the axle on stands the machine is never free of chocks; a machine without an axle has nothing to put on stands."""
    proof = prove(with_check(bare, needs={"wheels": ("stands",), "stand": ("parked",)}), [TRACKS, BOTH])
    assert said(proof)["planted"] == f"needs a state that nothing leads to ({BOTH})"


def test_a_move_that_starts_nowhere_is_named(bare: Knowledge) -> None:
    """From the engine running with the battery off nothing can begin."""
    worse = with_move(bare, **{"from": {"engine": ["running"]}}, when={"battery": ["off"]}, sets={"engine": "off"})
    assert said(prove(worse, [TRACKS]))["planted"] == "starts from a state that nothing leads to (all 1 layouts)"


def test_a_rule_that_nothing_can_break_is_named(bare: Knowledge) -> None:
    """Nothing is done under an axle where no check and no repair is."""
    proof = prove(bare, [BOTH])
    assert said(proof)["under-needs-stands"] == "forbids what nothing does and no state shows (all 1 layouts)"


def test_states_without_a_way_back_to_work_are_counted(bare: Knowledge) -> None:
    """When nothing puts the panel on again, every state with the panel off is a dead end."""
    worse = bare.model_copy(update={"moves": {n: m for n, m in bare.moves.items() if n != "put-panel-on"}})
    (told,) = prove(worse, [TRACKS]).stuck
    assert "no way back to work" in told
    assert str(TRACKS) in told
    assert not prove(bare, [TRACKS]).stuck


def test_the_second_part_of_a_check_is_held_to_the_rules_too(bare: Knowledge) -> None:
    """Hands at the hinge with the key on are found in the second part like in the first."""
    part = next(c.then[0] for c in real_knowledge().checks.values() if c.then)
    worse = with_check(bare, then=(part.model_copy(update={"needs": {"key": ("on",)}, "hands": "hinge"}),))
    assert "hands-need-the-key-out" in broken(prove(worse, [TRACKS]))
