"""The page of a trial is one file without outside resources whose numbers are those of the JSON."""

from __future__ import annotations

import itertools
import re
from functools import cache
from html.parser import HTMLParser
from typing import Any

from builders import small_knowledge, small_machine

from advisor.practice.figures import figures
from advisor.practice.trial import Bench, run
from advisor.record.curves import minutes, reliability
from advisor.record.render import trial_page


@cache
def report() -> dict[str, Any]:
    return {**figures(run(Bench(small_knowledge(), small_machine()), 5, 1, 3, 1)), "seed": 3, "off_words": 0.0}


def test_the_page_needs_nothing_from_outside() -> None:
    """No link, script or image; the page forbids them itself, and every element that is opened is closed."""
    page = trial_page(report())
    assert not re.search(r"<(script|link|img|iframe)|url\(|@import", page)
    assert "default-src 'none'" in page

    class Balance(HTMLParser):
        open: list[str] = []

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            if tag != "meta":
                self.open.append(tag)

        def handle_endtag(self, tag: str) -> None:
            assert self.open.pop() == tag

    parser = Balance()
    parser.feed(re.sub(r"<(\w+)([^<>]*)/>", r"<\1\2></\1>", page))
    assert not parser.open


def test_every_policy_has_its_own_pattern_and_a_number_at_its_end() -> None:
    """The curves can be told apart without colour, and the numbers at their ends do not cover each other."""
    lines = minutes(report()).lines
    assert [line.title for line in lines] == list(report()["policies"])
    assert len({line.dash for line in lines}) == len(lines)
    heights = sorted(line.label_y for line in lines)
    assert all(b - a >= 12 - 1e-9 for a, b in itertools.pairwise(heights))


def test_curves_stay_inside_the_drawing_and_rise() -> None:
    """Minutes never fall as more machines are done; every point lies inside the frame."""
    for curves in (minutes(report()), reliability(report())):
        for line in curves.lines:
            for point in line.points.split():
                x, y = map(float, point.split(","))
                assert curves.left - 0.1 <= x <= curves.right + 0.1
                assert curves.top - 0.1 <= y <= curves.bottom + 0.1
    for line in minutes(report()).lines:
        assert list(line.shares) == sorted(line.shares)


def test_the_tables_hold_the_numbers() -> None:
    """The mean minutes of every policy stand in the page."""
    page = trial_page(report())
    for policy in report()["policies"].values():
        assert f"{policy['mean_minutes']:.1f}" in page


def test_the_page_says_who_was_fastest() -> None:
    """The policy with the fewest minutes is named, and that it is not the one looked at, where that is so."""
    told = report()
    fastest = min(told["policies"], key=lambda name: told["policies"][name]["mean_minutes"])
    assert f"Fastest on these machines: {fastest}," in trial_page(told)
    slow = {**told, "against": {**told["against"], "policy": next(name for name in told["policies"] if name != fastest)}}
    assert "was not the fastest here" in trial_page(slow)
