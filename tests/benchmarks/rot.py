"""Cuts a case file at every byte, and changes every byte of it, one at a time: what is read is the beginning of what was written.

    python tests/benchmarks/rot.py [--part 1/3] [--step 1] [--scenario scenarios/forwarder-pin-and-air.yaml] [--dialogue 60]

The case is that of a whole scenario with the shipped knowledge, or with `--dialogue` one of so many random replies. `--part` takes
one stretch of its bytes, so that each piece ends in a few minutes.

After a cut, every event of a reply whose lines are complete is there. After a change, either the damaged event is named and all
replies before it are there, or the case is refused; the check code of the whole file never fits. Ends with 1 if a file gave
another history in silence, or gave less than it holds.
"""

from __future__ import annotations

import argparse
import io
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import redirect_stdout
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from attacks.dialogues import only_events, talk

from advisor.cli import run
from advisor.errors import AdvisorError
from advisor.store.folder import CaseStore
from advisor.store.lines import rest_of, whole_replies

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Spoilt:
    """One damage: where, how, and what is wrong with what was read then; empty when nothing is."""

    at: int
    how: str
    wrong: str


def a_case(folder: Path, seed: int, replies: int) -> Path:
    """The file of a case from a random dialogue."""
    list(talk(folder, seed, replies))
    store = CaseStore(folder)
    return store.path(store.newest())


def a_whole_case(folder: Path, scenario: Path) -> Path:
    """The file of a case that the program wrote from a scenario, from the complaint to the close."""
    with redirect_stdout(io.StringIO()):
        code = run(["start", "--answers", str(scenario), "--data-dir", str(folder)])
    if code:
        raise SystemExit(f"{scenario} ends with {code}")
    store = CaseStore(folder)
    return store.path(store.newest())


def walk(path: Path, step: int = 1, seed: int = 1, first: int = 0, end: int | None = None) -> Iterator[Spoilt]:
    """Every damage of a file between two of its bytes, one after the other; the file is as before at the end."""
    store, name, whole, dice = CaseStore(path.parent), path.stem, path.read_bytes(), random.Random(seed)
    events = only_events(store.read(name).case.events)
    code = store.verify(name).codes[-1]
    rests = [rest_of(line) for line in whole.split(b"\n")[1:]]
    try:
        for at in range(first, len(whole) if end is None else end, step):
            line = whole.count(b"\n", 0, at)
            sound = whole_replies(rests[: max(0, line - 1)])
            path.write_bytes(whole[:at])
            yield Spoilt(at, "cut", _after(store, name, events, sound, code))
            changed = whole[:at] + bytes([whole[at] ^ dice.choice((1, 2, 4, 8, 16, 32, 64, 128))]) + whole[at + 1 :]
            path.write_bytes(changed)
            yield Spoilt(at, "changed", _after(store, name, events, sound, code, exact=line > 0))
    finally:
        path.write_bytes(whole)


def _after(store: CaseStore, name: str, events: list[str], sound: int, code: str, *, exact: bool = True) -> str:
    """What is wrong with the reading of a file whose first `sound` events are as they were written."""
    try:
        verified = store.verify(name)
        named = verified.problem is not None
    except AdvisorError:
        return ""  # refused as a whole: a header of another format
    if verified.codes and verified.codes[-1] == code and not named:
        return "its check code still fits"
    try:
        read = store.read(name, damaged=True)
    except AdvisorError:
        return "" if sound == 0 or not exact else f"{sound} sound events cannot be read"
    found = only_events(read.case.events)
    if found != events[: len(found)]:
        return "another history"
    if exact and len(found) != sound:
        return f"{len(found)} events were read, {sound} are sound"
    if len(found) < len(events) and not (named or read.messages) and store.path(name).read_bytes()[-1:] != b"\n":
        return "nothing is said of the damage"
    return ""


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--step", type=int, default=1)
    parser.add_argument("--part", default="1/1")
    parser.add_argument("--scenario", type=Path, default=ROOT / "scenarios" / "forwarder-pin-and-air.yaml")
    parser.add_argument("--dialogue", type=int)
    options = parser.parse_args()
    number, parts = map(int, options.part.split("/"))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = a_whole_case(folder, options.scenario) if options.dialogue is None else a_case(folder, 5, options.dialogue)
        before = time.perf_counter()
        first, end = (path.stat().st_size * n // parts for n in (number - 1, number))
        found = list(walk(path, options.step, first=first, end=end))
        bad = [f for f in found if f.wrong]
        for one in bad[:20]:
            print(f"byte {one.at} {one.how}: {one.wrong}")
        events = len(CaseStore(folder).read(path.stem).case.events)
        print(
            f"part {options.part}: {len(found)} damages of a file of {path.stat().st_size} bytes and {events} events: "
            f"{len(bad)} gave another history or lost a sound event ({time.perf_counter() - before:.0f} s)"
        )
    return int(bool(bad))


if __name__ == "__main__":
    sys.exit(main())
