"""The terminal as one object: width, colour, characters, reading and writing. The one home of rich.

Output is append-only: no alternate screen, no repaint, so that pipes, remote shells, scrollback and screen readers all work.
"""

from __future__ import annotations

import io
import os
import shutil
import sys
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TextIO

from advisor.errors import EndOfInput
from advisor.plain import fitting, one_line, with_comma
from advisor.terminal import keyboard

WIDEST = 92  # longer lines are hard to read
NARROWEST = 20
SCREEN = 24  # lines that a step should fit
QUESTION = 4  # lines that a question without its answers takes, with its prompt and what is typed
GO_ON = "Enter goes on> "
FULL, EMPTY = "█", "·"


def clean(text: str) -> str:
    """Text in one line without control characters: an outside string must not move the cursor or change colours."""
    return one_line(text)


@dataclass
class Terminal:
    """Where lines go and answers come from. Tests pass streams of their own."""

    output: TextIO = field(default_factory=lambda: sys.stdout)
    source: TextIO | None = None  # None: the keyboard, through readline where there is one
    width: int = 80
    colour: bool = False
    blocks: bool = True
    accessible: bool = False  # for a screen reader: no bars, boxes and signs, one statement a line
    comma: bool = False  # numbers are shown with a decimal comma
    page: int = 0  # lines of the screen; after so many without a question it waits for Enter. 0: it never waits
    _console: Any = None
    _printed: int = 0  # lines from the beginning on
    _read: int = 0  # and how many of them stood before the last question
    _stood: dict[object, int] = field(default_factory=dict)  # what can be asked again, and the line that it began at
    _ahead: str | None = None  # typed while a page waited: the answer to the next question

    @classmethod
    def of_process(
        cls, *, plain: bool = False, environ: Mapping[str, str] = os.environ, accessible: bool | None = None, comma: bool = False
    ) -> Terminal:  # fmt: skip
        """The terminal this process has. `accessible`: None leaves it to the environment."""
        if hasattr(sys.stdout, "reconfigure"):
            sys.stdout.reconfigure(errors="replace")
        live = sys.stdout.isatty()
        dumb = environ.get("TERM") == "dumb"
        spoken = environ.get("ACCESSIBLE") == "1" if accessible is None else accessible
        colour = live and not plain and not dumb and not environ.get("NO_COLOR") and not spoken
        typed = sys.stdin is not None and sys.stdin.isatty()
        return cls(
            output=sys.stdout, source=None if typed else sys.stdin or io.StringIO(),
            width=_columns(), colour=colour,
            accessible=spoken, comma=comma,
            blocks=not plain and not dumb and not spoken and _can_print(FULL + EMPTY, sys.stdout),
        )  # fmt: skip

    def silent(self) -> Terminal:
        """One of the same width that only counts its lines."""
        return Terminal(output=io.StringIO(), width=self.width, blocks=self.blocks, accessible=self.accessible, comma=self.comma)

    @property
    def lines(self) -> int:
        """How many lines a silent terminal was given."""
        return self.output.getvalue().count("\n") if isinstance(self.output, io.StringIO) else 0

    def line(self, text: str = "", style: str = "", indent: int = 0, hang: int = 0, comma: bool = True) -> None:
        """One paragraph, wrapped to the width; continuation lines are indented by `hang` more.

        Without `comma` its numbers stay as they are in any language.
        """
        text = with_comma(text) if self.comma and comma else text
        if self._bare and not style and text.isascii() and text.isprintable() and 0 < indent + len(text) <= self.width:
            self._printed += 1  # what a full list of cases consists of
            self.output.write(f"{' ' * indent}{text.rstrip()}\n")
            return
        if self.accessible:  # the reader wraps, and reads blanks and signs aloud
            self._make_room(1)
            self._write(_spoken(text), style)
            return
        kept = " " * indent + clean(text).rstrip()
        room = max(self.width, NARROWEST)
        if kept and len(kept) <= room:
            self._make_room(1)
            self._write(kept, style)
            return
        lines = textwrap.wrap(
            kept, room, subsequent_indent=" " * (indent + hang), drop_whitespace=True, break_on_hyphens=False
        ) or [""]
        self._make_room(len(lines))
        for piece in lines:
            self._write(piece, style)

    @property
    def _bare(self) -> bool:
        """Whether a line goes straight into a text that is kept: nobody waits for it, and nothing in it is changed."""
        return isinstance(self.output, io.StringIO) and not self.accessible and not self.page

    def new_page(self) -> None:
        """What follows begins a page: what stands before it may leave the screen."""
        self._read = self._printed

    def begins(self, what: object) -> None:
        """Notes that something which may be asked again begins here."""
        self._stood[what] = self._printed

    def stands(self, what: object) -> bool:
        """Whether it stands so near above that it is still on the screen when a question is put below."""
        return what in self._stood and self._printed - self._stood[what] + QUESTION <= (self.page or SCREEN)

    def _make_room(self, lines: int) -> None:
        """Waits for Enter before lines that would push unread ones off the screen. Other words typed answer the next question."""
        if not self.page or self._ahead is not None or self._printed - self._read + lines < self.page:
            return
        typed = self.read(GO_ON)
        self._ahead = typed or None

    def together(self, lines: int) -> None:
        """Waits for Enter first where so many lines would not stand whole below what is unread: a question with its answers."""
        if lines < self.page:
            self._make_room(lines)

    def rule(self, title: str = "") -> None:
        """A heading with a line that fills the width."""
        if self.accessible:
            self._write(f"{clean(title)}." if title else "", style="")
            return
        mark = "─" if self.blocks else "-"
        head = f"{mark * 2} {clean(title)} " if title else ""
        self._write((head + mark * max(2, self.width - len(head)))[: self.width], "bold" if title else "")

    def raw(self, text: str, style: str = "") -> None:
        """A line that is already laid out."""
        self._write((with_comma(text) if self.comma else text).rstrip(), style)

    def verbatim(self, text: str) -> None:
        """A line as somebody typed it: no number in it is written anew."""
        self._write(text.rstrip(), "")

    def _write(self, text: str, style: str) -> None:
        text = fitting(clean(text), getattr(self.output, "encoding", None) or "utf-8")
        self._printed += 1
        if not self.colour or not style:
            self.output.write(text + "\n")
            self.output.flush()
            return
        if self._console is None:
            from rich.console import Console

            self._console = Console(
                file=self.output, force_terminal=True, width=max(self.width, 20), highlight=False, markup=False, emoji=False,
                legacy_windows=False,
            )  # fmt: skip
        from rich.text import Text

        self._console.print(Text(text, style=style), soft_wrap=True)

    def prompt(self, name: str) -> str:
        """What stands before an answer; a screen reader would read the sign aloud."""
        return f"{name}: " if self.accessible else f"{name}> "

    def read(self, prompt: str) -> str:
        """One line of input. Raises EndOfInput at its end; Ctrl-C comes through as KeyboardInterrupt."""
        self._read = self._printed
        self._printed += self.source is None  # the line of the prompt; what is piped in is printed after it
        if self.accessible and prompt.endswith("> "):
            prompt = self.prompt(prompt.removesuffix("> "))
        if self._ahead is not None:
            answer, self._ahead = self._ahead, None
            self.verbatim(prompt + answer)
            return answer
        if self.source is None:
            keyboard.ready()
            try:
                return clean(input(clean(prompt))).strip()
            except EOFError:
                self.output.write("\n")
                raise EndOfInput from None
            except BrokenPipeError:  # nobody reads what is asked
                raise
            except OSError:  # the line to the terminal was cut: nothing more will be typed
                raise EndOfInput from None
            finally:
                self.width = _columns()  # the window may have another size by now
        try:
            text = self.source.readline()
        except OSError:  # the line that it comes over was cut
            text = ""
        if not text:
            raise EndOfInput
        answer = clean(text).strip()
        self.verbatim(prompt + answer)  # what was piped in must stand in the log
        return answer

    def bar(self, share: float, cells: int) -> str:
        """A bar for a share; a number always stands beside it."""
        if self.accessible:
            return ""
        full = round(max(0.0, min(1.0, share)) * cells)
        return (FULL if self.blocks else "#") * full + (EMPTY if self.blocks else ".") * (cells - full)


def _columns() -> int:
    """The width of the window as it is now, within what can be read."""
    return max(NARROWEST, min(shutil.get_terminal_size((80, 24)).columns, WIDEST))


_SIGNS = (("! CAUTION: ", "Caution: "), ("! ", ""), ("- ", ""))


def _spoken(text: str) -> str:
    """A line without the signs that only an eye reads."""
    said = clean(text).strip()
    for sign, words in _SIGNS:
        if said.startswith(sign):
            said = words + said[len(sign) :]
    return " ".join(said.removeprefix("[").removesuffix("]").split()) if said.startswith("[") else " ".join(said.split())


def _can_print(text: str, stream: TextIO) -> bool:
    try:
        text.encode(stream.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
