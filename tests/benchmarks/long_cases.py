"""What many events and many cases cost: `show`, `record`, `verify` of a long case, and the commands on a full folder.

    python tests/benchmarks/long_cases.py [--events 3000] [--cases 1000] [--full 20000] [--knowledge FOLDER]

Prints seconds of whole processes, by the clock and of the processor, against a bare program of the same libraries in the same
run; and how each grows when the case is four times as long: 4 is linear. They keep their bytecode, as an installed program does.
"""

from __future__ import annotations

import argparse
import atexit
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import product
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from startup import BARE

from advisor.commands.shared import Layers, load_knowledge
from advisor.consultation.scenario import to_event
from advisor.errors import InputError
from advisor.model.case import Case, Closed, Event, Noted, Opened
from advisor.model.knowledge import Knowledge
from advisor.model.machine import generic_machine
from advisor.model.scenario import Line
from advisor.reasoning.likelihoods import check_places
from advisor.store.folder import NEWEST, CaseStore
from advisor.store.lines import DIGITS, LETTERS, Header, event_line, header_line

NOON = datetime(2031, 3, 9, 12, 0, tzinfo=UTC)
MACHINE = generic_machine()


def events(knowledge: Knowledge, count: int, seed: int = 1) -> list[Event]:
    """A case of this many events: answers at every place, corrections, skips, some taken back, and notes between them."""
    dice = random.Random(seed)
    checks = [c for c in knowledge.checks.values() if c.measure is None and c.at != "section" and not c.many]
    made: list[Event] = [Opened(complaint="motion-without-steering", occurrences=6, hours=14)]
    while len(made) < count:
        check = dice.choice(checks)
        place = dice.choice([p for p in check_places(check, MACHINE) if p is not None] or [None])
        kind = dice.choices(("check", "note", "correct", "skip", "undo"), (6, 2, 1, 1, 0.5))[0]
        values = {
            "check": {"check": check.id, "place": place, "result": dice.choice(check.results).id},
            "correct": {"correct": check.id, "place": place, "result": dice.choice(check.results).id},
            "skip": {"skip": check.id, "place": place}, "note": {"note": "seen"}, "undo": {"undo": True},
        }[kind]  # fmt: skip
        line = Line.model_validate({k: v for k, v in values.items() if v is not None})
        try:
            recent = Case((made[0], *made[-200:])) if kind in ("check", "note", "skip") else Case(tuple(made))
            made.append(to_event(knowledge, MACHINE, recent, line))
        except InputError:
            continue
    return made


def stored(folder: Path, knowledge: Knowledge, told: list[Event], at: datetime = NOON) -> str:
    first = told[0]
    assert isinstance(first, Opened)
    with CaseStore(folder).create(first, knowledge.digest, at) as case:
        case.append_all(told[1:], at)
        return case.stored.case_id


def filled(folder: Path, count: int) -> None:
    """A folder of so many short cases, as a shop has them after years. Half of them are closed."""
    folder.mkdir()
    suffixes = ["".join(letters) for letters in product(LETTERS, DIGITS, LETTERS)]
    name = ""
    for n in range(count):
        now = NOON + timedelta(minutes=25 * n)
        name = f"{now:%Y%m%d}-{suffixes[n % len(suffixes)]}"
        above = header_line(Header(case=name, knowledge="0" * 64, created=now))
        lines = [above]
        told = (Opened(complaint="reads-low", occurrences=6, hours=14), Noted(text="seen"), Closed(by="me"))
        for number, event in enumerate(told[: 2 + n % 2]):
            above, _ = event_line(number, event, now, above)
            lines.append(above)
        (folder / f"{name}.jsonl").write_bytes(b"".join(line + b"\n" for line in lines))
    (folder / NEWEST).write_text(name, encoding="ascii")


@dataclass(frozen=True)
class Took:
    """Seconds of one process: by the clock, and of the processor, which a busy computer makes longer only a little."""

    clock: float
    processor: float

    def __str__(self) -> str:
        return f"{self.clock:6.2f} s ({self.processor:5.2f} s of the processor)"


@cache
def surroundings() -> dict[str, str]:
    """Those of the processes: bytecode is kept, as an installed program has it, and nobody else throws out what is kept."""
    own = tempfile.mkdtemp(prefix="long-cases-")
    atexit.register(shutil.rmtree, own, ignore_errors=True)
    given = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {**given, "PYTHONPYCACHEPREFIX": f"{own}/bytecode", "ADVISOR_CACHE_DIR": f"{own}/kept"}


def seconds(*arguments: object, program: tuple[str, ...] = ("-m", "advisor"), codes: tuple[int, ...] = (0,)) -> Took:
    """One process, the best of three: the first one may have to make what is kept."""
    found = []
    command = [sys.executable, *program, *map(str, arguments)]
    for _ in range(3):
        begun, before = time.perf_counter(), os.times()
        done = subprocess.run(command, capture_output=True, text=True, check=False, input="", env=surroundings())
        after = os.times()
        used = after.children_user + after.children_system - before.children_user - before.children_system
        found.append(Took(time.perf_counter() - begun, used))
        assert done.returncode in codes, done.stderr
    return min(found, key=lambda took: took.processor)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--events", type=int, default=3000)
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--full", type=int, default=20_000)
    parser.add_argument("--knowledge", type=Path, default=None)
    options = parser.parse_args()
    knowledge = load_knowledge(Layers(options.knowledge))
    own = ["--knowledge", options.knowledge] if options.knowledge else []
    print(f"{'bare typer and rich':32} {seconds(program=('-c', BARE))}")
    print(f"{'help':32} {seconds('--help')}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "long"
        whole = events(knowledge, options.events)
        notes = [whole[0], *[Noted(text="seen") for _ in range(options.events - 1)]]
        print(f"{options.events} events, and a quarter of them ({'real' if not own else 'other'} knowledge)")
        for kind, told in (("mixed", whole), ("notes", notes)):
            long, short = (stored(folder, knowledge, told[:n]) for n in (len(told), len(told) // 4))
            for command in ("show", "record", "verify"):
                slow, quick = (seconds(command, case, "--data-dir", folder, *own) for case in (long, short))
                print(f"{kind:6} {command:25} {slow}   a quarter {quick}   ratio {slow.processor / quick.processor:4.1f}")
        for count in (options.cases, options.full):
            many = Path(name) / str(count)
            filled(many, count)
            print(f"{count} cases, {'listed':20} {seconds('cases', '--data-dir', many)}")
            print(f"{count} cases, {'newest shown':20} {seconds('show', '--data-dir', many, *own)}")
            print(f"{count} cases, {'newest gone on with':20} {seconds('resume', '--data-dir', many, *own, codes=(0, 5))}")


if __name__ == "__main__":
    main()
