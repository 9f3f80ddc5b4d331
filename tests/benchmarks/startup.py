"""What a start costs, against a bare program of the same libraries in the same run: python tests/benchmarks/startup.py

Each line is the median of some processes that take turns, so that a busy computer slows all of them alike. Without the
kept form of the knowledge stands for the first start after a change.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
TURNS = 5
COMPLAINT = "motion-without-steering"
PASSED_OVER = "\n" * 12  # one Enter a question of the intake
BARE = """
import typer
from rich.console import Console
app = typer.Typer()
@app.command()
def hello(name: str = "x") -> None:
    Console().print(name)
app()
"""
LOADED = "import numpy, pydantic\nimport advisor.inference._experta\n" + BARE


def seconds(command: list[str], answers: str, environ: dict[str, str]) -> float:
    """One process from its start to its end; its input ends after the answers."""
    began = time.perf_counter()
    ended = subprocess.run(command, input=answers.encode(), capture_output=True, cwd=ROOT, env=environ, check=False)
    spent = time.perf_counter() - began
    if b"Traceback" in ended.stderr:
        raise RuntimeError(ended.stderr.decode())
    return spent


def main() -> None:
    """Prints milliseconds and the ratio to the bare program."""
    with tempfile.TemporaryDirectory() as folder:
        kept = {
            **os.environ,
            "ADVISOR_CACHE_DIR": f"{folder}/cache",
            "ADVISOR_DATA_DIR": f"{folder}/cases",
            "PYTHONPATH": str(ROOT),
        }
        unkept = {**kept, "ADVISOR_CACHE_DIR": ""}
        advisor = [sys.executable, "-m", "advisor"]
        scenario = str(ROOT / "scenarios" / "loader-splice.yaml")
        rows = {
            "bare typer and rich": ([sys.executable, "-c", BARE], "", kept),
            "the same with numpy, experta, pydantic": ([sys.executable, "-c", LOADED], "", kept),
            "advisor --help": ([*advisor, "--help"], "", kept),
            "to the first question, read from the files": ([*advisor, "start"], "", unkept),
            "to the first question": ([*advisor, "start"], "", kept),
            "to the first step, intake passed over": ([*advisor, "start", "--complaint", COMPLAINT], PASSED_OVER, kept),
            "a whole scenario typed in, from the files": ([*advisor, "start", "--answers", scenario], "", unkept),
            "a whole scenario typed in": ([*advisor, "start", "--answers", scenario], "", kept),
            "record, HTML, from the files": ([*advisor, "record", "--format", "html"], "", unkept),
            "record, HTML": ([*advisor, "record", "--format", "html"], "", kept),
        }
        times: dict[str, list[float]] = {name: [] for name in rows}
        for command, answers, environ in rows.values():
            seconds(command, answers, environ)  # once unmeasured: files into memory, the form kept
        for _ in range(TURNS):
            for name, (command, answers, environ) in rows.items():
                times[name].append(seconds(command, answers, environ))
        bare = statistics.median(times["bare typer and rich"])
        for name, found in times.items():
            middle = statistics.median(found)
            print(f"{name:45} {1000 * middle:6.0f} ms (least {1000 * min(found):5.0f})  {middle / bare:5.1f} times bare")


if __name__ == "__main__":
    main()
