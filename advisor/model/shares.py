"""Volts that a text of the knowledge leaves to the machine, written as a share of its sensor's supply."""

from __future__ import annotations

import re

OF_SUPPLY = re.compile(r"\{(?:(?P<share>\d+(?:\.\d+)?) % of )?sensor supply\}")
HINT = "write {95 % of sensor supply} or {sensor supply}"


def in_volts(text: str, supply_volts: float) -> str:
    """The text with each `{95 % of sensor supply}` as volts, three figures of them: 4.75 V on a supply of 5 V."""

    def volts(found: re.Match[str]) -> str:
        return f"{float(found['share'] or 100) / 100 * supply_volts:.3g} V"

    return OF_SUPPLY.sub(volts, text)


def misread(text: str) -> str | None:
    """The first thing in braces that is no share of the supply; None when there is none."""
    left = re.search(r"\{[^}]*\}?|\}", OF_SUPPLY.sub("", text))
    return left[0] if left else None
