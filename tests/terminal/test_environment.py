"""The terminal object: widths, characters, colours, input."""

from __future__ import annotations

import io

import pytest

from advisor.session.picking import pick
from advisor.terminal.environment import EndOfInput, Terminal, clean

CHOICES = (("tight", "It is tight"), ("turns", "It turns"), ("rocks", "It rocks"))


def test_a_share_has_a_bar_of_fixed_length() -> None:
    """A bar has the same length for every share, in block characters or in plain ones."""
    terminal = Terminal(output=io.StringIO(), blocks=False)
    assert [terminal.bar(s, 4) for s in (0, 0.5, 1, 2)] == ["....", "##..", "####", "####"]


def test_piped_input_is_echoed_after_its_prompt() -> None:
    """What is piped in stands in the output, so that a log can be read."""
    output = io.StringIO()
    assert Terminal(output=output, source=io.StringIO("hot\n")).read("temperature> ") == "hot"
    assert output.getvalue() == "temperature> hot\n"


def test_the_end_of_piped_input_is_an_event_of_its_own() -> None:
    """The end of input is told apart from an empty line."""
    terminal = Terminal(output=io.StringIO(), source=io.StringIO("\n"))
    assert terminal.read("> ") == ""
    with pytest.raises(EndOfInput):
        terminal.read("> ")


def test_control_characters_are_stripped() -> None:
    """Escape, bell and C1 controls go, letters of any language stay."""
    assert clean("\x1b[31mrot\x07 ä\x9b漢") == "[31mrot ä漢"


def test_colour_is_only_used_when_asked_for() -> None:
    """Without colour no escape is written, with it one is."""
    plain, coloured = io.StringIO(), io.StringIO()
    Terminal(output=plain).line("[red]x[/] :warning:", "bold red")
    Terminal(output=coloured, colour=True).line("[red]x[/] :warning:", "bold red")
    assert plain.getvalue() == "[red]x[/] :warning:\n"
    assert "\x1b[" in coloured.getvalue()
    assert "[red]x[/] :warning:" in coloured.getvalue()


@pytest.mark.parametrize(
    ("environ", "plain", "blocks"),
    [({}, False, True), ({"TERM": "dumb"}, False, False), ({"ACCESSIBLE": "1"}, False, False), ({}, True, False)],
)
def test_block_characters_are_left_out_where_they_cannot_be_read(
    environ: dict[str, str], plain: bool, blocks: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`--plain`, a dumb terminal and ACCESSIBLE=1 get plain characters."""
    stream = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    monkeypatch.setattr("sys.stdout", stream)
    assert Terminal.of_process(plain=plain, environ=environ).blocks is blocks


def test_an_ascii_console_gets_plain_bars(monkeypatch: pytest.MonkeyPatch) -> None:
    """A console whose encoding has no block characters gets '#' and '.'."""
    monkeypatch.setattr("sys.stdout", io.TextIOWrapper(io.BytesIO(), encoding="ascii"))
    assert Terminal.of_process(environ={}).blocks is False


@pytest.mark.parametrize(("typed", "chosen"), [("1", "tight"), ("turns", "turns"), ("ro", "rocks"), ("it is", "tight")])
def test_an_answer_is_picked_by_number_id_or_beginning(typed: str, chosen: str) -> None:
    """A number, an id, or the beginning of an id or of the words all choose an answer."""
    assert pick(typed, CHOICES) == chosen


def paged(typed: str) -> tuple[Terminal, io.StringIO]:
    """A terminal of ten lines with these lines typed."""
    output = io.StringIO()
    return Terminal(output=output, source=io.StringIO(typed), page=10), output


def test_a_full_page_waits_before_its_beginning_leaves_the_screen() -> None:
    """Between two questions no more lines come at once than the screen has, and none is lost."""
    terminal, output = paged("\n\nhot\n")
    for n in range(25):
        terminal.line(f"line {n}")
    assert terminal.read("answer> ") == "hot"
    pages = output.getvalue().split("Enter goes on>\n")
    assert [p.count("line") for p in pages] == [9, 8, 8]
    assert pages[-1].endswith("answer> hot\n")


def test_a_word_typed_while_a_page_waits_answers_the_next_question() -> None:
    """The rest of the page comes at once, for nothing that warns may be left out, and the word is kept."""
    terminal, output = paged("why\nlater\n")
    for n in range(40):
        terminal.line(f"line {n}")
    assert terminal.read("answer> ") == "why"
    assert terminal.read("answer> ") == "later"
    assert output.getvalue().count("line") == 40
    assert output.getvalue().count("Enter goes on") == 1


def test_a_paragraph_is_not_cut_by_the_end_of_a_page() -> None:
    """A caution of three lines stands on one page."""
    terminal, output = paged("\n")
    for _ in range(8):
        terminal.line("x")
    terminal.line("word " * 40)
    assert output.getvalue().split("Enter goes on>\n")[0].count("\n") == 8
