"""What many events and many cases cost: `show`, `record`, `verify` of a long case, and the list of a full folder.

    python tests/benchmarks/long_cases.py [--events 3000] [--cases 1000] [--knowledge FOLDER]

Prints seconds of whole processes, and how each grows when the case is four times as long: 4 is linear.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from advisor.commands.shared import Layers, load_knowledge
from advisor.consultation.scenario import to_event
from advisor.errors import InputError
from advisor.model.case import Case, Event, Noted, Opened
from advisor.model.knowledge import Knowledge
from advisor.model.machine import generic_machine
from advisor.model.scenario import Line
from advisor.reasoning.likelihoods import check_places
from advisor.store.folder import CaseStore

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


def seconds(*arguments: object) -> float:
    """Wall time of one process, the better of two."""
    times = []
    for _ in range(2):
        begun = time.perf_counter()
        done = subprocess.run([sys.executable, "-m", "advisor", *map(str, arguments)], capture_output=True, text=True, check=False)
        times.append(time.perf_counter() - begun)
        assert done.returncode == 0, done.stderr
    return min(times)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--events", type=int, default=3000)
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--knowledge", type=Path, default=None)
    options = parser.parse_args()
    knowledge = load_knowledge(Layers(options.knowledge))
    own = ["--knowledge", options.knowledge] if options.knowledge else []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "long"
        whole = events(knowledge, options.events)
        notes = [whole[0], *[Noted(text="seen") for _ in range(options.events - 1)]]
        print(f"{options.events} events, and a quarter of them ({'real' if not own else 'other'} knowledge)")
        for kind, told in (("mixed", whole), ("notes", notes)):
            long, short = (stored(folder, knowledge, told[:n]) for n in (len(told), len(told) // 4))
            for command in ("show", "record", "verify"):
                slow, quick = (seconds(command, case, "--data-dir", folder, *own) for case in (long, short))
                print(f"{kind:6} {command:7} {slow:6.2f} s   a quarter {quick:5.2f} s   ratio {slow / quick:4.1f}")
        many = Path(name) / "many"
        few = whole[:12]
        for n in range(options.cases):
            stored(many, knowledge, few, NOON + timedelta(minutes=n))
        print(f"cases of {options.cases}: {seconds('cases', '--data-dir', many):5.2f} s; help {seconds('--help'):5.2f} s")


if __name__ == "__main__":
    main()
