"""How many cases a second does a laptop send to a store that holds many, and fetch from it, and how does that grow?

Run: python tests/benchmarks/sync.py [--cases 1000 10000] [--new 1000] [--store sqlite postgresql]

A store is filled with small cases (four events each), then a laptop that has fetched them before brings `--new` more. Another
laptop fetches those. Then the first one syncs with nothing new. Each store is made and thrown away: an SQLite file, and a database
of a PostgreSQL server of the benchmark's own, where its binaries are installed. Both write to the disk before they answer.
The seconds of this process's processor stand beside those of the clock, for a busy machine; those of the server are not in it.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from store.servers import server

from advisor.model.case import Noted, Opened
from advisor.store.database import DatabaseHome, database
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


@contextmanager
def empty(kind: str, folder: Path) -> Iterator[DatabaseHome]:
    """An empty store of this kind."""
    with ExitStack() as stack:
        name = f"sqlite:///{folder}/shared.db"
        if kind == "postgresql":
            found = stack.enter_context(server(safe=True))
            os.environ["PGPASSFILE"] = str(found.passwords)
            name = found.url()
        home = stack.enter_context(closing(database(name)))
        home.make()
        yield home


def filled(home: DatabaseHome, count: int) -> float:
    """Fills a store with so many cases; the seconds."""
    begun = time.perf_counter()
    for first in range(0, count, 500):
        home.take(dict(made(number) for number in range(first, min(first + 500, count))))
    return time.perf_counter() - begun


def measured(home: DatabaseHome, count: int, new: int, folder: Path) -> list[tuple[float, float]]:
    """Seconds by the clock and of the processor, to send, to fetch, and to sync with nothing new."""
    since = home.kept().until
    here, other = (FolderHome(CaseStore(folder / name)) for name in ("here", "other"))
    here.take(dict(made(number) for number in range(count, count + new)))
    times = []
    for laptop in (here, other, here):
        begun, busy = time.perf_counter(), time.process_time()
        list(sync(laptop, home, since))
        times.append((time.perf_counter() - begun, time.process_time() - busy))
    return times


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--cases", type=int, nargs="+", default=[1_000, 10_000])
    options.add_argument("--new", type=int, default=1000)
    options.add_argument("--store", nargs="+", choices=["sqlite", "postgresql"], default=["sqlite", "postgresql"])
    chosen = options.parse_args()
    print("store         cases    filled a s     sent a s (clock, cpu s)    fetched a s (clock, cpu s)   nothing s   ratio of send")
    for kind in chosen.store:
        first = 0.0
        for count in chosen.cases:
            with tempfile.TemporaryDirectory() as place, empty(kind, Path(place)) as home:
                fill = count / filled(home, count)
                (send, send_cpu), (fetch, fetch_cpu), (nothing, _) = measured(home, count, chosen.new, Path(place))
                first = first or send
                sent = f"{chosen.new / send:9,.0f} ({send:6.2f}, {send_cpu:6.2f})"
                got = f"{chosen.new / fetch:9,.0f} ({fetch:6.2f}, {fetch_cpu:6.2f})"
                print(f"{kind:10} {count:9,d} {fill:13,.0f}  {sent}   {got}     {nothing:9.2f} {send / first:15.2f}", flush=True)


if __name__ == "__main__":
    main()
