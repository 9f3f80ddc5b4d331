"""How long do past cases like one take to find, among many closed cases, and how does that grow?

Run: python tests/benchmarks/similar.py [--cases 10000 100000] [--asks 60] [--seed 1]

Cases are made with the shipped knowledge: a hidden cause, a complaint that it brings, and twelve answers drawn from its rows.
They go straight into the index, in a folder that is thrown away. Times are milliseconds; the ratio is to the smallest number.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from advisor.evidence.rows import row, row_for, word_values
from advisor.experience.alike import weights
from advisor.library.parser import load
from advisor.model.knowledge import Knowledge
from advisor.model.stage import ASK
from advisor.model.summary import Summary
from advisor.store.folder import CaseStore
from advisor.store.index import NAME, ClosedIndex

ANSWERS = 12


def made(knowledge: Knowledge, count: int, seed: int) -> Iterator[Summary]:
    """Closed cases whose answers follow the knowledge."""
    dice, used = random.Random(seed), word_values(knowledge)
    checks = [c for c in knowledge.checks.values() if c.stage != ASK]
    causes = list(knowledge.causes.values())
    often = [knowledge.words.frequency[c.frequency] for c in causes]
    for number in range(count):
        (cause,) = dice.choices(causes, often)
        answers = set()
        for check in dice.sample(checks, ANSWERS):
            (result,) = dice.choices([r.id for r in check.results], row(check, row_for(check, cause) or "otherwise", used))
            answers.add((check.id, result))
        (complaint,) = dice.choices(
            list(cause.complaints), [knowledge.words.probability[w].used for w in cause.complaints.values()]
        )
        yield Summary(
            f"{number:08d}-a2", complaint, "", cause.id, None, True, dice.uniform(20, 300), "2031-03-04T07:30:00+00:00",
            frozenset(answers), "",
        )  # fmt: skip


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--cases", type=int, nargs="+", default=[10_000, 100_000])
    options.add_argument("--asks", type=int, default=60)
    options.add_argument("--seed", type=int, default=1)
    chosen = options.parse_args()
    knowledge = load(Path(__file__).parents[2] / "knowledge")
    worth, first = weights(knowledge), 0.0
    print("  cases   index MB   build s   weigh s   median ms   95th ms   ratio")
    for count in chosen.cases:
        with tempfile.TemporaryDirectory() as folder:
            index = ClosedIndex(CaseStore(Path(folder)), lambda stored: None, "benchmark")
            begun = time.perf_counter()
            with index._open() as db:
                for one in made(knowledge, count, chosen.seed):
                    index.add(db, one)
            built = time.perf_counter() - begun
            begun = time.perf_counter()
            index.nearest("reads-low", {next(iter(worth))}, worth, most=1)
            weighed = time.perf_counter() - begun
            times = []
            for one in made(knowledge, chosen.asks, chosen.seed + 1):
                begun = time.perf_counter()
                index.nearest(one.complaint, one.answers, worth, most=200)
                times.append(1000 * (time.perf_counter() - begun))
            late = statistics.quantiles(times, n=20)[-1]
            first = first or late
            size = (Path(folder) / NAME).stat().st_size / 1e6
            speed = f"{statistics.median(times):11.1f} {late:9.1f} {late / first:7.1f}"
            print(f"{count:7,d} {size:10.1f} {built:9.1f} {weighed:9.2f} {speed}")


if __name__ == "__main__":
    main()
