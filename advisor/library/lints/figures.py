"""Has every number a source beside it, and is every source used?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Cause, Caution, Check, Knowledge
from advisor.model.rule import Rule

_FIGURE = re.compile(r"(?<![A-Za-z])\d")


def figures_without_a_source(k: Knowledge) -> Iterator[Issue]:
    """Causes, checks, rules and cautions always name a source; every other entry must when a text of it holds a figure."""
    texts = {
        **{f"move '{m.id}'": (m.source, (m.title, *m.steps)) for m in k.moves.values()},
        **{f"variable '{v.id}'": (None, (v.title, *(value.says for value in v.values))) for v in k.variables.values()},
        **{f"tool '{t.id}'": (t.source, (t.title,)) for t in k.tools.values()},
        **{f"complaint '{c.id}'": (None, (c.title, c.asks, c.first)) for c in k.complaints.values()},
        **{f"intake '{i.id}'": (None, (i.title, i.question, *(r.says for r in i.results))) for i in k.intake.values()},
        **{f"fault mode {m.fmi}": (None, (m.says,)) for m in k.fault_modes.values()},
    }
    for name, (source, said) in texts.items():
        figure = next((t for t in said if _FIGURE.search(t)), None)
        if figure is not None and source is None:
            yield Issue("no-source", f"the {name} gives a figure without a source: {figure}")
    if k.words.planning_source is None:
        yield Issue("no-source", "words.yaml names no 'planning_source' for its weights and for the minutes of the folder")


def one_system_of_wire_sizes(k: Knowledge) -> Iterator[Issue]:
    """An entry that gives a wire size gives it in both systems: who has one reel does not think in the other."""
    entries = [(f"check '{c.id}'", c.model_dump()) for c in k.checks.values()]
    entries += [(f"cause '{c.id}'", c.model_dump()) for c in k.causes.values()]
    entries += [(f"rule '{r.id}'", r.model_dump()) for r in k.rules.values()]
    for name, values in entries:
        said = " ".join(_texts(values))
        given = [system for system in ("AWG", "mm2") if re.search(rf"\b{system}\b", said)]
        if len(given) == 1:
            other = "mm2" if given == ["AWG"] else "AWG"
            yield Issue("one-wire-system", f"the {name} gives a wire size in {given[0]} and not in {other}")


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list | tuple):
        for part in value.values() if isinstance(value, dict) else value:
            yield from _texts(part)


def sources_nobody_names(k: Knowledge) -> Iterator[Issue]:
    """A source stands beside a figure or an entry, or it is a leftover."""
    entries: list[Cause | Check | Rule | Caution] = [
        *k.causes.values(), *k.checks.values(), *k.rules.values(), *k.cautions.values(),
    ]  # fmt: skip
    named: set[str | None] = {k.words.source, k.words.planning_source}
    named |= {e.source for e in entries}
    named |= {t.source for t in k.tools.values()} | {m.source for m in k.moves.values()} | {r.source for r in k.safety.values()}
    named |= {i.source for i in k.intake.values()}
    if k.fault_modes:
        named.add("j1939-73")
    texts = [t for c in k.causes.values() for t in (*c.repair.steps, *c.repair.workmanship)]
    for name, source in k.sources.items():
        beside_a_figure = any(source.title.split(",")[0] in text for text in texts)
        if name not in named and not beside_a_figure:
            yield Issue("unused-id", f"the source '{name}' is named by no entry")


LINTS: tuple[Lint, ...] = (figures_without_a_source, one_system_of_wire_sizes, sources_nobody_names)
