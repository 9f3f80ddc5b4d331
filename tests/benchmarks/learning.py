"""What do closed cases teach? Minutes and right causes on simulated machines, after 0, 30, 300 and 3,000 closed cases.

Run: python tests/benchmarks/learning.py [--closed 0 30 300 3000] [--machines 60] [--truths 3] [--words 1 2] [--knowledge FOLDER]
     [--keep FILE]

A truth is made of the knowledge: each probability and frequency word is moved by one word with chance one half, so many times
as --words says. Closed cases are drawn from the truth; what they teach is laid over the words. Then the policy works on
machines that answer by the truth, the same ones for every line: with the words as shipped, with what was learned, and with
the truth itself. The machines are dealt to so many truths. Ratios are to the shipped words; an error is that of the paired
difference, in minutes a machine. With --keep each machine is kept in a file as soon as it is done, and a run that was cut goes on.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import nullcontext
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TextIO

sys.path.insert(0, str(Path(__file__).parents[1]))

from closed_cases import Maker, off

from advisor.consultation.consultation import Consultation
from advisor.experience.fit import fit, given_minutes
from advisor.library.experience import with_experience
from advisor.library.parser import load
from advisor.model.knowledge import Knowledge
from advisor.model.machine import generic_machine
from advisor.practice.job import Job
from advisor.practice.policies import POLICIES
from advisor.practice.trial import Bench, stream, work
from advisor.store.folder import CaseStore
from advisor.store.index import ClosedIndex

HIDDEN, CLOSED = 11, 12  # seeds of the machines and of the closed cases, apart from one another


def learned(knowledge: Knowledge, truth: Knowledge, closed: int) -> Knowledge:
    """The knowledge with what so many closed cases of the truth teach. Minutes stay, so that all lines are priced alike."""
    with tempfile.TemporaryDirectory() as folder:
        index = ClosedIndex(CaseStore(Path(folder)), lambda stored: None, "benchmark")
        with index._open() as db:
            for one in Maker(truth, CLOSED).made(closed):
                index.add(db, one)
        found = fit(knowledge, index.tally(given_minutes(knowledge))).experience
    return with_experience(knowledge, found.model_copy(update={"checks": {}, "repairs": {}}))


@dataclass(frozen=True)
class Played:
    """One machine, worked on with one mind. `closed` is -1 for the truth."""

    words: int
    closed: int
    machine: int
    minutes: float
    right: bool
    brier: float


def played(shipped: Knowledge, words: int, chosen: argparse.Namespace, kept: list[Played], keep: TextIO | None) -> Iterator[Played]:
    """Every machine of a number of words with every mind; what is kept is not done again."""
    done = {(p.words, p.closed, p.machine): p for p in kept}
    for number in range(chosen.truths):
        truth, machine = off(shipped, chosen.seed + number, words), generic_machine()
        mine = range(number, chosen.machines, chosen.truths)
        bench = Bench(truth, machine)
        for closed in (*chosen.closed, -1):
            wanted = [n for n in mine if (words, closed, n) not in done]
            yield from (done[words, closed, n] for n in mine if n not in wanted)
            if not wanted:
                continue
            mind = Consultation(truth if closed < 0 else learned(shipped, truth, closed) if closed else shipped, machine)
            for n in wanted:
                told = work(Job(mind, bench.make(stream(HIDDEN, n))), POLICIES[chosen.policy])
                found = Played(words, closed, n, told.minutes, told.right, told.brier)
                if keep is not None:
                    print(json.dumps(asdict(found)), file=keep, flush=True)
                yield found


def shown(words: int, found: list[Played], minds: Sequence[int]) -> None:
    """A line for each mind."""
    by_mind = {closed: {p.machine: p for p in found if p.closed == closed} for closed in minds}
    first = by_mind[minds[0]]
    for closed, mine in by_mind.items():
        apart = [mine[n].minutes - first[n].minutes for n in sorted(mine)]
        error = statistics.stdev(apart) / len(apart) ** 0.5 if len(apart) > 1 else 0.0
        minutes = statistics.mean(p.minutes for p in mine.values())
        right, brier = (statistics.mean(x) for x in ([float(p.right) for p in mine.values()], [p.brier for p in mine.values()]))
        ratio = minutes / statistics.mean(p.minutes for p in first.values())
        difference = f"{statistics.mean(apart):+6.1f} ±{error:5.1f}"
        name = "truth" if closed < 0 else f"{closed:,d}"
        print(f"{words:9d} {name:>8} {minutes:9.1f} {ratio:7.3f} {difference:>14} {right:13.0%} {brier:7.3f}", flush=True)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--closed", type=int, nargs="+", default=[0, 30, 300, 3000])
    options.add_argument("--machines", type=int, default=60)
    options.add_argument("--truths", type=int, default=3)
    options.add_argument("--words", type=int, nargs="+", default=[1, 2])
    options.add_argument("--policy", default="lookahead-1", choices=POLICIES)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--knowledge", type=Path, default=Path(__file__).parents[2] / "knowledge")
    options.add_argument("--keep", type=Path)
    chosen = options.parse_args()
    shipped = load(chosen.knowledge)
    kept = []
    if chosen.keep is not None and chosen.keep.exists():
        kept = [Played(**json.loads(line)) for line in chosen.keep.read_text().splitlines()]
    print("words off   closed   minutes   ratio     difference   right cause   Brier", flush=True)
    with chosen.keep.open("a") if chosen.keep is not None else nullcontext() as keep:
        for words in chosen.words:
            shown(words, list(played(shipped, words, chosen, kept, keep)), [*chosen.closed, -1])


if __name__ == "__main__":
    main()
