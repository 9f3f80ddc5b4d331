"""The harness as lines of text: one a circuit, with its points, splices and readings."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.model.finding import Judged
from advisor.model.machine import Element, Machine, layout_of
from advisor.terminal.environment import Terminal


def _shown(machine: Machine, element: Element) -> str:
    """An element as it stands in its circuit's line; a star means that other circuits run through it too."""
    star = "*" if len(machine.sharers(element.name)) > 1 else ""
    if element.kind == "wire":
        return f"--{star}--"
    if element.kind == "splice":
        return f"<{element.name}{star}>"
    return f"[{element.name}{star}]" if element.kind == "terminal" else f"({element.name}{star})"


def _spoken(machine: Machine, element: Element) -> str:
    """An element in words, for a screen reader."""
    shared = " shared with another circuit" if len(machine.sharers(element.name)) > 1 else ""
    return f"{element.kind} {element.name}{shared}"


def layout(terminal: Terminal, machine: Machine, readings: Sequence[Judged]) -> None:
    """Every circuit from controller to sensor; below it what was read on it."""
    terminal.rule("Harness")
    if machine.generic:
        terminal.line(f"Generic layout: {layout_of(machine)}. Type layout for another.", "bold", hang=2)
    for circuit, path in machine.circuits.items():
        if terminal.accessible:
            terminal.line(f"{circuit}: " + ", ".join(_spoken(machine, e) for e in path) + ".")
        else:
            terminal.line(f"{circuit}: " + " ".join(_shown(machine, e) for e in path), hang=2)
        for j in readings:
            if j.circuit == circuit:
                words = {"over": "OVER", "within": "within", "unsure": "too close to call"}[j.verdict]
                said = f"{j.start} to {j.end}: {j.drop_volts:.2f} V of {j.limit_volts:.2f} V, {words}"
                terminal.line(said, "bold" if j.verdict == "over" else "", indent=4, hang=2)
    if not terminal.accessible:
        terminal.line("[terminal] <splice> (ground point) -- wire; * shared with another circuit")
