"""Which files a knowledge folder holds, and the digest that names their content. Loads nothing heavy."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

from advisor.errors import KnowledgeError, NotFound

MEANING = ("model", "library")  # the parts of the program that decide what a knowledge file means
JUDGING = ("experta", "numpy", "pydantic", "PyYAML")  # libraries whose other version might judge otherwise


def knowledge_files(folder: Path, option: str = "--knowledge", wanted: str = "words.yaml") -> list[Path]:
    """Every knowledge file of a folder, in order of its name. Raises NotFound when there is none."""
    hint = f"Name the folder that holds {wanted} with {option}."
    if not folder.is_dir():
        raise NotFound(f"{folder}: no such knowledge folder", hint)
    files = sorted(p for p in folder.rglob("*.yaml") if not any(part.startswith(".") for part in p.relative_to(folder).parts))
    if not files:
        raise NotFound(f"{folder}: holds no knowledge files", hint)
    return files


def digest_of(folder: Path, files: list[Path]) -> str:
    """SHA-256 over names and contents, the same on every computer."""
    whole = hashlib.sha256()
    for file in files:
        content = file.read_bytes().replace(b"\r\n", b"\n")
        whole.update(f"{file.relative_to(folder).as_posix()}\n{len(content)}\n".encode())
        whole.update(content)
    return whole.hexdigest()


def digest_of_both(folder: Path, shop: Path | None) -> str:
    """The digest of a folder, with that of the shop's where there is one. Raises NotFound, KnowledgeError."""
    files = knowledge_files(folder)
    over = [] if shop is None else knowledge_files(shop, "--shop", "the shop's own files")
    try:
        digest = digest_of(folder, files)
        return digest if shop is None else f"{digest}+{digest_of(shop, over)}"
    except OSError as error:
        raise KnowledgeError(f"{error.filename}: cannot be read ({error.strerror})", "Check the permissions.") from None


def reading_digest() -> str:
    """SHA-256 over the program's own files that read knowledge: another program may read the same files otherwise."""
    package = Path(__file__).parents[1]
    files = sorted(f for part in MEANING for f in (package / part).rglob("*.py"))
    return digest_of(package, files)


def judging_digest(package: Path = Path(__file__).parents[1]) -> str:
    """SHA-256 over the whole program, with the versions of what it stands on: all that a verdict on knowledge follows from."""
    from importlib.metadata import PackageNotFoundError, version

    whole = hashlib.sha256(digest_of(package, sorted(package.rglob("*.py"))).encode())
    whole.update(sys.version.encode())
    for name in JUDGING:
        try:
            whole.update(f"{name} {version(name)}\n".encode())
        except PackageNotFoundError:  # put there by hand: then its name must do
            whole.update(f"{name}\n".encode())
    return whole.hexdigest()
