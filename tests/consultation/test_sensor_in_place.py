"""With the real knowledge: a sensor that hangs in the hand goes back on before its reading is held against the machine."""

from __future__ import annotations

import io
from functools import cache

import pytest

from advisor.commands.shared import knowledge_folder
from advisor.consultation.consultation import Consultation
from advisor.consultation.next_step import prepared
from advisor.library.parser import load
from advisor.model.case import Case, Opened, SetupChanged, State, fold
from advisor.model.finding import Step
from advisor.model.knowledge import Knowledge
from advisor.terminal import views
from advisor.terminal.environment import Terminal

READ_ON_THE_MACHINE = (
    "approach-from-both-sides", "centre-against-mark", "engine-off-repeat", "output-sweep", "rock-the-plugs", "sensor-bracket-push",
    "sensor-rod-ends", "tap-sensor", "track-compare", "watch-wheel-against-reading", "wiggle-harness",
)  # fmt: skip


@cache
def knowledge() -> Knowledge:
    return load(knowledge_folder(None))


def state_with(*setups: str) -> State:
    opened = Opened(complaint="position-erratic")
    return fold(Case((opened, *(SetupChanged(setup=s, entered=True) for s in setups))))


def step_of(check: str, state: State) -> Step:
    entry = knowledge().checks[check]
    return prepared(Consultation(knowledge()), state, Step("check", check, entry.title))


def shown(step: Step, state: State) -> str:
    output = io.StringIO()
    views.setups(Terminal(output=output, source=io.StringIO(), width=80, blocks=False), knowledge(), step, state)
    return output.getvalue()


@pytest.mark.parametrize("check", READ_ON_THE_MACHINE)
@pytest.mark.parametrize("off", ["sensor-out", "sensor-unplugged"])
def test_a_check_on_the_fitted_sensor_undoes_what_took_it_off(check: str, off: str) -> None:
    """A check whose reading must follow the machine undoes the sensor's removal first."""
    state = state_with("machine-blocked", off)
    assert off in step_of(check, state).leaves


def test_a_fitted_sensor_is_looked_at_once() -> None:
    """The look at sensor, link and plug is asked before the first such check and stays for the next."""
    fresh = state_with("machine-blocked")
    assert "First: Sensor fitted, its link or coupling joined, plug home" in shown(step_of("tap-sensor", fresh), fresh)
    seen = state_with("machine-blocked", "key-on", "sensor-in-place")
    again = shown(step_of("wiggle-harness", seen), seen)
    assert "First" not in again
    assert "Stays as it is: " in again
    assert "Sensor fitted" in again


def test_taking_the_sensor_off_ends_its_place_in_silence() -> None:
    """Nothing is asked to be undone when a state that was only looked at ends."""
    state = state_with("machine-blocked", "sensor-in-place")
    step = step_of("coupling-grip", state)
    assert step.leaves == ("sensor-in-place",)
    assert "undo" not in shown(step, state)
