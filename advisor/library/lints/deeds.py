"""Does a step that moves, starts or opens something say so to the machine's states?

The safety rules see flags and states, never the words. A deed that stands only in the words is a deed they cannot forbid.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Knowledge, Part, Work

_SHRINKS = ("heat-gun", "adhesive-sleeve-kit")


def _begins(deed: str) -> re.Pattern[str]:
    """The deed as an order: at the beginning of a sentence, with nothing before it that forbids it."""
    return re.compile(rf"(?:^|[.:] |\bthen )(?:{deed})", re.IGNORECASE)


def _stands(part: Part, name: str, *values: str) -> bool:
    return bool({*part.needs.get(name, ())} & {*values})


def _steers(part: Part, work: Work) -> bool:
    still = _stands(part, "engine", "off") and _stands(part, "pressure", "relieved")
    return part.steers or still  # without oil pressure the wheel turns nothing


def _unplugs(part: Part, work: Work) -> bool:
    return part.hands != "none" or any("apart" in values for values in part.needs.values())


def _cuts(part: Part, work: Work) -> bool:
    return part.cuts


# What a step orders, how it is named, and what must stand beside it.
DEEDS: tuple[tuple[re.Pattern[str], str, Callable[[Part, Work], bool], str], ...] = (
    (_begins(r"steer\b|turn the steering\b"), "steers", _steers, "steers: true"),
    (_begins(r"start the engine\b"), "starts the engine", lambda p, w: _stands(p, "engine", "running"), "needs: {engine: running}"),
    (
        _begins(r"unplug (?!chargers)|pull the plug\b|open (?:the|this|each) plug\b"),
        "opens a plug",
        _unplugs,
        "hands, or a plug apart in needs",
    ),
    (
        _begins(r"shrink\b"),
        "shrinks a sleeve",
        lambda p, w: any(t in w.tools for t in _SHRINKS),
        f"one of the tools {', '.join(_SHRINKS)}",
    ),
    (
        _begins(r"(?:warm|heat) (?:the|each|one|this) (?!oil|machine)"),
        "heats a part",
        lambda p, w: "heat-gun" in w.tools or "heat-gun-limits" in w.cautions,
        "the tool heat-gun, or the caution heat-gun-limits",
    ),
    (
        _begins(r"(?:cut (?:back|out|away|the (?:old )?(?:wire|splice))|crimp (?:the|a|each|with)|strip (?:the|to))\b"),
        "cuts or crimps wire",
        _cuts,
        "cuts: true",
    ),
    (
        _begins(r"(?:loosen|crack|undo) (?:the|each|both|a|one) (?:[a-z]+ )?(?:hose|line|fitting)s?\b"),
        "opens an oil line",
        lambda p, w: p.pressure,
        "pressure: true",
    ),
    (
        _begins(r"(?:jack|lift) (?:up )?the (?:axle|wheel|machine)\b"),
        "lifts the machine",
        lambda p, w: p.under or _stands(p, "wheels", "stands"),
        "under: true, or wheels on stands",
    ),
)


def deeds_without_their_flag(k: Knowledge) -> Iterator[Issue]:
    """An order to steer, start, open, heat, cut or lift has the flag or state that the safety rules look at."""
    for name, work in _works(k):
        for part in work.sequence:
            for step in part.steps:
                for order, deed, told, wanted in DEEDS:
                    if order.search(step) and not told(part, work):
                        yield Issue("deed-not-told", f"a step of '{name}' {deed}, and its part lacks {wanted}: {step[:60]}")


def _works(k: Knowledge) -> Iterator[tuple[str, Work]]:
    yield from ((c.id, c) for c in k.checks.values())
    yield from ((c.id, c.repair) for c in k.causes.values())


LINTS: tuple[Lint, ...] = (deeds_without_their_flag,)
