"""One program that stays open for weeks: many cases one after the other in one process, the same ones again and again.

    python tests/benchmarks/long_run.py [--rounds 10] [--cases 50] [--replies 40]

Each round plays the same dialogues on new cases, so that each has the same work. Prints what each took of the processor and how
much memory the program holds after it, then both of the last round against the second: the first one warms up. Ends with 1 where
the last is slower by more than a tenth or holds more than a tenth more.
"""

from __future__ import annotations

import argparse
import gc
import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from attacks.dialogues import talk

PAGE = resource.getpagesize()


def held() -> float:
    """Megabytes of memory that this process holds now."""
    gc.collect()
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * PAGE / 2**20


def one_round(cases: int, replies: int) -> tuple[float, int, int]:
    """Seconds of the processor for these dialogues, how many replies were given, and how many entries were kept."""
    before, given, kept = time.process_time(), 0, 0
    for seed in range(cases):
        with tempfile.TemporaryDirectory() as name:
            told = [len(talked.events) for talked in talk(Path(name), seed, replies)]
            given, kept = given + len(told), kept + told[-1]
    return time.process_time() - before, given, kept


def main() -> int:
    parser = argparse.ArgumentParser()
    for name, usual in (("--rounds", 10), ("--cases", 50), ("--replies", 40)):
        parser.add_argument(name, type=int, default=usual)
    options = parser.parse_args()
    rounds: list[tuple[float, float]] = []
    replies = 0
    for number in range(options.rounds):
        took, given, kept = one_round(options.cases, options.replies)
        rounds.append((took, held()))
        replies += given
        print(f"round {number + 1:3}: {took:6.2f} s, {given} replies, {kept} entries, {rounds[-1][1]:6.1f} MB", flush=True)
    (slow, much), (first, little) = rounds[-1], rounds[min(1, len(rounds) - 1)]
    print(f"{replies} replies in {options.rounds * options.cases} cases: time {slow / first:.2f}, memory {much / little:.2f}")
    return int(slow > 1.1 * first or much > 1.1 * little)


if __name__ == "__main__":
    sys.exit(main())
