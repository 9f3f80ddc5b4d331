"""The knowledge in a form that is read quickly, kept in the user's cache folder.

The source is always looked at: a kept form is found only by the digest of every knowledge file and of the program that
read them, so that a change of either makes a new one. It is JSON, and the same models check it that check the YAML: a
changed file can hold other texts, but can never run anything. A file that does not pass is made anew without a word.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pydantic import ValidationError

from advisor.model.knowledge import Knowledge
from advisor.store.kept import keep, kept_file, read_kept

KIND = "knowledge"


def compiled(folder: Path | None, digest: str, reading: str, make: Callable[[], Knowledge]) -> Knowledge:
    """The knowledge with this digest, from its kept form or made anew. Raises what `make` raises.

    `reading` is the digest of the program that reads. A cache that cannot be read or written changes nothing but the time.
    """
    if folder is None:
        return make()
    file = kept_file(folder, KIND, digest, reading)
    found = _read(file)
    if found is not None and found.digest == digest:
        return found
    knowledge = make()
    if knowledge.digest == digest:  # no file was changed while it was read
        _keep(file, knowledge)
    return knowledge


def _read(file: Path) -> Knowledge | None:
    """A kept form, or None for one that is missing, damaged or of another shape."""
    text = read_kept(file)
    try:
        return None if text is None else Knowledge.model_validate_json(text)
    except ValidationError:
        return None


def _keep(file: Path, knowledge: Knowledge) -> None:
    """Writes the form if it reads back as the same knowledge."""
    text = knowledge.model_dump_json(by_alias=True).encode()
    if Knowledge.model_validate_json(text) == knowledge:
        keep(file, text)
