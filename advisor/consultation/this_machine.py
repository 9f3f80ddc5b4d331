"""The knowledge as it reads on one machine: shares become its own figures, in limits and in texts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from advisor.electrical.sensor import motion_millivolts
from advisor.model.knowledge import Cause, Check, Knowledge
from advisor.model.machine import Machine
from advisor.model.rule import Rule
from advisor.model.shares import leaves_figures, told, two_figures

Work = TypeVar("Work", Cause, Check, Rule)


def for_machine(knowledge: Knowledge, machine: Machine) -> Knowledge:
    """The same knowledge with this machine's figures. Doing it twice changes nothing more."""
    return knowledge.model_copy(
        update={
            "checks": {name: check_for(check, machine) for name, check in knowledge.checks.items()},
            "rules": {name: _told(rule, machine) for name, rule in knowledge.rules.items()},
            "causes": {name: _told(cause, machine) for name, cause in knowledge.causes.items()},
        }
    )


def check_for(check: Check, machine: Machine) -> Check:
    """A check whose limits and texts are this machine's own figures."""
    found = _told(check, machine)
    if found.measure is None or found.measure.of not in SHARES:
        return found
    whole = SHARES[found.measure.of](machine)

    def figure(share: float | None) -> float | None:
        return None if share is None else whole(share)

    results = tuple(r.model_copy(update={"below": figure(r.below), "above": figure(r.above)}) for r in found.results)
    return found.model_copy(update={"results": results, "measure": found.measure.model_copy(update={"of": None})})


# What the limits of a measuring check can be shares of.
SHARES: dict[str, Callable[[Machine], Callable[[float], float]]] = {
    "sensor-supply": lambda machine: lambda share: share * machine.sensor.supply_volts,
    "motion-limit": lambda machine: lambda share: two_figures(share * motion_millivolts(machine.sensor)),
}


def _told(entry: Work, machine: Machine) -> Work:
    if not leaves_figures(entry.model_dump_json()):  # most do not, and to look at each of their texts costs a tenth of a start
        return entry
    values = entry.model_dump(by_alias=True)
    told = _with_figures(values, machine)
    return entry if told == values else type(entry).model_validate(told)


def _with_figures(value: Any, machine: Machine) -> Any:
    if isinstance(value, str):
        return told(value, machine.sensor.supply_volts, motion_millivolts(machine.sensor)) if "{" in value else value
    if isinstance(value, dict):
        return {key: _with_figures(x, machine) for key, x in value.items()}
    return tuple(_with_figures(x, machine) for x in value) if isinstance(value, tuple | list) else value
