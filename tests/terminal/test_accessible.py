"""The stream of a case as a screen reader gets it: statements, one a line, without bars, boxes and signs."""

from __future__ import annotations

import io
import re

import pytest
from folders import SCENARIOS, real_knowledge

from advisor.consultation.scenario import opening
from advisor.library.files import read_scenario
from advisor.model.case import Case
from advisor.model.machine import generic_machine
from advisor.session.script import Script
from advisor.session.session import Session
from advisor.terminal.client import Echoed, play
from advisor.terminal.environment import Terminal
from advisor.terminal.layout import layout


@pytest.fixture(scope="module")
def stream() -> list[str]:
    """The lines of a whole scenario."""
    scenario = real_knowledge().retired.scenario(read_scenario(next(f for f in SCENARIOS if f.stem == "sprayer-coupling")))
    output = io.StringIO()
    terminal = Terminal(output=output, blocks=False, accessible=True, width=40)
    session = Session.going_on(real_knowledge(), Case((opening(real_knowledge(), scenario),)), lambda *new: None)
    play(terminal, Echoed(terminal, Script(scenario)), session)
    return output.getvalue().splitlines()


def test_no_line_holds_a_bar_a_box_or_a_sign(stream: list[str]) -> None:
    """Nothing that a reader would spell out."""
    assert [x for x in stream if re.search(r"[#\u2588\u00b7\u2500\[\]<]|--|\\.\\.|^!|^- |  ", x)] == []


def test_a_caution_is_one_line(stream: list[str]) -> None:
    """With its reason, whatever the width of the window."""
    caution = real_knowledge().cautions["hands-clear-steering"]
    assert f"Caution: {caution.says} {caution.why}" in stream


def test_the_ranking_is_told_in_words(stream: list[str]) -> None:
    """Rank, share, movement and title on one line."""
    assert any(re.fullmatch(r"1\. \d+% (far )?up .+", x) for x in stream)


def test_the_harness_is_told_in_words() -> None:
    """Each element with its kind, and no drawing."""
    output = io.StringIO()
    layout(Terminal(output=output, accessible=True), generic_machine(), ())
    assert "terminal controller:" in output.getvalue()
    assert not re.search(r"[<\[]|--", output.getvalue())
