"""Counts the lines that each step of the scenarios takes on the screen.

    python tests/benchmarks/screens.py [--columns N] [SCENARIO...]

Prints one line a scenario and one for all: how many steps, median and greatest lines of one, and how many fit 24 lines.
A step reaches from its heading to its prompt. It only uses the command line, so that an older copy can be measured with PYTHONPATH.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

SCENARIOS = sorted((Path(__file__).parent.parent.parent / "scenarios").glob("*.yaml"))
HEADINGS = tuple(f"-- {kind}{sign}" for kind in ("Next", "Repair", "Retest", "Run", "Done") for sign in (" -", ":"))
SCREEN = 24


def steps(printed: str) -> Iterator[int]:
    """Lines of each step."""
    begun: int | None = None
    for number, line in enumerate(printed.splitlines()):
        if line.startswith(HEADINGS):
            begun = number
        elif line.startswith("answer> ") and begun is not None:
            yield number - begun + 1
            begun = None


def told(name: str, lines: Sequence[int]) -> str:
    fit = sum(n <= SCREEN for n in lines)
    return f"{name}: {len(lines)} steps, median {statistics.median(lines):.0f}, greatest {max(lines)}, {fit} fit {SCREEN} lines"


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--columns", type=int, default=80)
    parser.add_argument("scenarios", nargs="*", type=Path, default=SCENARIOS)
    given = parser.parse_args()
    every: list[int] = []
    for file in given.scenarios:
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, "-m", "advisor", "start", "--plain", "--answers", str(file), "--data-dir", folder]
            environ = {**os.environ, "COLUMNS": str(given.columns), "NO_COLOR": "1"}
            printed = subprocess.run(command, capture_output=True, text=True, check=False, env=environ).stdout
        lines = list(steps(printed))
        every += lines
        if lines:
            print(told(file.stem, lines), flush=True)
    print(told("all", every))


if __name__ == "__main__":
    main()
