"""What is dangerous about a step: cautions that follow from what is done and how the machine stands; what no rule allows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from advisor.consultation.ground import point_of
from advisor.model.finding import Step
from advisor.model.knowledge import SECOND_PERSON, Knowledge, Part, Work
from advisor.model.machine import Machine
from advisor.model.states import (
    ANY_PLUG,
    BETWEEN_PLUGS,
    CONTROLLER_PLUG,
    END_PLUGS,
    EVERY_PLUG,
    SENSOR_PLUG,
    Danger,
    Move,
    SafetyRule,
    Where,
)  # fmt: skip
from advisor.reasoning.prohibited import forbidden, matches
from advisor.reasoning.standing import Frame
from advisor.reasoning.ways import Stand

CONNECTS = {"battery": "on"}  # what a move sets that connects the battery
HOME = "home"  # a plug that is closed
# The plug that a part is done at when it needs these, the most dangerous first.
AT: dict[str, Where] = {
    SENSOR_PLUG: "last", END_PLUGS: "last", EVERY_PLUG: "last", ANY_PLUG: "last", BETWEEN_PLUGS: "between",
    CONTROLLER_PLUG: "first",
}  # fmt: skip


@dataclass(frozen=True)
class Broken:
    """A safety rule that something would break, and how the machine would stand then."""

    rule: str
    doing: str
    stand: Mapping[str, str]


def cautions_of(knowledge: Knowledge, machine: Machine, step: Step, work: Work | None) -> tuple[str, ...]:
    """The cautions before a step, those of the way to it first: from moves, state, what is done, tools and people."""
    found: list[str] = []
    points = machine.points
    for n, leg in enumerate(step.legs):
        exists = {name for name, _ in leg.stand}
        for m in leg.moves:
            move = knowledge.moves[m.move]
            found += move.cautions
            found += _by_rules(knowledge, move, exists, where_of(points, m.point, move), move)
            found += [c for t in move.tools for c in knowledge.tools[t].cautions]
        found += [c for name, value in leg.stand for c in _of_value(knowledge, name, value)]
        if work is not None and n < len(work.sequence):
            part = work.sequence[n]
            found += _by_rules(knowledge, part, exists, where_of(points, point_of(machine, step.place), part))
    if work is not None:
        found += [c for t in work.tools if t in knowledge.tools for c in knowledge.tools[t].cautions]
        if work.second_person and SECOND_PERSON in knowledge.tools:
            found += knowledge.tools[SECOND_PERSON].cautions
        found += work.cautions
    return tuple(dict.fromkeys(found))


def _of_value(knowledge: Knowledge, name: str, value: str) -> Iterable[str]:
    """The cautions that hold as long as a variable has a value."""
    variable = knowledge.variables.get(name.split(":")[0])
    return next((v.cautions for v in variable.values if v.id == value), ()) if variable is not None else ()


def _by_rules(
    knowledge: Knowledge, danger: Danger, exists: set[str], where: Where | None, move: Move | None = None
) -> Iterator[str]:
    """The cautions of the safety rules that watch what is done, where the machine has what they speak of."""
    for rule in knowledge.safety.values():
        if rule.caution is None or rule.doing is None or not watched(rule, danger, where, move):
            continue
        if all(name in exists or name.endswith(("plug", "plugs")) for name in rule.forbids):
            yield rule.caution


def watched(rule: SafetyRule, danger: Danger, where: Where | None, move: Move | None) -> bool:
    """Whether a rule is about something that is done, at this plug where it is done at one."""
    if rule.at and where not in rule.at:
        return False
    opens = move is not None and bool(move.plug)
    connects = move is not None and CONNECTS.items() <= move.sets.items()
    return matches(rule.doing, danger, opens_plug=opens, connects_battery=connects)


def where_of(points: Sequence[str], point: str | None, danger: Danger) -> Where | None:
    """Which plug something is done at: the one it names, else the plug that a part needs open or with a lead in it."""
    if point in points:
        return "first" if point == points[0] else "last" if point == points[-1] else "between"
    opened = [n for n, allowed in danger.needs.items() if set(allowed) != {HOME}] if isinstance(danger, Part) else []
    return next((AT[n] for n in AT if n in opened), None)


def broken(knowledge: Knowledge, machine: Machine, ground: Frame, stand: Stand, step: Step, work: Work | None) -> Iterator[Broken]:
    """The safety rules that a step would break, on its way or while it is done, as the machine stands now."""
    for n, leg in enumerate(step.legs):
        for m in leg.moves:
            move = knowledge.moves[m.move]
            yield from against(knowledge, ground, move, stand, where_of(machine.points, m.point, move), m.point, move)
            stand = ground.set(stand, dict(m.to))
            yield from against(knowledge, ground, None, stand)
        if work is not None and n < len(work.sequence):
            point = point_of(machine, step.places[0] if step.places else step.place)
            part = work.sequence[n]
            yield from against(knowledge, ground, part, stand, where_of(machine.points, point, part), point)
        stand = ground.set(stand, dict(leg.leaves))
        yield from against(knowledge, ground, None, stand)


def against(
    knowledge: Knowledge, ground: Frame, danger: Danger | None, stand: Stand, where: Where | None = None, point: str | None = None,
    move: Move | None = None,
) -> Iterator[Broken]:  # fmt: skip
    """The rules against something that is done as the machine stands; without a danger those about the state alone."""
    for rule in knowledge.safety.values():
        if (rule.doing is None) != (danger is None):
            continue
        if danger is not None and not watched(rule, danger, where, move):
            continue
        if any(ground.holds(stand, wanted) for wanted in forbidden(ground, rule, point)):
            yield Broken(rule.id, "" if move is None else move.id, ground.told(stand))
