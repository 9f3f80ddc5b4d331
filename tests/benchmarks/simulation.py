"""Does the knowledge agree with itself: is the hidden cause found, and is what the ranking says true as often as it says?

Run: python tests/benchmarks/simulation.py [--all 60] [--each 12] [--cases 600] [--drawn 600] [--seed 1] [--jobs 2]

Faults are hidden in simulated machines whose answers are drawn from the knowledge.
1. So many faults of every cause, each under a complaint that it brings, with every check and load test answered: what the
   knowledge can tell at all. Then faults drawn as they are met, with every second check answered: whether what the ranking says
   is true as often as it says.
2. Fewer of every cause, the program's own way of searching (lookahead-2, without the rules) followed until the fault is gone.
   Two moments count: when the first repair begins, and when the one that cures begins.
3. The program's way with faults drawn as they are met, and in worlds whose words are each off by one band with chance 0.3.
"""

from __future__ import annotations

import argparse
import multiprocessing
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from advisor.library.parser import load
from advisor.model.case import Answered, Case, Event
from advisor.model.machine import generic_machine
from advisor.model.stage import ASK
from advisor.practice.figures import PROGRAM, reliability
from advisor.practice.job import Job
from advisor.practice.policies import POLICIES
from advisor.practice.trial import Bench, Told, stream, work
from advisor.reasoning.likelihoods import check_places

ROOT = Path(__file__).parents[2]
OFF_WORDS = 0.3
SHOWN = 20  # of the causes that are found least often
OVERALL, OF_EACH, OFF, CALIBRATED, ENOUGH = 0.90, 0.75, 0.80, 0.05, 100  # what is asked for


@dataclass(frozen=True)
class Task:
    """One machine: its number, and its cause where that is not drawn."""

    seed: int
    number: int
    cause: str | None = None
    off: float = 0.0
    everything: int = 0  # every so-many-th check is answered, and nothing is repaired; 0: the program searches


BENCHES: dict[float, Bench] = {}


def begin(folder: Path) -> None:
    knowledge, machine = load(folder), generic_machine()
    BENCHES.update({off: Bench(knowledge, machine, off) for off in (0.0, OFF_WORDS)})


def one(task: Task) -> tuple[str, Told]:
    """The hidden cause, and what the program made of it."""
    bench, rng = BENCHES[task.off], stream(task.seed, task.number)
    complaint = None if task.cause is None else bench.complaint_of(task.cause, rng)
    machine = bench.make(rng, complaint, task.cause)
    job = bench.job(machine)
    return machine.hidden.cause, answered(job, task.everything) if task.everything else work(job, POLICIES[PROGRAM])


def answered(job: Job, every: int) -> Told:
    """Every so-many-th check and load test done, and every question answered; what the ranking then says."""
    s, machine = job.situation, job.machine
    found: list[Event] = []
    for check in s.knowledge.checks.values():
        if check.stage == ASK:
            given = machine.told(check)
            found.append(Answered(check=check.id, result=given[0], also=given[1:]))
        elif check.at != "section":
            found += [machine.shows(check, place, 0, s.showing(check)) for place in check_places(check, s.machine)]
    found += machine.readings.values()
    shuffled = machine.draw("which").permutation(len(found))[::every]
    case = Case((*job.case.events, *(found[i] for i in sorted(shuffled))))
    ranking = job.consultation.situation(case).assessment.ranking
    leader, total = ranking[0], sum(r.share for r in ranking)
    right = leader.cause == machine.hidden.cause
    return Told(0.0, len(shuffled), 0, leader.cause, leader.share / total, right, 0.0, right)


def verdict(value: float, least: float) -> str:
    return f"{value:.1%} (asked for: at least {least:.0%}) {'met' if value >= least else 'MISSED'}"


def by_cause(found: list[tuple[str, Told]], moment: str, right: str) -> None:
    """How often the hidden cause leads at a moment, over all and for each cause; the causes found least often by name."""
    if not found:
        return
    groups: dict[str, list[Told]] = defaultdict(list)
    for cause, told in found:
        groups[cause].append(told)
    rates = {cause: sum(getattr(t, right) for t in told) / len(told) for cause, told in groups.items()}
    overall = sum(getattr(t, right) for _, t in found) / len(found)
    print(f"\nThe hidden cause leads {moment}, {len(found)} faults of {len(groups)} causes:")
    print(f"  overall {verdict(overall, OVERALL)}")
    under = [c for c in rates if rates[c] < OF_EACH]
    print(f"  of each cause {verdict(min(rates.values()), OF_EACH)}: {len(under)} of {len(rates)} causes are below")
    for cause in sorted(rates, key=lambda c: (rates[c], c))[:SHOWN] if right == "right" else ():
        taken_for = Counter(t.leading for t in groups[cause] if not t.right).most_common(3)
        mean = sum(t.minutes for t in groups[cause]) / len(groups[cause])
        said = ", ".join(f"{name} {count}" for name, count in taken_for)
        print(f"  {rates[cause]:5.0%} {cause:34} {mean:5.0f} min  taken for: {said or '-'}")


def calibration(found: list[tuple[str, Told]], words: str) -> None:
    if not found:
        return
    said, true = sum(t.share for _, t in found) / len(found), sum(t.right for _, t in found) / len(found)
    print(f"\n{words}: {len(found)} faults; said {said:.1%} in the mean, true {true:.1%}")
    for row in reliability([(t.share, t.right) for _, t in found]):
        off = abs(row["said"] - row["true"])
        counted = "met" if off <= CALIBRATED else "MISSED"
        print(
            f"  {row['from']:4.0%} to {row['to']:4.0%} {row['cases']:5d} cases, said {row['said']:6.1%}, true {row['true']:6.1%}"
            f"  {counted if row['cases'] >= ENOUGH else '(few)'}"
        )


def tasks(options: argparse.Namespace, causes: list[str]) -> Iterator[list[Task]]:
    yield [Task(options.seed + 3, n, everything=2) for n in range(options.drawn)]
    yield [Task(options.seed + 2, n, c, everything=1) for n, c in enumerate(c for c in causes for _ in range(options.all))]
    yield [Task(options.seed, n, cause) for n, cause in enumerate(c for c in causes for _ in range(options.each))]
    for off in (0.0, OFF_WORDS):
        yield [Task(options.seed + 1, n, off=off) for n in range(options.cases)]
    yield [Task(options.seed + 1, n, off=OFF_WORDS, everything=1) for n in range(options.cases)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--all", type=int, default=60, help="faults of every cause with every check answered")
    parser.add_argument("--each", type=int, default=12, help="faults of every cause searched for")
    parser.add_argument("--cases", type=int, default=600, help="faults drawn as they are met")
    parser.add_argument("--drawn", type=int, default=600, help="faults drawn as they are met, every second check answered")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--knowledge", type=Path, default=ROOT / "knowledge")
    options = parser.parse_args()
    started = time.perf_counter()
    causes = list(load(options.knowledge).causes)
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(options.jobs, context, begin, (options.knowledge,)) as pool:
        found = [list(pool.map(one, group, chunksize=4)) for group in tasks(options, causes)]
    half, everything, each, drawn, off, off_everything = found
    by_cause(everything, "once every check is answered", "right")
    calibration(half, "Every second check answered: what the ranking says, and how often it is true")
    by_cause(each, "when the first repair begins", "right")
    by_cause(each, "when the repair that cures begins", "right_at_end")
    calibration(drawn, "At the first repair, drawn as they are met")
    if off:
        worlds(drawn, off, off_everything)
    print(f"\n{time.perf_counter() - started:.0f} s")


def worlds(drawn: list[tuple[str, Told]], off: list[tuple[str, Told]], off_everything: list[tuple[str, Told]]) -> None:
    """The program's way where its words are off, beside that where they are true."""
    print(f"\nWorlds whose words are off by one band with chance {OFF_WORDS}: {len(off)} faults")
    rate = sum(t.right for _, t in off_everything) / len(off_everything)
    print(f"  words off: leads once every check is answered: {verdict(rate, OFF)}")
    for words, found in (("as the knowledge says", drawn), ("off", off)):
        for moment, name in (("first repair", "right"), ("repair that cures", "right_at_end")):
            rate = sum(getattr(t, name) for _, t in found) / len(found)
            print(f"  words {words}: leads when the {moment} begins: {verdict(rate, OFF) if found is off else f'{rate:.1%}'}")


if __name__ == "__main__":
    main()
