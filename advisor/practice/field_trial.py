"""Many field cases played, and what came out: solved, right at the first repair, minutes against the master's."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from statistics import median
from typing import Any

from advisor.model.field_case import FieldCase
from advisor.model.knowledge import Knowledge
from advisor.practice.field import Played, play
from advisor.workers import workers


@dataclass(frozen=True)
class Entry:
    """A field case as it is handed to the player. `menu` is None where its authors knew every check."""

    file: str
    case: FieldCase
    menu: frozenset[str] | None


def _play(knowledge: Knowledge, entry: Entry, seed: int) -> Played:
    return play(knowledge, entry.file, entry.case, entry.menu, seed)


def run(
    knowledge: Knowledge, entries: Sequence[Entry], seed: int, jobs: int, progress: Callable[[int], None] = lambda done: None,
    cluster: str | None = None,
) -> tuple[Played, ...]:  # fmt: skip
    """Every entry played, in their order; the result is the same for any number of workers."""
    found: list[Played] = []
    with workers(knowledge, jobs, cluster) as each:
        for played in each(_play, entries, [seed] * len(entries)):
            found.append(played)
            progress(len(found))
    return tuple(found)


def report(played: Sequence[Played], seed: int) -> dict[str, Any]:
    """The figures, format 1."""
    total, masters = sum(p.minutes for p in played), sum(p.master_minutes for p in played)
    return {
        "format": 1,
        "seed": seed,
        "field": [asdict(p) for p in played],
        "solved": sum(p.solved for p in played),
        "first_right": sum(p.first_right for p in played),
        "ratio_of_totals": total / masters if masters else 0.0,
        "ratio_median": median([p.ratio for p in played]) if played else 0.0,
    }


def text(played: Sequence[Played], seed: int) -> Iterator[str]:
    """The figures as lines."""
    for p in played:
        how = "solved" if p.solved else "NOT SOLVED"
        first = "" if p.first_right else f", {p.wrong_repairs} wrong repair{'s' if p.wrong_repairs != 1 else ''}"
        yield f"{p.file}"
        yield f"  {p.cause}: {how}{first}; {len(p.steps)} steps, {p.minutes:.0f} min (master {p.master_minutes:.0f}, {p.ratio:.2f})"
    found = report(played, seed)
    yield f"{found['solved']} of {len(played)} solved, {found['first_right']} with the first repair."
    yield f"Minutes against the master's path: {found['ratio_of_totals']:.2f} in all, {found['ratio_median']:.2f} in the median."
    unsafe = sum(p.unsafe for p in played)
    yield f"Steps that a safety rule forbids: {unsafe}."
