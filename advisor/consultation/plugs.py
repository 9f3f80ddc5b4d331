"""What a load test asks of the layout: which plugs are apart, which are joined, and where the leads are."""

from __future__ import annotations

from advisor.model.case import State
from advisor.model.machine import Machine, Section
from advisor.reasoning.planning import Setups

REFERENCE_MINUTES = 1.5  # moving the leads to other points, with a new reference; common practice, no source
INTERCONNECT = "interconnect-open"  # the setup of a plug apart between the ends


def with_plugs(setups: Setups, machine: Machine) -> Setups:
    """The setups and those of a load test on this layout: which plugs are apart and where the leads are."""
    enter, leave, excludes = dict(setups.enter), dict(setups.leave), dict(setups.excludes)
    for point in machine.points:
        apart, joined = f"apart: {point}", f"joined: {point}"
        enter |= {apart: enter.get(INTERCONNECT, 0.0), joined: 0.0}
        leave |= {apart: leave.get(INTERCONNECT, 0.0), joined: 0.0}
        excludes[joined] = frozenset({apart})
    leads = {_leads(s): REFERENCE_MINUTES for s in machine.sections()}
    excludes |= {name: frozenset(leads) - {name} for name in leads}
    return Setups(enter | leads, leave | dict.fromkeys(leads, 0.0), excludes)


def _leads(section: Section) -> str:
    return f"leads: {section.start} to {section.end}"


def plugs_of(machine: Machine, section: Section) -> frozenset[str]:
    """What a load test of a section needs: its ends apart, the points between them joined, the leads at its ends.

    The first and the last point of a circuit are apart for any load test; they are no step of their own.
    """
    points = machine.circuit_points(section.circuit)
    first, last = points.index(section.start), points.index(section.end)
    apart = {f"apart: {p}" for p in (section.start, section.end) if p not in (points[0], points[-1])}
    return frozenset(apart | {f"joined: {p}" for p in points[first + 1 : last]} | {_leads(section)})


def plugs_present(machine: Machine, state: State) -> frozenset[str]:
    """What the load tests so far have left apart, joined and in place; nothing once the machine has been put back."""
    found: frozenset[str] = frozenset()
    setups = with_plugs(Setups({}, {}, {}), machine)
    back = max(state.runs, default=-1)
    for number, reading in sorted(state.readings.items()):
        section = machine.section(reading.circuit, reading.start, reading.end)
        if section is not None and number > back:
            found = setups.after(plugs_of(machine, section), found)
    if INTERCONNECT in state.setups and len(machine.points) == 3:
        found |= {f"apart: {machine.points[1]}"}
    return found


def wiring(machine: Machine, state: State, section: Section) -> tuple[str, ...]:
    """What to pull apart and what to leave joined for a load test, and whether its reference has to be taken again."""
    points = machine.circuit_points(section.circuit)
    between = points[points.index(section.start) + 1 : points.index(section.end)]
    apart = [points[0], points[-1], *(p for p in (section.start, section.end) if p not in (points[0], points[-1]))]
    says = f"Apart: {', '.join(sorted(apart, key=points.index))}." + (f" Joined: {', '.join(between)}." if between else "")
    if _leads(section) in plugs_present(machine, state):
        return says, "Leads and adapters stay as they are. Changed one? Then take the reference again."
    return says, f"Leads at {section.start} and {section.end}: take the reference again with them."


def opens_interconnect(machine: Machine, section: Section) -> bool:
    """Whether a load test of a section asks for a plug apart between the ends of its circuit."""
    return any(need.startswith("apart: ") for need in plugs_of(machine, section))
