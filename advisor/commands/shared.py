"""What several commands need: where knowledge and cases are, and how text is written out."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.errors import StoreError

if TYPE_CHECKING:
    from advisor.model.knowledge import Knowledge
    from advisor.store.folder import CaseStore


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


def load_knowledge(layers: Layers) -> Knowledge:
    """The knowledge of the folders asked for. Raises KnowledgeError with every problem of their files."""
    from advisor.library.parser import load

    return load(knowledge_folder(layers.knowledge), layers.shop)


def case_store(data_dir: Path | None) -> CaseStore:
    from advisor.store.folder import CaseStore

    return CaseStore(data_dir)


def now() -> datetime:
    return datetime.now(UTC)


def write_whole(path: Path, text: str) -> None:
    """A file whole or not at all: a temporary file in the same folder takes its place."""
    part = path.with_name(f".{path.name}.part")
    try:
        with part.open("w", encoding="utf-8") as handle:
            handle.write(text)
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True) if part.parent.is_dir() else None
        raise StoreError(f"{path}: cannot be written ({error.strerror})", "Choose another file with --out.") from None


def print_out(text: str) -> None:
    """Writes a text to standard output, with the line end it may lack."""
    sys.stdout.write(text if text.endswith("\n") else text + "\n")
