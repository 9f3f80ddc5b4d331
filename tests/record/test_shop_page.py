"""The foreman's page: figures as counted, in one file, with the numbers of every picture in a table."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from shop_pages import TITLES, WAITING, figures, many_cases

from advisor.model.tally import Decided, Month, Pace, ShopFigures
from advisor.record import pictures
from advisor.record.render import shop_html
from advisor.record.shop_page import OpenCase, shop_page

MONTHS = (
    Month("2031-02", 4, 3, 2, 1, 400.0, 300.0, 200.0),
    Month("2031-03", 6, 6, 6, 0, 300.0, 180.0, 200.0),
)
CAUSES = (("2031-02", "sensor-coupling-loose", 4), ("2031-03", "chafe-to-ground", 6))
MACHINES = (("Loader <b>$x_1$</b> & co", "chafe-to-ground", 6), ("", "sensor-coupling-loose", 4))
PACES = (Pace("check", "wiggle-harness", 9, 12.0, 6.0), Pace("repair", "chafe-to-ground", 6, 50.0, 50.0))
CHECKS = (Decided("wiggle-harness", 9, 0), Decided("coupling-grip", 9, 2), Decided("terminal-drag", 4, 0))
FIGURES = ShopFigures(10, MONTHS, CAUSES, MACHINES, PACES, CHECKS)


def words(page: str) -> str:
    """What a person reads, without the pictures."""
    body = re.sub(r"<svg.*?</svg>", " ", page.split("<body>")[1], flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]*>", " ", body).split())


def page_of(figures_: ShopFigures = FIGURES, waiting: tuple[OpenCase, ...] = WAITING) -> str:
    return shop_html(shop_page(figures_, TITLES, waiting, "2031-04-02"))


def test_the_sums_are_those_of_the_months() -> None:
    """Ten closed, eight right the first time, one came back, 480 minutes of 400 planned, one open."""
    said = words(page_of())
    assert "10 closed" in said
    assert "80% right the first time" in said
    assert "10% came back after a repair" in said
    assert "120% of the minutes planned" in said
    assert "1 open now" in said
    assert "2031-02 4 3 50% 25% 100 150%" in said


def test_a_check_done_often_that_never_changed_what_led_is_named() -> None:
    """With the minutes it took in all; one that was done seldom is not judged."""
    said = words(page_of()).split("Checks that never changed a decision")[1]
    assert "wiggle-harness 9 108" in said
    assert "coupling-grip" not in said
    assert "terminal-drag" not in said


def test_the_work_furthest_from_plan_comes_first() -> None:
    """By minutes in all, whether it took longer or shorter."""
    rows = shop_page(FIGURES, TITLES, (), "").slow
    assert [p.what for _, p in rows] == ["wiggle-harness", "chafe-to-ground"]


def test_a_name_from_outside_stays_a_text() -> None:
    """Marks of pages and of formulas in a machine's name show as they were typed, in the table and in the picture."""
    page = page_of()
    assert "<b>$x_1$</b>" not in page
    assert "Loader &lt;b&gt;$x_1$&lt;/b&gt; &amp; co" in page
    assert "No machine file" in words(page)


def test_every_picture_has_its_own_names_and_the_same_cases_the_same_page() -> None:
    """No id stands twice, nothing is asked of another place, and no date of the drawing is left in it."""
    page = shop_html(many_cases())
    ids = re.findall(r'\bid="([^"]*)"', page)
    assert page.count("<svg") == 5
    assert len(ids) == len(set(ids))
    assert not re.search(r'(?:src|href)="(?!#)', re.sub(r'xmlns[^=]*="[^"]*"', "", page))
    assert "<image" not in page
    assert shop_html(shop_page(figures(), TITLES, WAITING, "2031-04-02")) == page


def test_without_the_library_the_tables_remain(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every number is still there, and the way to the pictures is told."""
    whole = words(page_of())
    monkeypatch.setattr(pictures, "installed", lambda: False)
    page = page_of()
    assert "<svg" not in page
    hint = " Pictures come with one more library. Type: pip install 'advisor[shop]'"
    assert words(page).replace("&#39;", "'").replace(hint, "") == whole


def test_a_shop_without_closed_cases_has_a_page() -> None:
    """It says so, and still lists what is open."""
    said = words(page_of(ShopFigures()))
    assert "No case is closed yet." in said
    assert "20310304-h4" in said
    assert "No case is open." in words(page_of(replace(FIGURES, causes=(), machines=(), paces=(), checks=()), ()))
