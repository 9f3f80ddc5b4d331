"""Kills the program in the middle of random dialogues, and holds the case on the disk to what was acknowledged.

    python tests/benchmarks/kills.py [--kills 1000] [--calls 3] [--programs 25] [--seed 1]

`--kills`: random dialogues, each in a process of its own that is killed (SIGKILL) at a random moment. `--calls`: so many
dialogues, each killed at every single call by which the store writes: before it, half-way through it, and after it.
`--programs`: the whole program, over its lines of JSON. An entry counts as acknowledged when the question after it came out.

Prints what was acknowledged, lost, doubled or changed, and how many cases went on exactly where they stood: the same ranking,
the same state of the machine and the same next step, to the last bit. Ends with 1 if anything was lost or differs.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import select
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from attacks.dialogues import LONG, Talked, only_events, resumed, talk
from attacks.faults import Faults, laid

from advisor.model.case import Noted
from advisor.store.folder import CaseStore

SMALL = Path(__file__).parents[1] / "small-knowledge"
COMPLAINT = "motion-without-steering"
KILLS_A_DIALOGUE = 20


@dataclass(frozen=True)
class Kill:
    """What one kill left."""

    acknowledged: int
    kept: int
    lost: int
    doubled: int  # entries that are there twice or that nobody gave
    whole: bool  # the file verifies, and takes a further entry
    same: bool | None = None  # it goes on exactly where it stood; None: no reply had left it so


# ---- dialogues in a process of their own


@cache
def uncut(seed: int, length: int = LONG) -> tuple[tuple[Talked, ...], float]:
    """A dialogue that nobody kills, after each reply, and the seconds it takes."""
    with tempfile.TemporaryDirectory() as name:
        before = time.perf_counter()
        return tuple(talk(Path(name), seed, length)), time.perf_counter() - before


def killed(folder: Path, seed: int, after: float | None, faults: Faults, length: int = LONG) -> Kill:
    """The same dialogue in a child that is killed after so many seconds, or by the layer of faults."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        with suppress(BaseException), laid(faults):
            for talked in talk(folder, seed, length):
                os.write(writing, f"{len(talked.events)}\n".encode())
        os._exit(0)
    os.close(writing)
    said = _heard(reading, child, after)
    os.waitpid(child, 0)
    acknowledged = int(said[-1]) if said else 0
    return left(folder, uncut(seed, length)[0], acknowledged)


def _heard(reading: int, child: int, after: float | None) -> list[str]:
    """What the child said until it died; after so many seconds it is killed."""
    end, said = None if after is None else time.monotonic() + after, b""
    while True:
        wait = None if end is None else max(0.0, end - time.monotonic())
        ready, _, _ = select.select([reading], [], [], wait)
        if not ready:
            os.kill(child, signal.SIGKILL)
            end = None
            continue
        data = os.read(reading, 65536)
        if not data:
            os.close(reading)
            return said.decode().split()
        said += data


def left(folder: Path, whole: Iterable[Talked], acknowledged: int) -> Kill:
    """Holds what lies in a folder to the dialogue that nobody killed."""
    steps = list(whole)
    store = CaseStore(folder)
    if not store.ids():
        return Kill(acknowledged, 0, acknowledged, 0, True, True)
    name = store.newest()
    with store.open(name) as case:  # as `resume` does; moves a torn line aside
        kept = only_events(case.case.events)
        stands = {len(s.events): s.standing for s in steps}
        same = resumed(case.stored) == stands[len(kept)] if len(kept) in stands else None
        case.append(Noted(text="it goes on"), case.stored.created)
    given = steps[-1].events
    strange = sum(a != b for a, b in zip(kept, given, strict=False)) + max(0, len(kept) - len(given))
    answered = [len(s.events) for s in steps if len(s.events) > acknowledged]
    too_many = len(kept) > (answered[0] if answered else len(given))
    return Kill(
        acknowledged, len(kept), max(0, acknowledged - len(kept)), strange + too_many, store.verify(name).problem is None, same
    )


def at_random(kills: int, seed: int) -> Iterator[Kill]:
    """Kills at random moments of random dialogues."""
    dice = random.Random(seed)
    for number in range(kills):
        which = seed * 1000 + number // KILLS_A_DIALOGUE
        with tempfile.TemporaryDirectory() as name:
            yield killed(Path(name), which, dice.uniform(0.0, uncut(which)[1] * 1.1), Faults())


def at_every_call(seed: int, length: int = LONG, step: int = 1) -> Iterator[Kill]:
    """One dialogue, killed before, within and after each (or each so many) of the store's calls."""
    with tempfile.TemporaryDirectory() as name, laid(Faults()) as counted:
        list(talk(Path(name), seed, length))
    for number in range(0, len(counted.seen), step):
        for how in ("before", "half", "after"):
            if how == "half" and counted.seen[number] != "write":
                continue
            with tempfile.TemporaryDirectory() as name:
                yield killed(Path(name), seed, None, Faults(number, how), length)


# ---- the whole program


def kill_once(folder: Path, after: float) -> Kill:
    """One dialogue of notes with the program itself, killed so many seconds after its first note was acknowledged."""
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
    with store.open(name) as case:
        kept = [e.text for e in case.case.events if isinstance(e, Noted)]
    doubled = len(kept) - len(set(kept))
    lost = len([n for n in acknowledged if n not in kept])
    in_order = kept == [f"number {n}" for n in range(len(kept))] and len(kept) <= len(acknowledged) + 1
    return Kill(len(acknowledged), len(kept), lost, doubled, in_order and store.verify(name).problem is None)


def whole_programs(kills: int, seed: int) -> Iterator[Kill]:
    dice = random.Random(seed)
    for _ in range(kills):
        with tempfile.TemporaryDirectory() as name:
            yield kill_once(Path(name), dice.uniform(0.0, 0.4))


def told(what: str, kills: Iterable[Kill]) -> bool:
    """Prints what so many kills left; whether all is well."""
    found = list(kills)
    if not found:
        return True
    entries, lost, doubled = (sum(getattr(k, n) for k in found) for n in ("acknowledged", "lost", "doubled"))
    broken, differ = sum(not k.whole for k in found), sum(k.same is False for k in found)
    equal, between = sum(k.same is True for k in found), sum(k.same is None for k in found)
    print(
        f"{len(found)} kills {what}: {entries} entries acknowledged, {lost} lost, {doubled} doubled or changed, "
        f"{broken} files not whole; {equal} went on bit for bit, {differ} differed, {between} as no reply left them or not asked"
    )
    return not (lost or doubled or broken or differ)


def main() -> int:
    parser = argparse.ArgumentParser()
    for name, usual in (("--kills", 1000), ("--calls", 3), ("--programs", 25), ("--seed", 1)):
        parser.add_argument(name, type=int, default=usual)
    options = parser.parse_args()
    well = told("at random moments", at_random(options.kills, options.seed))
    for number in range(options.calls):
        well &= told(f"at every call of dialogue {options.seed + number}", at_every_call(options.seed + number))
    well &= told("of the whole program", whole_programs(options.programs, options.seed))
    return int(not well)


if __name__ == "__main__":
    sys.exit(main())
