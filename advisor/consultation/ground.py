"""How the machine of a case stands, and what the steps of the knowledge ask of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.model.case import State
from advisor.model.finding import Leg, MoveStep
from advisor.model.knowledge import SECOND_PERSON, Check, Intake, Knowledge, Part, Work
from advisor.model.machine import Machine, Section
from advisor.model.stage import ASK
from advisor.reasoning.framing import frame
from advisor.reasoning.standing import Approach, Errand, Frame, run_name
from advisor.reasoning.ways import Done, Stand

NOT_KNOWN = "not-known"  # an answer to a question that tells nothing


def features(knowledge: Knowledge, machine: Machine, state: State) -> dict[str, tuple[str, ...]]:
    """What is known of the machine: by its file, by complaint and intake, and by what the operator answered."""
    found: dict[str, tuple[str, ...]] = {"relief": (machine.relief,)}
    if state.opened is not None:
        complaint = knowledge.complaints.get(state.opened.complaint)
        found |= {q: (answer,) for q, answer in (complaint.answers if complaint is not None else {}).items()}
        found |= {q: given for q, given in state.opened.intake.items() if NOT_KNOWN not in given}
    questions: list[Intake | Check] = [*knowledge.intake.values(), *(c for c in knowledge.checks.values() if c.stage == ASK)]
    for asked in questions:  # the file knows its machine better than whoever is asked
        if asked.machine is not None and getattr(machine, asked.machine, None) is not None:
            found[asked.id] = (str(getattr(machine, asked.machine)),)
    for answer in state.answers.values():
        if answer.check in knowledge.checks and knowledge.checks[answer.check].stage == ASK:
            found[answer.check] = (answer.result, *answer.also)
    return found


def frame_of(knowledge: Knowledge, machine: Machine, state: State, *, limited: bool = True) -> Frame:
    """The states and moves of a case's machine; without limits also those for which something is not here."""
    missing = state.unavailable if limited else frozenset()
    excluded = [knowledge.retired.setups[name] for name in sorted(missing) if name in knowledge.retired.setups]
    tools = frozenset(m for m in missing if m not in knowledge.retired.setups)
    told = features(knowledge, machine, state)
    return frame(knowledge.variables.values(), knowledge.moves.values(), machine, told, tools, excluded)


def frame_key(knowledge: Knowledge, machine: Machine, state: State) -> tuple[object, ...]:
    """What a frame depends on."""
    named = {q for v in knowledge.variables.values() for q in v.needs_feature}
    named |= {q for m in knowledge.moves.values() for q in m.needs_feature}
    told = features(knowledge, machine, state)
    return (tuple(sorted((q, told[q]) for q in named if q in told)), state.unavailable)


def stand_of(knowledge: Knowledge, ground: Frame, state: State) -> Stand:
    """How the machine stands after all that was done; the setups of an older case are read into it."""
    found = ground.work
    for name in state.setups:
        found = ground.set(found, {v: values[0] for v, values in knowledge.retired.setups.get(name, {}).items()})
    return ground.set(found, state.stand)


def point_of(machine: Machine, place: str | None) -> str | None:
    """The plug at which a place is: the place itself where it is one, or the plug of a terminal."""
    if place is None or place in machine.points:
        return place
    return machine.elements[place].point if place in machine.elements else None


def errand_of(ground: Frame, machine: Machine, work: Work, place: str | None = None, section: Section | None = None) -> Errand:
    """What some work asks of the machine, part by part, and what it leaves changed."""
    point = point_of(machine, place)
    return tuple((ground.wanted(_needs(machine, p, section), point), _leaves(ground, p, point)) for p in work.sequence)


def _needs(machine: Machine, part: Part, section: Section | None) -> Mapping[str, Sequence[str]]:
    """What a part needs; a load test also asks for its own plugs and leads."""
    if section is None:
        return part.needs
    points = machine.circuit_points(section.circuit)
    first, last = points.index(section.start), points.index(section.end)
    found: dict[str, Sequence[str]] = dict(part.needs)
    for i, point in enumerate(points):
        apart = i in (0, len(points) - 1, first, last)
        if apart or first < i < last:
            found[f"plug:{point}"] = ("apart",) if apart else ("home",)
    found["leads"] = (run_name(section.start, section.end),)
    return found


def _leaves(ground: Frame, part: Part, point: str | None) -> tuple[tuple[int, int], ...]:
    """What a part leaves changed: steering leaves the steering anywhere."""
    changes = dict(part.leaves)
    if part.steers:
        changes.setdefault("position", "any")
    return tuple((v, ground.values[v].index(x)) for n, x in changes.items() for v in ground.variables(n, point))


def legs_of(ground: Frame, approach: Approach, errand: Errand) -> tuple[Leg, ...]:
    """The ways of an approach as a step carries them."""
    legs = []
    for way, (_, leaves) in zip(approach.ways, errand, strict=True):
        moves = tuple(MoveStep(d.move.id, d.point, d.minutes, told_changes(ground, d.sets)) for d in way.moves)
        stand = tuple((n, own[x]) for n, own, x in zip(ground.names, ground.values, way.end, strict=True))
        legs.append(Leg(moves, stand, told_changes(ground, leaves)))
    return tuple(legs)


def told_changes(ground: Frame, sets: Sequence[tuple[int, int]]) -> tuple[tuple[str, str], ...]:
    """Changed values by name."""
    return tuple((ground.names[v], ground.values[v][x]) for v, x in sets)


def missing_for(knowledge: Knowledge, state: State, work: Work, ways: Sequence[Done] = ()) -> tuple[str, ...]:
    """What some work takes that is not to be had here: tools, states of the machine, a second person."""
    needed = [*work.needed(), *(t for d in ways for t in d.move.tools), *(SECOND_PERSON for d in ways if d.move.second_person)]
    found = [str(n) for n in needed if n in state.unavailable]
    for name in sorted(state.unavailable & knowledge.retired.setups.keys()):
        if any(_asks(part.needs, knowledge.retired.setups[name]) for part in work.sequence):
            found.append(name)
    return tuple(dict.fromkeys(found))


def _asks(needs: Mapping[str, Sequence[str]], state: Mapping[str, Sequence[str]]) -> bool:
    """Whether what is needed can only be had in a state."""
    return any(v in needs and set(needs[v]) <= set(values) for v, values in state.items())


def limits(knowledge: Knowledge) -> tuple[str, ...]:
    """What can be said not to be here: tools, a second person, and states of the machine by their old names."""
    return (*knowledge.tools, *knowledge.retired.setups)


def possible(knowledge: Knowledge, state: State, check: Check) -> bool:
    """Whether the technician has the tools and the people for a check."""
    return not any(n in state.unavailable for n in check.needed())
