"""What do closed cases teach? Minutes and right causes on simulated machines, after 0, 30, 300 and 3,000 closed cases.

Run: python tests/benchmarks/learning.py [--closed 0 30 300 3000] [--machines 40] [--words 1 2] [--knowledge FOLDER]

A truth is made of the knowledge: each probability and frequency word is moved by one word with chance one half, so many times
as --words says. Closed cases are drawn from the truth; what they teach is laid over the words. Then the policy works on
machines that answer by the truth, the same ones for every line: with the words as shipped, with what was learned, and with
the truth itself. Ratios are to the shipped words; an error is that of the paired difference, in minutes a machine.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from closed_cases import Maker, off

from advisor.consultation.consultation import Consultation
from advisor.experience.fit import fit, given_minutes
from advisor.library.experience import with_experience
from advisor.library.parser import load
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.practice.job import Job
from advisor.practice.policies import POLICIES
from advisor.practice.simulated import SimulatedMachine
from advisor.practice.trial import Bench, Told, stream, work
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


def played(knowledge: Knowledge, machine: Machine, hidden: list[SimulatedMachine], policy: str) -> list[Told]:
    """Each machine by the policy, reasoning with this knowledge."""
    mind = Consultation(knowledge, machine)
    return [work(Job(mind, one), POLICIES[policy]) for one in hidden]


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--closed", type=int, nargs="+", default=[0, 30, 300, 3000])
    options.add_argument("--machines", type=int, default=40)
    options.add_argument("--words", type=int, nargs="+", default=[1, 2])
    options.add_argument("--policy", default="lookahead-1", choices=POLICIES)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--knowledge", type=Path, default=Path(__file__).parents[2] / "knowledge")
    chosen = options.parse_args()
    shipped, machine = load(chosen.knowledge), generic_machine()
    print("words off   closed   minutes   ratio   difference   right cause   Brier   seconds")
    for words in chosen.words:
        truth = off(shipped, chosen.seed, words)
        bench = Bench(truth, machine)
        hidden = [bench.make(stream(HIDDEN, n)) for n in range(chosen.machines)]
        first: list[Told] = []
        for closed in (*chosen.closed, None):
            begun = time.perf_counter()
            mind = truth if closed is None else learned(shipped, truth, closed) if closed else shipped
            found = played(mind, machine, hidden, chosen.policy)
            first = first or found
            minutes = statistics.mean(t.minutes for t in found)
            apart = [a.minutes - b.minutes for a, b in zip(found, first, strict=True)]
            error = statistics.stdev(apart) / len(apart) ** 0.5 if len(apart) > 1 else 0.0
            right, brier = (statistics.mean(x) for x in ([float(t.right) for t in found], [t.brier for t in found]))
            name = "truth" if closed is None else f"{closed:,d}"
            ratio = minutes / statistics.mean(t.minutes for t in first)
            difference = f"{statistics.mean(apart):+6.1f} ±{error:5.1f}"
            spent = time.perf_counter() - begun
            print(
                f"{words:9d} {name:>8} {minutes:9.1f} {ratio:7.3f} {difference:>12} {right:13.0%} {brier:7.3f} {spent:9.0f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
