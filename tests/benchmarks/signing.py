"""What a reader of the knowledge signs: counts, what the lints cover, and entries drawn for reading.

    python tests/benchmarks/signing.py [--seed N] [--entries N] [--knowledge FOLDER]

The same seed draws the same entries. Each is printed whole, with a line for the reader's name and one for what is wrong.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random

import yaml

from advisor.evidence.rows import OTHERWISE, row_for
from advisor.library.coverage import counts
from advisor.library.lints import LINTS
from advisor.library.parser import load
from advisor.model.knowledge import Knowledge

FOLDER = Path(__file__).parents[2] / "knowledge"


def coverage(k: Knowledge) -> Iterator[str]:
    """What each lint has to look at, in one line."""
    answered = [(c, x) for c in k.checks.values() if c.evidence for x in k.causes.values()]
    rows = Counter(_row(row_for(c, x)) for c, x in answered)
    yield f"rows: {rows['own']} for a cause or its kind, {rows['otherwise']} by otherwise, {rows['none']} without an opinion"
    families = Counter(c.family for c in k.checks.values() if c.family)
    yield f"families: {len(families)} with {sum(families.values())} checks"
    paired = {name for entry in k.same_physics.values() for name in entry.checks}
    reasons = sum(len(e.differs) for e in k.same_physics.values())
    yield f"same physics: {len(k.same_physics)} groups with {len(paired)} checks, {reasons} reasons"
    yield f"repairs: {sum(bool(x.repair.found) for x in k.causes.values())} of {len(k.causes)} offer what may be found"
    taught = sum(x.repair.recalibrate != "none" for x in k.causes.values())
    yield f"calibrations: {taught} repairs name one, and the dialogue asks for each"
    sources = Counter(e.source for e in (*k.checks.values(), *k.causes.values(), *k.rules.values(), *k.cautions.values()))
    yield "sources: " + ", ".join(f"{name} {times}" for name, times in sources.most_common())


def _row(name: str | None) -> str:
    return "none" if name is None else "otherwise" if name == OTHERWISE else "own"


def drawn(k: Knowledge, seed: int, count: int) -> list[tuple[str, str]]:
    """Kinds and ids of entries to read: checks, causes and rules in the proportion in which they are there."""
    every = [(kind, name) for kind in ("checks", "causes", "rules") for name in getattr(k, kind)]
    return sorted(Random(seed).sample(every, min(count, len(every))))


def main() -> None:
    """Prints counts, coverage, findings of each lint, and the entries."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--entries", type=int, default=40)
    parser.add_argument("--knowledge", type=Path, default=FOLDER)
    given = parser.parse_args()
    k = load(given.knowledge)
    print("Counts: " + ", ".join(f"{name.replace('_', ' ')} {number}" for name, number in counts(k).items()))
    for line in coverage(k):
        print(line[:1].upper() + line[1:])
    for lint in LINTS:
        print(f"Lint {lint.__name__.replace('_', ' ')}: {sum(1 for _ in lint(k))} findings")
    for kind, name in drawn(k, given.seed, given.entries):
        values = getattr(k, kind)[name].model_dump(mode="json", by_alias=True, exclude_defaults=True)
        print(f"\n=== {kind[:-1]} {name}")
        print(yaml.safe_dump(values, sort_keys=False, allow_unicode=True, width=120).rstrip())
        print("Read by: ______________________  Right: [ ]  Wrong: ______________________")


if __name__ == "__main__":
    main()
