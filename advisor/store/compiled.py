"""The knowledge in a form that is read quickly, kept in the user's cache folder.

The source is always looked at: a kept form is found only by the digest of every knowledge file and of the program that
read them, so that a change of either makes a new one. It is JSON, and the same models check it that check the YAML: a
changed file can hold other texts, but can never run anything. A file that does not pass is made anew without a word.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path

from pydantic import ValidationError

from advisor.model.knowledge import Knowledge

PREFIX = "knowledge-"
KEPT = 6  # forms kept; the oldest go
LARGEST = 50_000_000  # bytes; anything larger is not ours


def cache_folder(environ: Mapping[str, str] = os.environ) -> Path | None:
    """Where kept forms are: ADVISOR_CACHE_DIR, else the user's cache folder. None where it is set to nothing."""
    given = environ.get("ADVISOR_CACHE_DIR")
    if given is not None:
        return Path(given) if given else None
    from platformdirs import user_cache_path

    return user_cache_path("advisor", appauthor=False)


def compiled(folder: Path | None, digest: str, reading: str, make: Callable[[], Knowledge]) -> Knowledge:
    """The knowledge with this digest, from its kept form or made anew. Raises what `make` raises.

    `reading` is the digest of the program that reads. A cache that cannot be read or written changes nothing but the time.
    """
    if folder is None:
        return make()
    name = hashlib.sha256(f"{digest} {reading}".encode()).hexdigest()[:40]
    file = folder / f"{PREFIX}{name}.json"
    found = _read(file)
    if found is not None and found.digest == digest:
        return found
    knowledge = make()
    if knowledge.digest == digest:  # no file was changed while it was read
        with suppress(OSError):
            _keep(file, knowledge)
    return knowledge


def _read(file: Path) -> Knowledge | None:
    """A kept form, or None for one that is missing, damaged or of another shape."""
    try:
        if file.stat().st_size > LARGEST:
            return None
        check, _, text = file.read_bytes().partition(b"\n")
        if check != hashlib.sha256(text).hexdigest().encode():
            return None
        return Knowledge.model_validate_json(text)
    except (OSError, ValidationError):
        return None


def _keep(file: Path, knowledge: Knowledge) -> None:
    """Writes the form whole, for its owner only, if it reads back as the same knowledge; then the oldest go."""
    from advisor.store.disk import whole_file

    text = knowledge.model_dump_json(by_alias=True).encode()
    if Knowledge.model_validate_json(text) != knowledge:
        return
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    whole_file(file, hashlib.sha256(text).hexdigest().encode() + b"\n" + text, replace=True)
    kept = sorted(file.parent.glob(f"{PREFIX}*.json"), key=lambda f: f.stat().st_mtime, reverse=True)
    for old in kept[KEPT:]:
        old.unlink(missing_ok=True)
