"""How long does a laptop with new cases take to get in step with a store that holds many, and how does that grow?

Run: python tests/benchmarks/sync.py [--cases 1000 10000] [--new 100] [--store sqlite:///FILE | postgresql://...]

The store is filled with small cases (four events each), then a laptop that has fetched them before brings new ones. A second
laptop then fetches those. Seconds; the ratio is to the smallest number. Without --store an SQLite file is made and thrown away.
A PostgreSQL database must have its tables and be empty; it keeps what comes in, so each number needs a fresh one.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from contextlib import ExitStack, closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

from advisor.model.case import Noted, Opened
from advisor.store.database import database
from advisor.store.folder import CaseStore
from advisor.store.home import FolderHome
from advisor.store.lines import Header, event_line, header_line
from advisor.store.sync import sync

BEGUN = datetime(2031, 3, 4, 7, 30, tzinfo=UTC)


def made(number: int) -> tuple[str, bytes]:
    """A case of four events, and its id."""
    letters = "acdefhjkmnprtuvwxy"
    name = letters[number % 18] + str(2 + number // 18 % 8) + letters[number // 144 % 18]
    day = BEGUN + timedelta(days=number // 2592)
    case_id = f"{day:%Y%m%d}-{name}"
    lines = [header_line(Header(case=case_id, knowledge="d1" * 32, created=day))]
    for n in range(4):
        event = Opened(complaint="reads-low") if n == 0 else Noted(text=f"entry {n} of {number}")
        lines.append(event_line(n, event, day, lines[-1])[0])
    return case_id, b"".join(line + b"\n" for line in lines)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--cases", type=int, nargs="+", default=[1_000, 10_000])
    options.add_argument("--new", type=int, default=100)
    options.add_argument("--store")
    chosen = options.parse_args()
    first = 0.0
    print("  cases    fill s   a case ms   send s   fetch s   nothing s   ratio of send")
    for count in chosen.cases:
        with ExitStack() as stack:
            folder = stack.enter_context(tempfile.TemporaryDirectory())
            home = stack.enter_context(closing(database(chosen.store or f"sqlite:///{folder}/shared.db")))
            home.make()
            begun = time.perf_counter()
            for number in range(count):
                home.take(dict([made(number)]))
            filled = time.perf_counter() - begun
            since = home.kept().until
            here, other = (FolderHome(CaseStore(Path(folder) / name)) for name in ("here", "other"))
            here.store.make()
            for number in range(count, count + chosen.new):
                here.take(dict([made(number)]))
            times = []
            for laptop in (here, other, here):
                begun = time.perf_counter()
                list(sync(laptop, home, since))
                times.append(time.perf_counter() - begun)
            first = first or times[0]
            each = 1000 * filled / count
            taken = f"{times[0]:8.2f} {times[1]:9.2f} {times[2]:11.2f} {times[0] / first:15.2f}"
            print(f"{count:7,d} {filled:9.1f} {each:11.2f} {taken}")


if __name__ == "__main__":
    main()
