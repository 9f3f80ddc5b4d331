"""How do the shop's works grow with its closed cases: sync, similar, experience and the foreman's page?

Run: python tests/benchmarks/shop.py [--cases 10000 100000] [--new 1000] [--asks 40] [--seed 1]

Closed cases are drawn from a truth one word off (tests/closed_cases.py), with eight checks each, and go straight into the index.
The store is an SQLite file with small cases of four events; a laptop that is in step brings `--new` cases more. Seconds, but
for `similar`: milliseconds at the 95th percentile. The last line of each work is how often as long the greatest number takes as
the smallest. Everything is in a folder that is thrown away. A million cases take some 4 GB of it.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from closed_cases import Maker, off
from sqlalchemy import event
from sync import made as small_case

from advisor.experience.alike import weights
from advisor.experience.fit import fit, given_minutes
from advisor.library.parser import load
from advisor.model.knowledge import Knowledge
from advisor.record.render import shop_html
from advisor.record.shop_page import shop_page
from advisor.store.database import database
from advisor.store.folder import CaseStore
from advisor.store.home import FolderHome
from advisor.store.index import NAME, ClosedIndex
from advisor.store.sync import sync

WORKS = ("make s", "index MB", "weigh s", "similar ms", "count s", "fit s", "page s", "fill s", "sync s")


def closed_cases(knowledge: Knowledge, count: int, seed: int, asks: int, folder: Path) -> list[float]:
    """What the index of so many closed cases takes."""
    worth, minutes, truth = weights(knowledge), given_minutes(knowledge), off(knowledge, seed, 1)
    index = ClosedIndex(CaseStore(folder), lambda stored: None, "benchmark")
    begun = time.perf_counter()
    with index._open() as db:
        for one in Maker(truth, seed).made(count):
            index.add(db, one)
    taken = [time.perf_counter() - begun, (folder / NAME).stat().st_size / 1e6]
    begun = time.perf_counter()
    index.nearest(next(iter(knowledge.complaints)), {next(iter(worth))}, worth, most=1)
    taken.append(time.perf_counter() - begun)
    waits = []
    for one in Maker(truth, seed + 1).made(asks):
        begun = time.perf_counter()
        index.nearest(one.complaint, one.answers, worth, most=200)
        waits.append(1000 * (time.perf_counter() - begun))
    taken.append(statistics.quantiles(waits, n=20)[-1])
    begun = time.perf_counter()
    tally = index.tally(minutes)
    taken.append(time.perf_counter() - begun)
    begun = time.perf_counter()
    fit(knowledge, tally)
    taken.append(time.perf_counter() - begun)
    begun = time.perf_counter()
    shop_html(shop_page(index.shop(minutes), {}, (), "2031-04-02"))
    return [*taken, time.perf_counter() - begun]


def shared_store(count: int, new: int, folder: Path) -> list[float]:
    """Filling a store with so many cases, and a laptop in step with it that brings new ones."""
    with closing(database(f"sqlite:///{folder}/shared.db")) as home:
        home.make()
        event.listen(home._engine, "connect", lambda connection, _: connection.execute("PRAGMA synchronous = OFF"))  # to fill it
        begun = time.perf_counter()
        for number in range(count):
            home.take(dict([small_case(number)]))
        filled = time.perf_counter() - begun
    with closing(database(f"sqlite:///{folder}/shared.db").open()) as home:
        since = home.kept().until
        laptop = FolderHome(CaseStore(folder / "laptop"))
        laptop.store.make()
        for number in range(count, count + new):
            laptop.take(dict([small_case(number)]))
        begun = time.perf_counter()
        list(sync(laptop, home, since))
        return [filled, time.perf_counter() - begun]


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--cases", type=int, nargs="+", default=[10_000, 100_000])
    options.add_argument("--new", type=int, default=1000)
    options.add_argument("--asks", type=int, default=40)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--no-store", action="store_true", help="leave the shared store out: filling it takes long")
    chosen = options.parse_args()
    knowledge = load(Path(__file__).parents[2] / "knowledge")
    works = WORKS[:-2] if chosen.no_store else WORKS
    print(f"{'cases':>9} " + " ".join(f"{name:>10}" for name in works))
    rows = []
    for count in chosen.cases:
        with tempfile.TemporaryDirectory() as place:
            (Path(place) / "closed").mkdir()
            row = closed_cases(knowledge, count, chosen.seed, chosen.asks, Path(place) / "closed")
            row += [] if chosen.no_store else shared_store(count, chosen.new, Path(place))
            rows.append(row)
        print(f"{count:9,d} " + " ".join(f"{value:10.2f}" for value in row), flush=True)
    if len(rows) > 1:
        print(f"{'times':>9} " + " ".join(f"{last / first:10.1f}" for first, last in zip(rows[0], rows[-1], strict=True)))


if __name__ == "__main__":
    main()
