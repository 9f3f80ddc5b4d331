"""A foreman's page of made-up cases."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from builders import small_knowledge
from closed_cases import Maker

from advisor.experience.fit import given_minutes
from advisor.model.tally import ShopFigures
from advisor.record.shop_page import OpenCase, ShopPage, shop_page
from advisor.store.folder import CaseStore
from advisor.store.index import ClosedIndex

TITLES = {"sensor-coupling-loose": "Coupling loose on the sensor stem"}
WAITING = (OpenCase("20310304-h4", "Motion without steering", "Loader (invented)", "2031-03-04", 9),)


@cache
def figures(cases: int = 240, seed: int = 3) -> ShopFigures:
    """What so many made-up cases add up to."""
    with tempfile.TemporaryDirectory() as folder:
        index = ClosedIndex(CaseStore(Path(folder)), lambda stored: None, "x")
        with index._open() as db:
            for one in Maker(small_knowledge(), seed, slow=1.4).made(cases):
                index.add(db, one)
        return index.shop(given_minutes(small_knowledge()))


@cache
def many_cases() -> ShopPage:
    """The page of 240 cases."""
    return shop_page(figures(), TITLES, WAITING, "2031-04-02")
