"""Figures that a text of the knowledge leaves to the machine: shares of its sensor's supply, and of what sets the motion code."""

from __future__ import annotations

import re

OF_SUPPLY = re.compile(r"\{(?:(?P<share>\d+(?:\.\d+)?) % of )?(?P<what>sensor supply|motion limit)\}")
HINT = "write {95 % of sensor supply}, {sensor supply} or {25 % of motion limit}"


def told(text: str, supply_volts: float, motion_millivolts: float) -> str:
    """The text with this machine's figures: `{95 % of sensor supply}` is 4.75 V on a supply of 5 V.

    `{25 % of motion limit}` is a quarter of the millivolts of output that would set the motion code, two figures of them.
    """

    def figure(found: re.Match[str]) -> str:
        share = float(found["share"] or 100) / 100
        if found["what"] == "sensor supply":
            return f"{share * supply_volts:.3g} V"
        return f"{two_figures(share * motion_millivolts):g} mV"

    return OF_SUPPLY.sub(figure, text)


def leaves_figures(text: str) -> bool:
    """Whether a figure is left to the machine somewhere in a text, of one entry or of many."""
    return "sensor supply}" in text or "motion limit}" in text


def two_figures(value: float) -> float:
    """A number with two figures: 18.75 is 19."""
    return float(f"{value:.2g}")


def misread(text: str) -> str | None:
    """The first thing in braces that is no figure of a machine; None when there is none."""
    left = re.search(r"\{[^}]*\}?|\}", OF_SUPPLY.sub("", text))
    return left[0] if left else None
