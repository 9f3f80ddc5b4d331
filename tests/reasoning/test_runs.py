"""What a run drops, sound and with excess ohms."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.electrical.drop import Load
from advisor.model.case import Reading
from advisor.model.machine import Element, LoadTest, Machine, Section
from advisor.reasoning.harness import evidence
from advisor.reasoning.runs import LEVELS, NODES, OHMS, Run

SECTION = Section("line", "rear", "front", ("rear:1", "w", "front:1"), 1)


def run(load: Load, limit: float = 0.25, wire_volts: float = 0.1) -> Run:
    return Run(SECTION, load, 12.4, limit, wire_volts)


def test_a_sound_run_drops_between_its_wire_and_its_limit() -> None:
    """At level 1 it reads the limit, near level 0 what the wire alone drops; its own scatter goes to both sides."""
    sound = run(Load(ohms=4.0)).sound()
    assert sound[list(LEVELS).index(1.0)] == pytest.approx(0.25)
    assert 0.1 < sound[0] < 0.12
    scattered = run(Load(ohms=4.0)).sound(at_nodes=True)
    assert scattered.shape == (len(NODES), len(LEVELS))
    assert (scattered[0] < sound).all()
    assert (scattered[-1] > sound).all()


def test_a_wire_that_takes_all_that_is_allowed_still_has_contacts() -> None:
    """The levels stay apart when the wire alone drops more than the limit."""
    assert (np.diff(run(Load(ohms=4.0), wire_volts=0.6).sound()) > 0.005).all()


def test_a_resistive_load_draws_less_through_excess_ohms() -> None:
    """Drop is reference times series over series and load together."""
    mean, spread = run(Load(ohms=4.0)).read(np.array(0.2), np.array([0.0, 1.0]), 0.02, at_nodes=True)
    series = 4.0 * 0.2 / 12.2
    assert mean == pytest.approx([0.2, 12.4 * (series + 1) / (series + 5)])
    assert spread == pytest.approx(np.hypot(0.02, 0.25 * (mean - 0.2)))


def test_a_steady_current_drops_in_proportion_until_nothing_is_left() -> None:
    """Amperes times ohms, and never more than the reference."""
    mean, _ = run(Load(amps=2.5)).read(np.array(0.2), np.array([0.0, 0.4, 50.0]), 0.02, at_nodes=False)
    assert mean == pytest.approx([0.2, 1.2, 12.4])


@pytest.mark.parametrize("load", [Load(ohms=4.0), Load(amps=2.5)])
def test_a_limit_beyond_reason_breaks_nothing(load: Load) -> None:
    """A sound run keeps below the reference whatever the file says, and every drop stays a number."""
    absurd = run(load, limit=500.0)
    mean, spread = absurd.read(absurd.sound(at_nodes=True)[..., None], OHMS, 0.02, at_nodes=True)
    assert np.isfinite(mean).all()
    assert (spread > 0).all()
    assert mean.max() <= 12.4 + 1e-9


def test_a_load_of_steady_current_finds_the_same_joint() -> None:
    """The kind of load changes the volts, not where the fault is."""

    def found(load: LoadTest, loaded: float) -> float:
        path = (Element(terminal="rear:1"), Element(wire="w", mm2=1.0, metres=2.0), Element(terminal="front:1"))
        machine = Machine(points=("rear", "front"), load_test=load, circuits={"line": path})
        reading = Reading(circuit="line", start="rear", end="front", reference=12.43, loaded=loaded)
        weighed = evidence(machine, [reading])
        return float(weighed.single[0]) - weighed.healthy

    steady, resistive = found(LoadTest(load_amps=2.5), 11.17), found(LoadTest(load_ohms=4.97), 11.27)
    assert steady > 2
    assert steady == pytest.approx(resistive, abs=0.3)
