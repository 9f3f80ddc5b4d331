"""How do the shop's works grow with its closed cases: sync, similar, experience and the foreman's page?

Run: python tests/benchmarks/shop.py [--cases 10000 100000] [--new 1000] [--asks 60] [--seed 1] [--keep FOLDER]

Closed cases are drawn from a truth one word off (tests/closed_cases.py), with eight checks each, and go straight into the index,
which grows from one number to the next. Each work is measured there; then `--new` cases of one month come in, and again.
The shared store is an SQLite file of small cases (four events each), loaded without its triggers and indices, which are put back;
then a laptop that is in step brings `--new` cases. Two numbers stand at each work: seconds by the clock, and of the processor,
for a machine with other work; `similar` in milliseconds at the 95th percentile. The last lines are the ratios, by the processor, of
the greatest number to the smallest. With --keep the folder stays, and a run that was cut goes on. A million cases take some 5 GB.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from closed_cases import Maker, off
from loads import load_store
from sync import made as small_case

from advisor.experience.alike import weights
from advisor.experience.fit import fit, given_minutes
from advisor.library.parser import load
from advisor.model.knowledge import Knowledge
from advisor.model.summary import Summary
from advisor.record.render import shop_html
from advisor.record.shop_page import shop_page
from advisor.store.database import database
from advisor.store.folder import CaseStore
from advisor.store.home import FolderHome
from advisor.store.index import NAME, ClosedIndex
from advisor.store.sync import sync

PIECE = 10_000  # cases that one draw of the generator makes: a run that was cut begins its piece again
NEW, ASKED = 10**10, 10**11  # numbers of cases that come in, and of cases that are only asked about
Took = tuple[float, float]  # by the clock, and of the processor


def timed(work: Callable[[], object]) -> Took:
    begun, busy = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - begun, time.process_time() - busy


class Closed:
    """The index of closed cases, and what is asked of it."""

    def __init__(self, knowledge: Knowledge, seed: int, asks: int, folder: Path) -> None:
        folder.mkdir(exist_ok=True)
        self.knowledge, self.seed, self.asks, self.folder = knowledge, seed, asks, folder
        self.worth, self.minutes, self.truth = weights(knowledge), given_minutes(knowledge), off(knowledge, seed, 1)
        self.index = ClosedIndex(CaseStore(folder), lambda stored: None, "benchmark")

    def cases(self, first: int, count: int, step: int = 1) -> Iterator[Summary]:
        """Made-up cases; the number of one sets its month, of 24. With a step of 24 all are of one month."""
        maker = Maker(self.truth, 1_000_003 * self.seed + first)
        return (maker.one(number) for number in range(first, first + step * count, step))

    def grow(self, cases: Iterator[Summary]) -> None:
        with self.index._open() as db:
            for one in cases:
                self.index.add(db, one)

    def fill(self, upto: int) -> None:
        """Makes cases until there are so many."""
        while (there := self.index.count()) < upto:
            self.grow(self.cases(there, min(PIECE - there % PIECE, upto - there)))

    def near(self, first: int) -> tuple[float, float]:
        """Milliseconds at the 95th percentile of asking for past cases like a new one."""
        waits = [
            timed(lambda one=one: self.index.nearest(one.complaint, one.answers, self.worth, most=200))
            for one in self.cases(first, self.asks)
        ]
        clock, busy = ([1000 * w[i] for w in waits] for i in (0, 1))
        return statistics.quantiles(clock, n=20)[-1], statistics.quantiles(busy, n=20)[-1]

    def page(self) -> None:
        shop_html(shop_page(self.index.shop(self.minutes), {}, (), "2031-04-02"))

    def works(self, count: int, new: int) -> dict[str, Took]:
        self.fill(count)
        ask = next(iter(self.knowledge.complaints)), {next(iter(self.worth))}, self.worth
        found = {
            "weigh": timed(lambda: self.index.nearest(*ask, most=1)),
            "similar": self.near(ASKED),
            "count": timed(lambda: self.index.tally(self.minutes)),
            "page": timed(self.page),
            "grow": timed(lambda: self.grow(self.cases(NEW + 24 * count, new, 24))),
            "count+": timed(lambda: self.index.tally(self.minutes)),
            "page+": timed(self.page),
            "weigh+": timed(lambda: self.index.nearest(*ask, most=1)),
            "similar+": self.near(ASKED + self.asks),
        }
        tally = self.index.tally(self.minutes)
        return {**found, "fit": timed(lambda: fit(self.knowledge, tally))}


def shared(count: int, new: int, folder: Path) -> dict[str, Took]:
    """A laptop in step with a store of so many cases brings new ones."""
    file = folder / "shared.db"
    filled = timed(lambda: load_store(file, count))
    with closing(database(f"sqlite:///{file}").open()) as home, tempfile.TemporaryDirectory(dir=folder) as place:
        since = home.kept().until
        laptop = FolderHome(CaseStore(Path(place)))
        laptop.take(dict(small_case(number) for number in range(count, count + new)))
        sent = timed(lambda: list(sync(laptop, home, since)))
        other = FolderHome(CaseStore(Path(place) / "other"))
        return {"load": filled, "send": sent, "fetch": timed(lambda: list(sync(other, home, since)))}


def shown(count: int, row: dict[str, Took], size: float) -> None:
    print(f"{count:9,d} index {size:7,.0f} MB  " + "  ".join(f"{n} {t[0]:.2f}/{t[1]:.2f}" for n, t in row.items()), flush=True)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--cases", type=int, nargs="+", default=[10_000, 100_000])
    options.add_argument("--new", type=int, default=1000)
    options.add_argument("--asks", type=int, default=60)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--keep", type=Path)
    options.add_argument("--only", choices=["closed", "store"], help="one of the two parts")
    chosen = options.parse_args()
    knowledge = load(Path(__file__).parents[2] / "knowledge")
    with tempfile.TemporaryDirectory() as place:
        folder = chosen.keep or Path(place)
        folder.mkdir(exist_ok=True)
        closed = Closed(knowledge, chosen.seed, chosen.asks, folder / "closed")
        rows: list[dict[str, Took]] = []
        for count in chosen.cases:
            row = closed.works(count, chosen.new) if chosen.only != "store" else {}
            row |= shared(count, chosen.new, folder) if chosen.only != "closed" else {}
            size = (folder / "closed" / NAME).stat().st_size / 1e6 if chosen.only != "store" else 0.0
            rows.append(row)
            shown(count, row, size)
        if len(rows) > 1:
            ratios = (f"{name} {rows[-1][name][1] / max(1e-9, rows[0][name][1]):.1f}" for name in rows[0])
            print("    times " + "  ".join(ratios))


if __name__ == "__main__":
    main()
