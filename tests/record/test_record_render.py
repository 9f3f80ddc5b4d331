"""The record as Markdown and HTML: nothing from outside breaks out, and both can be read by everyone."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

import pytest
from builders import MACHINE
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from record.tales import FINISHED, FOUND, REPAIRED, START, record
from syrupy.assertion import SnapshotAssertion

from advisor.record.material import per_cent
from advisor.record.pager import COLUMNS, paged
from advisor.record.render import cleaned, escaped, html, markdown, signed

HOSTILE = (
    "</style><script>alert(1)</script>\"'><img src=x onerror=alert(2)> | a `code` *bold* _it_ [x](y) <b> &lt;\n"
    "# head\n- item\x1b[2J\x07\x00 \u202eevil\ud800"
)
VOID = {"meta", "line", "polyline", "circle", "path", "rect", "br"}


class Reader(HTMLParser):
    """Reads a page: tags with attributes, text, and whether every tag is closed."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text: list[str] = []
        self.wrong: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def hostile() -> Any:
    """A record in which every text from outside is hostile."""
    machine = {**MACHINE, "title": HOSTILE.replace("\ud800", "")}
    lines = ({"note": HOSTILE}, {"skip": "output-sweep", "why": HOSTILE}, {"close": None, "by": HOSTILE, "reason": HOSTILE})
    return record(*lines, details={"order": HOSTILE, HOSTILE: HOSTILE}, machine=machine, **START)


@pytest.mark.parametrize("lines", [(), FOUND[:5], REPAIRED, FINISHED], ids=["opened", "unfinished", "not-proven", "finished"])
def test_every_page_is_well_formed(lines: tuple[dict[str, Any], ...]) -> None:
    """Every tag is closed in order, at every stage of a case."""
    page = Reader(html(record(*lines)))
    assert (page.open, page.wrong) == ([], [])


def test_hostile_texts_stay_texts_in_html() -> None:
    """No script, no image, no handler comes of a note, a name or a detail; the words stand there as words."""
    page = Reader(html(hostile()))
    assert (page.open, page.wrong) == ([], [])
    assert {"script", "img", "b"}.isdisjoint(tag for tag, _ in page.tags)
    assert not any(name.startswith("on") for _, attributes in page.tags for name in attributes)
    assert "<script>alert(1)</script>" in "".join(page.text)


def test_hostile_texts_stay_texts_in_markdown() -> None:
    """Read as Markdown, the same texts make no link, no code, no heading, no list and no further table cell."""
    text = markdown(hostile())
    tokens = MarkdownIt("commonmark", {"html": True}).enable("table").parse(text)
    inline = [child for token in tokens for child in token.children or []]
    assert {"link_open", "code_inline", "html_inline", "em_open", "image"}.isdisjoint(child.type for child in inline)
    assert "html_block" not in {token.type for token in tokens}
    headings = [tokens[i + 1].content for i, token in enumerate(tokens) if token.type == "heading_open"]
    assert not any(h.startswith("head") for h in headings)
    order = [line for line in text.splitlines() if line.startswith("| Order number")]
    assert len(re.findall(r"(?<!\\)\|", order[0])) == 3


@pytest.mark.parametrize("make", [html, markdown])
def test_no_control_character_comes_through(make: Any) -> None:
    """Escape sequences, bells, turned writing direction and halves of characters are gone; what is left is UTF-8."""
    text = make(hostile())
    assert not set(text) & {*map(chr, range(9)), "\x1b", "\x7f", "\u202e", "\ud800"}
    text.encode("utf-8")


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=40))
def test_any_text_comes_back_from_markdown_as_it_was(text: str) -> None:
    """Whatever is escaped, a Markdown reader shows on one line, as plain text."""
    shown = " ".join(cleaned(text).split())
    tokens = MarkdownIt("commonmark").parse(f"- {escaped(text).strip()}")
    inline = [t for t in tokens if t.type == "inline"]
    assert "".join(c.content for t in inline for c in t.children or []) == shown
    assert {c.type for t in inline for c in t.children or []} <= {"text", "text_special"}
    assert [t.type for t in tokens].count("list_item_open") == 1


def test_the_page_asks_for_nothing_from_outside() -> None:
    """One file: a policy that forbids every source, no link, no address but the name of the drawing format."""
    text = html(record(*FINISHED))
    page = Reader(text)
    policy = next(a["content"] for t, a in page.tags if t == "meta" and a.get("http-equiv") == "Content-Security-Policy")
    assert policy == "default-src 'none'; style-src 'unsafe-inline'"
    assert not any({"src", "href", "style"} & set(attributes) for _, attributes in page.tags)
    assert set(re.findall(r"\w+://[^\"'\s]+", text)) == {"http://www.w3.org/2000/svg"}


def test_the_page_can_be_read_aloud() -> None:
    """It names its language, every table has a caption and scoped headings, every picture a title and a description."""
    page = Reader(html(record(*FINISHED)))
    count = [tag for tag, _ in page.tags].count
    assert page.tags[0] == ("html", {"lang": "en"})
    assert count("table") == count("caption") > 6
    assert all(attributes.get("scope") in ("row", "col") for tag, attributes in page.tags if tag == "th")
    pictures = [attributes for tag, attributes in page.tags if tag == "svg"]
    ids = {attributes["id"] for _, attributes in page.tags if "id" in attributes}
    assert len(pictures) == 3
    assert all(p["role"] == "img" and set(str(p["aria-labelledby"]).split()) <= ids for p in pictures)


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.1."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_colour_stands_out_from_white() -> None:
    """Every colour used is white itself or has a contrast of 4.5 to 1 against it (WCAG 2.1, 1.4.3)."""
    colours = set(re.findall(r"#[0-9a-f]{6}\b", html(record(*FINISHED))))
    assert len(colours) > 4
    assert [c for c in colours if c != "#ffffff" and 1.05 / (luminance(c) + 0.05) < 4.5] == []


def test_not_proven_cannot_be_missed() -> None:
    """The alarm stands before the complaint in both forms, and is gone once the retest passed."""
    view = record(*REPAIRED)
    for text in (html(view), markdown(view)):
        assert text.index("NOT PROVEN") < text.index("Complaint")
    assert "NOT PROVEN" not in html(record(*FINISHED)) + markdown(record(*FINISHED))


@pytest.mark.parametrize("make", [html, markdown])
def test_the_generic_layout_is_named_as_such(make: Any) -> None:
    """A record without a machine file says that the layout is not this machine's; one with a file does not."""
    assert "the generic layout stands in" in " ".join(make(record(machine=None)).split())
    assert "the generic layout stands in" not in " ".join(make(record()).split())


def test_the_markdown_of_a_finished_case(snapshot: SnapshotAssertion) -> None:
    """The whole record of a fixed case; whoever changes it sees every change."""
    assert markdown(record(*FINISHED, details={"order": "4711"})) == snapshot


def test_numbers_carry_signs_and_never_claim_certainty() -> None:
    """A true minus, no sign for nothing, and neither 0 nor 100 per cent for what is not quite that."""
    assert [signed(x) for x in (2.34, -2.34, 0.0, -0.01)] == ["+2.3", "\N{MINUS SIGN}2.3", "0.0", "0.0"]
    assert [per_cent(x) for x in (0.0, 0.004, 0.41, 0.997, 1.0)] == ["0%", "under 1%", "41%", "over 99%", "100%"]


@pytest.mark.parametrize("lines", [(), FOUND, REPAIRED, FINISHED], ids=["opened", "unfinished", "not-proven", "finished"])
def test_markdown_fits_a_pager(lines: tuple[dict[str, Any], ...]) -> None:
    """No line but a table row is longer than 80 columns, and the cells of each table stand under each other."""
    rows = markdown(record(*lines)).splitlines()
    assert [row for row in rows if len(row) > COLUMNS and not row.startswith(("|", "#"))] == []
    for table in re.findall(r"(?:^\|.*\n)+", markdown(record(*lines)), re.M):
        assert len({len(row) for row in table.splitlines()}) == 1


def read(text: str) -> str:
    """Markdown as a reader shows it, with all white space alike."""
    return " ".join(MarkdownIt("commonmark").enable("table").render(text).split())


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.text(alphabet="ab1-+*=.)>#|`_ ", min_size=1, max_size=12), min_size=1, max_size=40),
    st.sampled_from(["", "- ", "  - ", "> "]),
)
def test_wrapping_changes_nothing_that_is_read(words: list[str], lead: str) -> None:
    """Wherever a line ends, its words make no list, no heading and no quote that was not there before."""
    text = f"{lead}x {escaped(' '.join(words)).strip()}"
    assert read(paged(text)) == read(text)


def test_a_whole_record_reads_the_same_wrapped() -> None:
    """Wrapped and padded, a record is the same document: the reader puts out the same page."""
    made: list[str] = []

    def kept(text: str) -> str:
        made.append(text)
        return paged(text)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("advisor.record.render.paged", kept)
        text = markdown(record(*FINISHED))
    assert read(text) == read(made[0])


def test_a_lower_page_gets_its_drawing_behind_it() -> None:
    """On A4 the drawing stands before the signatures, on Letter in the annex; no page has it twice."""
    view = record(*FINISHED)
    for paper, first in (("A4", True), ("Letter", False)):
        page = html(view, paper)
        assert page.count('id="harness-title"') == 1
        assert (page.index('id="harness-title"') < page.index("Signed")) is first
