"""Another machine for a case that was begun: what the case says that does not fit it, and how the case goes on."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.consultation import answers
from advisor.consultation.fits import counted, fits
from advisor.consultation.intake_told import machine_of, machine_says
from advisor.errors import InputError
from advisor.model.case import Answered, Case, Corrected, Event, MachineChanged, Ran, Reading, Retested, State, Told, Undone, fold
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine


@dataclass(frozen=True)
class Exchange:
    """What goes into a case with another machine.

    `gone`: answers that no longer fit. `anew`: numbers that say another thing now.
    """

    machine: Machine
    events: tuple[Event, ...]
    gone: tuple[Event, ...]
    anew: tuple[tuple[Answered, Answered], ...]
    told: tuple[Told, ...]  # what the machine file answers of the intake, where that is new


def exchange(knowledge: Knowledge, case: Case, change: MachineChanged | Told) -> Exchange:
    """The case on the machine, or generic layout, that `change` names. Raises InputError for a layout that is none.

    An answer about a place that the machine lacks is taken back. A number that was read is judged by the new limits.
    """
    opened = fold(case.then(change)).opened
    assert opened is not None
    machine = machine_of(opened)
    told = _by_the_file(knowledge, machine, opened.intake) if isinstance(change, MachineChanged) else ()
    events: list[Event] = [change, *told]
    gone: list[Event] = []
    while True:
        state = fold(_with(case, events))
        number = next((n for n, event in sorted(counted(state).items()) if not fits(knowledge, machine, event)), None)
        if number is None:
            break
        for n in (number, *_leaning_on(state, number)):
            gone.append(counted(state)[n])
            events.append(Undone(number=n))
    anew = tuple(_judged_anew(knowledge, machine, fold(_with(case, events))))
    events += [Corrected(number=n, by=now) for n, _, now in anew]
    return Exchange(machine, tuple(events), tuple(gone), tuple((old, now) for _, old, now in anew), told)


def _with(case: Case, events: list[Event]) -> Case:
    return Case((*case.events, *events))


def _leaning_on(state: State, number: int) -> tuple[int, ...]:
    """Retests and runs that belong to a repair that goes."""
    if number not in state.repairs:
        return ()
    following = min((n for n in state.repairs if n > number), default=float("inf"))
    return tuple(n for n, e in counted(state).items() if isinstance(e, Retested | Ran) and number < n < following)


def _by_the_file(knowledge: Knowledge, machine: Machine, intake: dict[str, tuple[str, ...]]) -> tuple[Told, ...]:
    says = machine_says(knowledge, machine)
    return tuple(Told(question=question, words=words) for question, words in says.items() if intake.get(question) != words)


def _judged_anew(knowledge: Knowledge, machine: Machine, state: State) -> list[tuple[int, Answered, Answered]]:
    """Numbers that were read, where the limits of this machine call them something else."""
    found = []
    for number, event in state.answers.items():
        if not event.read:
            continue
        try:
            if event.value is None:
                now = answers.both_ends(knowledge, machine, event.check, event.values, event.unit, event.supply, event.place)
            else:
                now = answers.measured(knowledge, machine, event.check, event.value, event.unit, event.place)
        except InputError:  # it stands as it was given
            continue
        if now.result != event.result:
            found.append((number, event, event.model_copy(update={"result": now.result})))
    return found


def lacking(machine: Machine, event: Event) -> tuple[str, ...]:
    """The places, circuits and ends of runs that an event names and a machine does not have."""
    by = event.by if isinstance(event, Retested) else event
    named = (by.circuit, by.start, by.end) if isinstance(by, Reading) else (getattr(by, "place", None), getattr(by, "where", None))
    known = {*machine.elements, *machine.points, *machine.circuits}
    return tuple(dict.fromkeys(name for name in named if name is not None and name not in known))
