"""The knowledge as it reads on one machine: shares of the sensor's supply are turned into volts, in limits and in texts."""

from __future__ import annotations

from typing import Any, TypeVar

from advisor.model.knowledge import Cause, Check, Knowledge, Rule
from advisor.model.machine import Machine
from advisor.model.shares import in_volts

Work = TypeVar("Work", Cause, Check, Rule)


def for_machine(knowledge: Knowledge, machine: Machine) -> Knowledge:
    """The same knowledge with this machine's volts. Doing it twice changes nothing more."""
    supply = machine.sensor.supply_volts
    return knowledge.model_copy(
        update={
            "checks": {name: check_for(check, machine) for name, check in knowledge.checks.items()},
            "rules": {name: _told(rule, supply) for name, rule in knowledge.rules.items()},
            "causes": {name: _told(cause, supply) for name, cause in knowledge.causes.items()},
        }
    )


def check_for(check: Check, machine: Machine) -> Check:
    """A check whose limits and texts are in volts of this machine's sensor supply."""
    supply = machine.sensor.supply_volts
    found = _told(check, supply)
    if found.measure is None or found.measure.of != "sensor-supply":
        return found

    def volts(share: float | None) -> float | None:
        return None if share is None else share * supply

    results = tuple(r.model_copy(update={"below": volts(r.below), "above": volts(r.above)}) for r in found.results)
    return found.model_copy(update={"results": results, "measure": found.measure.model_copy(update={"of": None})})


def _told(entry: Work, supply_volts: float) -> Work:
    values = entry.model_dump(by_alias=True)
    told = _in_volts(values, supply_volts)
    return entry if told == values else type(entry).model_validate(told)


def _in_volts(value: Any, supply_volts: float) -> Any:
    if isinstance(value, str):
        return in_volts(value, supply_volts) if "{" in value else value
    if isinstance(value, dict):
        return {key: _in_volts(x, supply_volts) for key, x in value.items()}
    return tuple(_in_volts(x, supply_volts) for x in value) if isinstance(value, tuple | list) else value
