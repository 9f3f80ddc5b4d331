"""Feeds every reader what a coverage-guided fuzzer thinks of: no traceback, no input over a second, no more than 500 MB.

    python tests/benchmarks/fuzz.py [--seconds 600] [--target NAME ...] [--seed 1]

Needs `atheris` (`pip install advisor[attack]`). The seconds are shared among the targets, each in a process of its own. Prints what
was tried and found; ends with 1 if anything was found. What was found stays in the folder that is named.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
import time
from hashlib import sha256
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

MEGABYTES = 500
MOST_SECONDS = 1.0  # of the processor; libFuzzer stops an input by the clock, which a busy machine makes late
NARROW = {"dialogue": ["advisor.session"]}  # the ranking behind it is measured by itself, and slows every reply


def fuzz(name: str, folder: Path, options: list[str]) -> None:
    """One target, in this process, until its time is over or it is found out."""
    import atheris

    with atheris.instrument_imports(include=NARROW.get(name, ["advisor"]), enable_loader_override=False):
        from attacks.targets import refused_or_taken, targets
    corpus = folder / "corpus"
    corpus.mkdir()
    for number, example in enumerate(targets()[name].examples):
        (corpus / str(number)).write_bytes(example)
    refused_or_taken(name, targets()[name].examples[0])  # what is loaded late is loaded now

    def read(data: bytes) -> None:
        began = time.process_time()
        refused_or_taken(name, bytes(data))
        if time.process_time() - began > MOST_SECONDS:
            (folder / f"slow-{sha256(data).hexdigest()[:12]}").write_bytes(data)

    atheris.Setup([sys.argv[0], str(corpus), *options], read)
    atheris.Fuzz()


def slow(name: str, folder: Path) -> list[Path]:
    """The inputs that take more than a second of the processor without the measuring too."""
    from attacks.targets import refused_or_taken

    found = []
    for file in sorted(folder.glob("slow-*")):
        began = time.process_time()
        refused_or_taken(name, file.read_bytes())
        if time.process_time() - began > MOST_SECONDS:
            found.append(file)
    return found


def one(name: str, seconds: int, seed: int, folder: Path) -> bool:
    """Fuzzes one target in a process of its own; whether nothing was found."""
    options = [
        f"-max_total_time={seconds}", "-timeout=30", "-report_slow_units=1", f"-rss_limit_mb={MEGABYTES}", "-max_len=6000",
        f"-seed={seed}", f"-artifact_prefix={folder}/", "-print_final_stats=1",
    ]  # fmt: skip
    command = [sys.executable, __file__, "--child", name, "--folder", str(folder), "--", *options]
    done = subprocess.run(command, capture_output=True, text=True, check=False, errors="replace")
    said = done.stdout + done.stderr
    tried = re.search(r"number_of_executed_units:\s*(\d+)", said)
    peak = re.search(r"peak_rss_mb:\s*(\d+)", said)
    slowest = re.search(r"slowest_unit_time_sec:\s*(\d+)", said)
    figures = [m[1] if m else "?" for m in (tried, slowest, peak)]
    late = slow(name, folder)
    told = f"{name}: {figures[0]} inputs, slowest {figures[1]} s, {figures[2]} MB"
    print(told + ("" if done.returncode == 0 and not late else ", FOUND:"), flush=True)
    print("".join(f"  over a second: {file}\n" for file in late), end="")
    if done.returncode:
        start = max(0, said.find("Uncaught Python exception"))
        told = [line for line in said[start:].splitlines() if not re.match(r"#\d|stat::|\s*$", line)]
        print("\n".join(f"  {line}" for line in told[:40]))
    return done.returncode == 0 and not late


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=int, default=600)
    parser.add_argument("--target", action="append", default=[])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--child")
    parser.add_argument("--folder", type=Path)
    parser.add_argument("rest", nargs="*")
    options = parser.parse_args()
    if options.child:
        fuzz(options.child, options.folder, options.rest)
        return 0
    from attacks.targets import targets

    names = options.target or list(targets())
    kept = Path(tempfile.mkdtemp(prefix="found-"))
    print(f"What is found stays in {kept}.")
    well = True
    for name in names:
        (kept / name).mkdir()
        well &= one(name, max(1, options.seconds // len(names)), options.seed, kept / name)
    return int(not well)


if __name__ == "__main__":
    sys.exit(main())
