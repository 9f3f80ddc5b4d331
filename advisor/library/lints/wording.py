"""Is it written so that a tired technician understands it, and does every number have a source?"""

from __future__ import annotations

from collections.abc import Iterator

from advisor.library.lints.lint import Issue, Lint
from advisor.model.knowledge import Cause, Caution, Check, Knowledge, Rule

LONGEST_STEP = 220  # characters: five and a half lines of a 40-column screen


def questions_that_are_none(k: Knowledge) -> Iterator[Issue]:
    for check in k.checks.values():
        if check.question.count("?") != 1 or not check.question.endswith("?"):
            yield Issue("question", f"the question of '{check.id}' must ask one thing and end with a question mark")


def steps_too_long(k: Knowledge) -> Iterator[Issue]:
    """A step must be taken in at one look on a narrow screen."""
    work = [(c.id, c.steps) for c in k.checks.values()] + [(c.id, c.repair.steps) for c in k.causes.values()]
    for name, steps in (*work, *((s.id, s.steps) for s in k.setups.values())):
        for step in steps:
            if len(step) > LONGEST_STEP:
                yield Issue(
                    "long-step",
                    f"a step of '{name}' has {len(step)} characters; {LONGEST_STEP} is the most: {step[:40]}...",
                )


def sources_nobody_names(k: Knowledge) -> Iterator[Issue]:
    """A source stands beside a figure or an entry, or it is a leftover."""
    entries: list[Cause | Check | Rule | Caution] = [
        *k.causes.values(),
        *k.checks.values(),
        *k.rules.values(),
        *k.cautions.values(),
    ]
    named = {e.source for e in entries} | {k.words.source}
    if k.fault_modes:
        named.add("j1939-73")
    texts = [t for c in k.causes.values() for t in (*c.repair.steps, *c.repair.workmanship)]
    for name, source in k.sources.items():
        beside_a_figure = any(source.title.split(",")[0] in text for text in texts)
        if name not in named and not beside_a_figure:
            yield Issue("unused-id", f"the source '{name}' is named by no entry")


LINTS: tuple[Lint, ...] = (questions_that_are_none, steps_too_long, sources_nobody_names)
