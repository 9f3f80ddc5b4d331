"""Many processes on one data folder: cases begun at the same moment, and cases written, packed, taken in and listed at once.

    python tests/benchmarks/at_once.py [--processes 200] [--workers 8] [--turns 60] [--seed 1]

Prints how many cases were begun, how many entries were acknowledged, and how many of them are not there, are there twice, or stand
in a file that does not verify. Ends with 1 if any does.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from builders import MORNING

from advisor.errors import CaseLocked
from advisor.model.case import Noted, Opened
from advisor.store.folder import CaseStore
from advisor.store.transfer import send, take_in, unpack

OPENED = Opened(complaint="motion-without-steering")


@dataclass(frozen=True)
class AtOnce:
    """What many processes left in one folder."""

    cases: int
    acknowledged: int
    missing: int
    doubled: int
    broken: int  # cases that do not verify
    refused: int  # times that somebody was told that a case is open elsewhere
    errors: tuple[str, ...]  # what no process should meet

    @property
    def well(self) -> bool:
        return not (self.missing or self.doubled or self.broken or self.errors)


def together(count: int, work: Callable[[int], list[str]]) -> list[str]:
    """What so many processes said, which all began to work at the same moment. An error is said as a line with `!` before it."""
    gate, opened = os.pipe()
    said, saying = os.pipe()
    children = []
    for number in range(count):
        child = os.fork()
        if child == 0:
            os.close(opened)
            os.read(gate, 1)  # until the parent closes its end
            try:
                lines = work(number)
            except BaseException:
                lines = [f"!{traceback.format_exc().splitlines()[-1]}"]
            for line in lines:
                os.write(saying, f"{line}\n".encode())
            os._exit(0)
        children.append(child)
    os.close(gate)
    os.close(saying)
    os.close(opened)
    with os.fdopen(said, encoding="utf-8") as stream:
        heard = stream.read().splitlines()
    for child in children:
        os.waitpid(child, 0)
    return heard


def begin(folder: Path, processes: int) -> AtOnce:
    """Each process begins a case and writes one entry."""

    def work(number: int) -> list[str]:
        with CaseStore(folder).create(OPENED, "d" * 64, MORNING) as case:
            case.append(Noted(text=f"by {number}"), MORNING)
            return [f"by {number}"]

    found = _left(folder, together(processes, work))
    return found if found.cases == processes else AtOnce(**{**found.__dict__, "missing": found.missing + processes - found.cases})


def mixed(folder: Path, workers: int, turns: int, seed: int) -> AtOnce:
    """Each process writes to cases of the others, begins, lists, copies, packs and takes in, as it comes."""
    store = CaseStore(folder)
    for _ in range(3):
        store.create(OPENED, "d" * 64, MORNING).close()

    def work(number: int) -> list[str]:
        dice, said = random.Random(seed * 1000 + number), []
        for turn in range(turns):
            what, text = dice.random(), f"{number}-{turn}"
            ids = [name for name in store.ids() if "." not in name]
            try:
                if what < 0.6:
                    with store.open(dice.choice(ids)) as case:
                        case.append(Noted(text=text), MORNING)
                        said.append(text)
                elif what < 0.7:
                    with store.create(OPENED, "d" * 64, MORNING) as case:
                        case.append(Noted(text=text), MORNING)
                        said.append(text)
                elif what < 0.8:
                    store.list()
                    store.newest()
                else:
                    archive = folder / f"{text}.zip"
                    send(store, archive, dice.sample(ids, min(3, len(ids))))
                    said += ["-" for one in take_in(store, unpack(archive)) if one.did == "locked"]
                    archive.unlink()
            except CaseLocked:
                said.append("-")
        return said

    return _left(folder, together(workers, work))


def _left(folder: Path, heard: list[str]) -> AtOnce:
    store = CaseStore(folder)
    notes: list[str] = []
    broken = 0
    names = store.ids()
    for name in names:
        broken += store.verify(name).problem is not None
        with suppress(Exception):
            notes += [e.text for e in store.read(name).case.events if isinstance(e, Noted) and "." not in name]
    given = [line for line in heard if not line.startswith(("!", "-"))]
    return AtOnce(
        len(names), len(given), len(set(given) - set(notes)), len(notes) - len(set(notes)), broken, heard.count("-"),
        tuple(line[1:] for line in heard if line.startswith("!")),
    )  # fmt: skip


def told(what: str, found: AtOnce) -> bool:
    print(
        f"{what}: {found.cases} cases, {found.acknowledged} entries acknowledged, {found.missing} missing, "
        f"{found.doubled} doubled, {found.broken} files broken, {found.refused} times told that a case is open, "
        f"{len(found.errors)} errors"
    )
    for line in found.errors[:5]:
        print(f"  {line}")
    return found.well


def main() -> int:
    parser = argparse.ArgumentParser()
    for name, usual in (("--processes", 200), ("--workers", 8), ("--turns", 60), ("--seed", 1)):
        parser.add_argument(name, type=int, default=usual)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as other:
        well = told(f"{options.processes} begin at once", begin(Path(one), options.processes))
        well &= told(
            f"{options.workers} work at once, {options.turns} turns each",
            mixed(Path(other), options.workers, options.turns, options.seed),
        )
    return int(not well)


if __name__ == "__main__":
    sys.exit(main())
