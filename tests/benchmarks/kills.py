"""Kills the program at random moments of a dialogue, and holds the case on the disk to what was acknowledged.

    python tests/benchmarks/kills.py [--kills 1000] [--seed 1]

Each run begins a case, sends notes and answers, and is killed (SIGKILL) after a random time. An entry counts as acknowledged
when the question after it came out. Prints how many entries were acknowledged, lost, doubled or changed; ends with 1 if any was.
"""

from __future__ import annotations

import argparse
import json
import random
import subprocess
import sys
import tempfile
import threading
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from advisor.model.case import Noted
from advisor.store.folder import CaseStore

SMALL = Path(__file__).parents[1] / "small-knowledge"
COMPLAINT = "motion-without-steering"


@dataclass(frozen=True)
class Kill:
    """What one kill left: notes acknowledged, notes in the file, and whether file and resume are whole."""

    acknowledged: int
    kept: int
    lost: int
    doubled: int
    whole: bool


def kill_once(folder: Path, after: float) -> Kill:
    """One dialogue of notes, killed so many seconds after its first note was acknowledged."""
    command = [sys.executable, "-m", "advisor", "start", "--json-lines", "--complaint", COMPLAINT, "--knowledge", str(SMALL)]
    child = subprocess.Popen(
        [*command, "--data-dir", str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    assert child.stdin is not None
    assert child.stdout is not None
    sent, timer = 0, None
    try:
        while child.stdout.readline():  # a question: what was sent before it is acknowledged
            if sent == 1:
                timer = threading.Timer(after, child.kill)
                timer.start()
            child.stdin.write(json.dumps({"answer": f"note number {sent}"}) + "\n")
            child.stdin.flush()
            sent += 1
    except (BrokenPipeError, ValueError):
        sent += 1
    child.wait()
    child.stdout.close()
    with suppress(BrokenPipeError):
        child.stdin.close()
    if timer is not None:
        timer.join()
    acknowledged = [f"number {n}" for n in range(sent - 1)]
    store = CaseStore(folder)
    name = store.newest()
    with store.open(name) as case:  # as `resume` does; moves a torn line aside
        kept = [e.text for e in case.case.events if isinstance(e, Noted)]
    doubled = len(kept) - len(set(kept))
    lost = len([n for n in acknowledged if n not in kept])
    in_order = kept == [f"number {n}" for n in range(len(kept))] and len(kept) <= len(acknowledged) + 1
    return Kill(len(acknowledged), len(kept), lost, doubled, in_order and store.verify(name).problem is None)


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    dice, found = random.Random(options.seed), []
    for _ in range(options.kills):
        with tempfile.TemporaryDirectory() as name:
            found.append(kill_once(Path(name), dice.uniform(0.0, 0.4)))
    acknowledged, lost, doubled = (sum(getattr(k, what) for k in found) for what in ("acknowledged", "lost", "doubled"))
    broken = sum(not k.whole for k in found)
    print(f"{len(found)} kills: {acknowledged} entries acknowledged, {lost} lost, {doubled} doubled, {broken} cases not whole")
    return int(bool(lost or doubled or broken))


if __name__ == "__main__":
    sys.exit(main())
