"""The map of checks and causes: what it names is true, nothing is left out, and it can be read everywhere."""

from __future__ import annotations

import io

import pytest
from evidence.test_separation import GEAR, PULL, SPRING, TAP, TRACK, known
from folders import real_knowledge
from hypothesis import given, settings
from record.test_record_render import HOSTILE, Reader
from worlds import COMPLAINT, cause, check, spaces

from advisor.evidence.covers import apart
from advisor.evidence.map import Section, separation_map
from advisor.evidence.rows import OTHERWISE
from advisor.evidence.separation import SEPARATING, Separation
from advisor.model.knowledge import Complaint
from advisor.reasoning.likelihoods import Space
from advisor.record.render import map_page
from advisor.terminal.environment import Terminal
from advisor.terminal.separation_map import show_map


@settings(max_examples=60, deadline=None)
@given(spaces())
def test_every_other_cause_is_parted_once_or_named_as_together(space: Space) -> None:
    """The covers and what stays together make up all the other causes, and each cover holds the weight that it names."""
    complaint = Complaint(id=COMPLAINT, title="Odd", asks="It is odd.", first="Look.")
    k = space.knowledge.model_copy(update={"complaints": {COMPLAINT: complaint}})
    separation = Separation(k)
    for found in apart(separation, COMPLAINT):
        named = [*(o for c in found.covers for o in c.others), *found.together]
        assert sorted(named) == sorted(set(k.causes) - {found.cause})
        for cover in found.covers:
            weights = [separation.strengths(found.cause, o)[cover.check] for o in cover.others]
            assert cover.least == pytest.approx(min(weights))
            assert cover.least >= SEPARATING - 1e-6
        assert all(not separation.strengths(found.cause, other) for other in found.together)


def test_the_check_that_parts_nearly_all_by_much_comes_first() -> None:
    """A check that parts all others by a little comes after one that parts all but one by ten to one."""
    deep = check("deep", {n: {"bad": "almost-certain"} for n in ("gear", "pin")} | {OTHERWISE: {"bad": "almost-no-chance"}})
    gear = cause("gear", proof={"tap": "bad", "deep": "bad"})
    causes = (gear, SPRING, TRACK, cause("rod"), cause("pin"))
    found = {a.cause: a for a in apart(Separation(known(TAP, deep, causes=causes)), COMPLAINT)}
    assert [(c.check, c.others) for c in found["gear"].covers] == [("deep", ("spring", "track", "rod")), ("tap", ("pin",))]
    assert found["rod"].together == ("spring", "track", "pin")


def test_the_hardest_other_cause_is_named_only_when_it_stands_out() -> None:
    """Of several that are equally hard none is named."""
    both = check("both", {"gear": {"bad": "likely"}, "track": {"bad": "very-likely"}, OTHERWISE: {"bad": "almost-no-chance"}})
    gear = cause("gear", proof={"both": "bad"})
    found = {a.cause: a for a in apart(Separation(known(both, causes=(gear, SPRING, TRACK))), COMPLAINT)}
    assert found["gear"].nearest is not None
    assert (found["gear"].nearest.other, found["gear"].nearest.check) == ("track", "both")
    alike = {a.cause: a for a in apart(Separation(known(PULL)), COMPLAINT)}
    assert alike["spring"].nearest is None


def sections(*checks: object) -> tuple[Section, ...]:
    return separation_map(known(*checks, causes=(GEAR, SPRING, TRACK)), [COMPLAINT])


def drawn(found: tuple[Section, ...], width: int, *, blocks: bool = True) -> str:
    output = io.StringIO()
    show_map(Terminal(output=output, width=width, blocks=blocks), found)
    return output.getvalue()


@pytest.mark.parametrize("width", [40, 80])
def test_the_map_fits_the_terminal(width: int) -> None:
    """No line is longer than the screen, every cause and check is named, and so is a pair that nothing separates."""
    text = drawn(sections(TAP), width)
    assert max(map(len, text.splitlines())) <= width
    whole = " ".join(text.split())
    for said in ("Gear", "Spring", "Track", "Tap", "all 2 others"):
        assert said in whole
    assert "NOT told from: Spring" in whole if width == 40 else "NOT from Spring" in whole


def test_the_map_of_the_knowledge_fits_a_narrow_terminal() -> None:
    """The knowledge that comes along can be read in 40 columns."""
    k = real_knowledge()
    text = drawn(separation_map(k, ["reads-low"]), 40)
    assert max(map(len, text.splitlines())) <= 40
    assert "NOT told from" not in text


def test_a_plain_map_is_ascii() -> None:
    """Without block characters nothing is drawn that a plain terminal cannot show."""
    assert drawn(sections(TAP, PULL), 80, blocks=False).isascii()


def test_the_page_is_one_file_that_everybody_can_read() -> None:
    """Every tag is closed, nothing is fetched, each table has a caption and scoped headers, each complaint can be jumped to."""
    page = map_page(separation_map(real_knowledge(), ["reads-low", "hunting"]))
    reader = Reader(page)
    assert (reader.wrong, reader.open) == ([], [])
    tags = [tag for tag, _ in reader.tags]
    assert tags.count("table") == tags.count("caption") == 2
    assert not {"script", "img", "link", "iframe"} & set(tags)
    assert all(attrs.get("scope") in ("col", "rowgroup") for tag, attrs in reader.tags if tag == "th")
    assert [a["href"] for t, a in reader.tags if t == "a"] == ["#reads-low", "#hunting"]
    ids = {a["id"] for t, a in reader.tags if "id" in a}
    assert {"reads-low", "hunting"} <= ids
    assert "://" not in page


def test_what_stays_together_is_said_in_words() -> None:
    """A pair that no check separates stands in the page as such, not only as a missing row."""
    text = " ".join("".join(Reader(map_page(sections(TAP))).text).split())
    assert "not told from Spring" in text


def test_nothing_from_the_knowledge_breaks_out_of_the_page() -> None:
    """Titles are shown as text, whatever they hold."""
    hostile = GEAR.model_copy(update={"title": HOSTILE})
    reader = Reader(map_page(separation_map(known(TAP, causes=(hostile, SPRING, TRACK)), [COMPLAINT])))
    assert (reader.wrong, reader.open) == ([], [])
    assert not {"script", "img", "b"} & {tag for tag, _ in reader.tags}
