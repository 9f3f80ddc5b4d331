"""What a load test asks of the layout: plugs apart, plugs joined, and leads where they are."""

from __future__ import annotations

from advisor.consultation.plugs import opens_interconnect, plugs_of, plugs_present, wiring, with_plugs
from advisor.model.case import Case, Opened, Ran, Reading, fold
from advisor.model.machine import Machine, Section, generic_machine
from advisor.reasoning.planning import Setups

SETUPS = Setups({"interconnect-open": 6.0}, {"interconnect-open": 2.0}, {"interconnect-open": frozenset()})
MACHINE = generic_machine()


def section(start: str, end: str, circuit: str = "supply-a", machine: Machine = MACHINE) -> Section:
    found = machine.section(circuit, start, end)
    assert found is not None
    return found


def price(after: tuple[str, str], then: tuple[str, str], circuit: str = "supply-a") -> float:
    setups = with_plugs(SETUPS, MACHINE)
    present = setups.after(plugs_of(MACHINE, section(*after)), frozenset())
    return setups.cost(plugs_of(MACHINE, section(*then, circuit)), present)


def test_a_sister_circuit_over_the_same_run_needs_nothing_moved() -> None:
    """Its reading costs neither a plug nor a new reference."""
    assert price(("controller", "sensor"), ("controller", "sensor"), "signal-a") == 0.0


def test_halving_a_run_opens_the_plug_between_and_takes_a_new_reference() -> None:
    """The interconnect is pulled and the leads are moved."""
    assert price(("controller", "sensor"), ("bulkhead", "sensor")) == 6.0 + 1.5


def test_the_other_half_finds_the_plug_open() -> None:
    """Only the leads are moved."""
    assert price(("bulkhead", "sensor"), ("controller", "bulkhead")) == 1.5


def test_the_whole_run_again_joins_the_plug() -> None:
    """Joining it costs what the setup costs to leave, and the leads are moved."""
    assert price(("bulkhead", "sensor"), ("controller", "sensor")) == 2.0 + 1.5


def test_only_a_run_that_ends_between_opens_the_interconnect() -> None:
    """Both ends of a whole circuit are unplugged for any load test."""
    assert not opens_interconnect(MACHINE, section("controller", "sensor"))
    assert opens_interconnect(MACHINE, section("controller", "bulkhead"))


def test_what_the_last_load_test_left_is_still_so_until_the_machine_has_run() -> None:
    """Plugs and leads stay as they are between readings; a machine that has run is together again."""
    halves = Reading(circuit="supply-a", start="controller", end="bulkhead", reference=11.9, loaded=11.7)
    case = Case((Opened(complaint="reads-low"), halves))
    assert plugs_present(MACHINE, fold(case)) == plugs_of(MACHINE, section("controller", "bulkhead"))
    assert plugs_present(MACHINE, fold(case.then(Ran(hours=2)))) == frozenset()


def test_the_technician_is_told_what_to_pull_and_when_the_reference_is_stale() -> None:
    """Points apart and joined are named; new points ask for a new reference, the same ones only where something was changed."""
    halves = Reading(circuit="supply-a", start="controller", end="bulkhead", reference=11.9, loaded=11.7)
    state = fold(Case((Opened(complaint="reads-low"), halves)))
    apart, reference = wiring(MACHINE, state, section("controller", "sensor"))
    assert apart == "Apart: controller, sensor. Joined: bulkhead."
    assert reference == "Leads at controller and sensor: take the reference again with them."
    apart, reference = wiring(MACHINE, state, section("controller", "bulkhead", "signal-a"))
    assert apart == "Apart: controller, bulkhead, sensor."
    assert "stay as they are" in reference
