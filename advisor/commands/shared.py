"""What several commands need: where knowledge and cases are, and how text is written out."""

from __future__ import annotations

import io
import os
import shutil
import sys
from contextlib import contextmanager
from dataclasses import dataclass
from dataclasses import replace as replaced
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.errors import NotFound, StoreError, UsageError
from advisor.plain import fitting, one_line, plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from advisor.model.knowledge import Knowledge
    from advisor.store.folder import CaseStore
    from advisor.terminal.environment import Terminal


@dataclass(frozen=True)
class Layers:
    """Where knowledge is read from: the folder asked for, else the shipped one; and the shop's own, laid over it."""

    knowledge: Path | None = None
    shop: Path | None = None

    def __str__(self) -> str:
        folder = knowledge_folder(self.knowledge)
        return str(folder) if self.shop is None else f"{folder} and {self.shop}"


def knowledge_folder(chosen: Path | None) -> Path:
    """The folder asked for, else the one that came with the program."""
    if chosen is not None:
        return chosen
    installed = Path(__file__).parents[1] / "trade"
    return installed if installed.is_dir() else Path(__file__).parents[2] / "knowledge"


def folders(layers: Layers) -> tuple[Path, Path | None]:
    """The folder of the knowledge, and that of the shop where there is one."""
    return knowledge_folder(layers.knowledge), layers.shop or _usual_shop(layers)


def load_knowledge(layers: Layers, *, source: bool = False, counted: bool = True) -> Knowledge:
    """The knowledge of the folders asked for. Raises KnowledgeError with every problem of their files.

    `source`: read the files themselves, and no form of them that was kept. Without `counted`, numbers from cases are left out.
    """
    folder, shop = folders(layers)

    def made() -> Knowledge:
        from advisor.library.parser import load

        return load(folder, shop, counted=counted)

    if source or not counted:
        return made()
    from advisor.library.sources import digest_of_both, reading_digest
    from advisor.store.compiled import compiled
    from advisor.store.kept import cache_folder

    return compiled(cache_folder(), digest_of_both(folder, shop), reading_digest(), made)


def _usual_shop(layers: Layers) -> Path | None:
    """The shop's folder from the settings, where no knowledge was named for this one command."""
    from advisor.commands.own import own_settings

    named = own_settings().get("shop-knowledge") if layers.knowledge is None else None
    return Path(named).expanduser() if named else None


def case_store(data_dir: Path | None) -> CaseStore:
    from advisor.store.folder import CaseStore

    return CaseStore(data_dir)


def now() -> datetime:
    return datetime.now(UTC)


def check_out(path: Path, option: str, *, replace: bool = False) -> None:
    """Says before the work whether a file can be written to, as far as that can be known. Raises UsageError, NotFound."""
    hint = f"Choose another file with {option}."
    if not path.name or path.is_dir():
        raise UsageError(f"'{path}' is a folder, or cannot be the name of a file", hint)
    if option != "--out" and not path.parent.is_dir():  # a record is made at once: its writing tells
        raise NotFound(f"{path}: there is no folder {path.parent}", hint)
    if path.exists() and not replace:
        again = "Choose another name, or add --replace to write over it." if option == "--out" else hint
        raise UsageError(f"{path} is there already", again)
    if path.exists() and _is_case(path):
        raise UsageError(f"{path} is a case file; a case is never written over", "Choose another name.")


def _is_case(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(400).lstrip().startswith(b'{"format":1,"case":')


def write_whole(path: Path, text: str, option: str = "--out", *, replace: bool = False, mode: int = 0o600) -> None:
    """A text as a file, whole or not at all. Raises UsageError, NotFound, StoreError."""
    write_bytes(path, text.encode("utf-8", "replace"), option, replace=replace, mode=mode)


def write_bytes(path: Path, data: bytes, option: str = "--out", *, replace: bool = False, mode: int = 0o600) -> None:
    """A file whole or not at all, for its owner only. One that is there already goes only where `replace` says so.

    Raises UsageError, NotFound, StoreError.
    """
    from advisor.store.disk import whole_file

    check_out(path, option, replace=replace)
    try:
        whole_file(path, data, replace=replace, mode=mode)
    except FileExistsError:
        raise UsageError(f"{path} is there already", "Choose another name.") from None
    except OSError as error:
        raise StoreError(f"{path}: cannot be written ({error.strerror or error})", f"Choose another file with {option}.") from None


def print_out(text: str) -> None:
    """Writes a text to standard output, with the line end it may lack and without what is no text."""
    shown = fitting(plain(text), getattr(sys.stdout, "encoding", None) or "utf-8")
    sys.stdout.write(shown if shown.endswith("\n") else shown + "\n")


def print_text(text: str) -> None:
    """The same for what a person reads: numbers stand as the user writes them, and a screen reader gets no blanks between words."""
    from advisor.commands.own import accessible, own_settings, with_own_numbers

    lines = text.split("\n")
    if accessible(own_settings()):
        lines = [" ".join(line.split()) for line in lines]
    print_out(with_own_numbers("\n".join(lines)))


def print_aside(text: str) -> None:
    """One line to standard error: what is no part of the result."""
    from advisor.commands.own import with_own_numbers

    sys.stderr.write(fitting(with_own_numbers(one_line(text)), getattr(sys.stderr, "encoding", None) or "utf-8") + "\n")


def _by_pages() -> bool:
    """Whether the screen is one on which a page can wait, and the user has not switched it off."""
    from advisor.commands.own import accessible, own_settings

    settings = own_settings()
    bare = os.environ.get("TERM") == "dumb" or accessible(settings)
    return sys.stdout.isatty() and not bare and settings.get("pager") != "no"


def paced(terminal: Terminal) -> Terminal:
    """The terminal of a dialogue, waiting for Enter before a step would push its own beginning off the screen."""
    if terminal.source is None and _by_pages():
        terminal.page = max(10, shutil.get_terminal_size().lines)
    return terminal


@contextmanager
def page_out(terminal: Terminal) -> Iterator[Terminal]:
    """A terminal whose lines come a page at a time where they are more than fit the screen.

    Only on a screen that can scroll back and forth, and only where the user has not switched it off.
    """
    reader = shutil.which(os.environ.get("PAGER", "less").split(" ")[0] or "less")
    kept = io.StringIO()
    if not sys.stdout.isatty():  # nobody reads along: line by line would only take longer
        yield replaced(terminal, output=kept, colour=False)
        sys.stdout.write(kept.getvalue())
        return
    if reader is None or not _by_pages():
        yield terminal
        return
    yield replaced(terminal, output=kept, colour=False)
    text = kept.getvalue()
    if text.count("\n") < shutil.get_terminal_size().lines:
        print_out(text)
        return
    import subprocess

    subprocess.run([reader], input=text.encode(), check=False, env={**os.environ, "LESS": os.environ.get("LESS", "FRX")})
