"""The pages in a real browser: quiet, without a request, readable by everyone, and printed on the pages they should take.

Needs a Chromium and playwright; without either every test here is skipped with the reason.
"""

from __future__ import annotations

import io
import shutil
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from builders import whole_case
from shop_pages import many_cases

from advisor.model.case import Case
from advisor.record.compare import compare
from advisor.record.render import compared_html, html, shop_html
from advisor.record.view import RecordView, build

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))
SYSTEM = ("chromium", "chromium-browser", "google-chrome")
NOW = datetime(2031, 3, 4, 16, 5, tzinfo=UTC)
PAPER = {"A4": (595, 842), "Letter": (612, 792)}  # points, ISO 216 and ANSI/ASME Y14.1
POINTS_A_MM, PIXELS_A_MM = 72 / 25.4, 96 / 25.4  # CSS Values and Units, absolute lengths
SIGNED = "Signed"  # the caption of the last table of the first page
GRAVE = ("serious", "critical")


@dataclass
class Browsed:
    """A page with what it said and asked for."""

    page: Any
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A headless Chromium: the system's, else the one that playwright itself installed."""
    system = next(filter(None, map(shutil.which, SYSTEM)), None)
    with playwright.sync_playwright() as driver:
        own = Path(driver.chromium.executable_path)
        if system is None and not own.exists():
            pytest.skip("no Chromium here: install one, or run: playwright install chromium")
        running = driver.chromium.launch(executable_path=system or str(own), args=["--no-sandbox", "--disable-quic"])
        yield running
        running.close()


@cache
def view(name: str, part: float = 1.0) -> RecordView:
    """The record of a scenario, or of its first part."""
    file = next(s for s in SCENARIOS if s.stem == name)
    consultation, case = whole_case(file)
    kept = Case(case.events[: max(1, round(part * len(case.events)))])
    return build(consultation, kept, name, NOW, {"order": "4711", "technician": "R. Example"})


@cache
def page_of(name: str) -> str:
    """The pages that are looked at: whole cases, one not finished, one with the repair but no retest, one comparison."""
    match name:
        case "unfinished":
            return html(view("loader-splice", 0.5))
        case "opened":
            return html(view("sprayer-coupling", 0.0))
        case "not-proven":
            return html(view("sprayer-coupling", 0.75))
        case "shop":
            return shop_html(many_cases())
        case "compared":
            return compared_html(compare(view("loader-splice"), view("sprayer-branch-joint")))
    return html(view(name))


PAGES = (
    "loader-splice",
    "dumper-reference-at-fault",
    "quarry-scraper-wrong-spring",
    "unfinished",
    "opened",
    "not-proven",
    "compared",
)
ALL_PAGES = (*PAGES, "shop")  # the shop's pictures have letters aslant, whose boxes are not those of the letters


@pytest.fixture
def browsed(browser: Any, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Browsed]:
    """The page that the test asks for by name, opened from a file as a shop would open it."""
    file = tmp_path / "record.html"
    file.write_text(page_of(request.param), encoding="utf-8")
    found = Browsed(browser.new_page(viewport={"width": 900, "height": 1200}))
    found.page.on("console", lambda message: found.said.append(message.text))
    found.page.on("pageerror", lambda error: found.said.append(str(error)))
    found.page.on("request", lambda asked: found.asked.append(asked.url))
    found.page.goto(file.as_uri())
    yield found
    found.page.close()


@pytest.mark.parametrize("browsed", ALL_PAGES, indirect=True)
def test_a_page_is_quiet_and_asks_for_nothing(browsed: Browsed) -> None:
    """No message on the console and no request but the file itself."""
    assert browsed.said == []
    assert [url.rsplit("/", 1)[-1] for url in browsed.asked] == ["record.html"]


@pytest.mark.parametrize("browsed", ALL_PAGES, indirect=True)
def test_a_page_has_no_grave_barrier(browsed: Browsed) -> None:
    """axe-core finds nothing serious or critical."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    found = axe.Axe().run(browsed.page).response
    assert len(found["passes"]) > 10
    assert [(v["id"], v["nodes"][0]["html"]) for v in found["violations"] if v["impact"] in GRAVE] == []


@pytest.mark.parametrize("browsed", ALL_PAGES, indirect=True)
def test_nothing_is_wider_than_the_window(browsed: Browsed) -> None:
    """On a telephone as on a desk nothing has to be pushed sideways."""
    for width in (900, 390):
        browsed.page.set_viewport_size({"width": width, "height": 900})
        assert browsed.page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("browsed", PAGES, indirect=True)
def test_no_label_of_a_picture_covers_another(browsed: Browsed) -> None:
    """In each picture the boxes of all texts stay apart and inside the drawing."""
    boxes = browsed.page.evaluate(
        """() => [...document.querySelectorAll('svg')].filter(svg => svg.getBoundingClientRect().width).map(
            svg => [svg, ...svg.querySelectorAll('text')].map(
                e => {const b = e.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom, e.textContent]}))"""
    )
    for outer, *texts in boxes:
        for i, (left, top, right, bottom, text) in enumerate(texts):
            assert outer[0] - 1 <= left, text
            assert right <= outer[2] + 1, text
            for other in texts[i + 1 :]:
                apart = right <= other[0] + 1 or other[2] <= left + 1 or bottom <= other[1] + 3 or other[3] <= top + 3
                assert apart, (text, other[4])


def test_the_first_page_holds_the_whole_summary(browser: Any) -> None:
    """For every scenario, finished and half way, the summary is no higher than what A4 and Letter leave between their margins."""
    page = browser.new_page()
    page.emulate_media(media="print")
    for name in (s.stem for s in SCENARIOS):
        for part in (1.0, 0.5):
            page.set_content(html(view(name, part)))
            for paper, (width, height) in PAPER.items():
                across, down = (round((side / POINTS_A_MM - margin) * PIXELS_A_MM) for side, margin in ((width, 26), (height, 26)))
                page.set_viewport_size({"width": across, "height": down})
                taken = page.evaluate("document.querySelector('.summary').getBoundingClientRect().height")
                assert 0.3 * down < taken < down, (name, part, paper)
    page.close()


@pytest.mark.parametrize("browsed", PAGES, indirect=True)
def test_no_letter_of_a_picture_is_too_small(browsed: Browsed) -> None:
    """On a telephone as on a desk every text of a drawing has at least 9 pixels."""
    for width in (900, 390):
        browsed.page.set_viewport_size({"width": width, "height": 900})
        sizes = browsed.page.evaluate(
            """() => [...document.querySelectorAll('svg text')].filter(t => t.getBoundingClientRect().width).map(
                t => [parseFloat(t.getAttribute('font-size')) * t.getScreenCTM().a, t.textContent])"""
        )
        assert [(size, text) for size, text in sizes if size < 9] == []


def test_no_record_takes_more_pages_than_a_foreman_reads(browser: Any) -> None:
    """On A4 at most four pages; a case of more than 25 events may have six."""
    page = browser.new_page()
    for name in (s.stem for s in SCENARIOS):
        page.set_content(html(view(name)))
        most = 6 if len(view(name).steps) > 25 else 4
        assert 2 <= len(printed(page, "A4")) <= most, name
    page.close()


def printed(page: Any, paper: str) -> list[str]:
    """The text of each page of the print."""
    found = pypdf.PdfReader(io.BytesIO(page.pdf(format=paper)))
    for p in found.pages:
        assert (float(p.mediabox.width), float(p.mediabox.height)) == pytest.approx(PAPER[paper], abs=1.5)
    return [unicodedata.normalize("NFKC", p.extract_text()) for p in found.pages]  # ligatures are print, not text


@pytest.mark.parametrize("browsed", PAGES, indirect=True)
def test_a_print_has_its_pages_and_no_cut_line(browsed: Browsed) -> None:
    """The summary with its signatures is page one, the trail begins page two; every heading is printed whole, no page is blank."""
    words = browsed.page.evaluate(
        "[...document.querySelectorAll('h1, h2, h3, th')].filter(e => e.innerText.trim()).map(e => e.innerText)"
    )
    for paper in PAPER:
        texts = printed(browsed.page, paper)
        assert all(text.strip() for text in texts)
        whole = "".join("".join(texts).split())
        assert [w for w in words if "".join(w.split()) not in whole] == []
        if "Two cases side by side" in texts[0]:
            assert 1 <= len(texts) <= 4
            continue
        assert texts[0].index("Open points") < texts[0].index(SIGNED)
        assert not any(SIGNED in text or "Order number" in text for text in texts[1:])
        assert 2 <= len(texts) <= 5
