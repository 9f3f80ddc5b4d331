"""Files of the user's cache: what was worked out once, under a name made from all that it follows from.

Whoever asks makes the name from the content of its sources, so that a change of any of them finds nothing and it is worked out
anew. A file holds the check sum of its text; one that is missing, damaged or cut counts as not there. A cache that cannot
be written costs nothing but time.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

KEPT = 6  # files of a kind that are kept; the oldest go
LARGEST = 50_000_000  # bytes; anything larger is not ours


def cache_folder(environ: Mapping[str, str] = os.environ) -> Path | None:
    """Where kept files are: ADVISOR_CACHE_DIR, else the user's cache folder. None where it is set to nothing."""
    given = environ.get("ADVISOR_CACHE_DIR")
    if given is not None:
        return Path(given) if given else None
    from platformdirs import user_cache_path

    return user_cache_path("advisor", appauthor=False)


def kept_file(folder: Path, kind: str, *sources: str) -> Path:
    """The file of a kind for what follows from these sources, each named by its digest."""
    name = hashlib.sha256(" ".join(sources).encode()).hexdigest()[:40]
    return folder / f"{kind}-{name}.json"


def read_kept(file: Path) -> bytes | None:
    """The text of a kept file; None for one that is missing or damaged."""
    try:
        if file.stat().st_size > LARGEST:
            return None
        check, _, text = file.read_bytes().partition(b"\n")
    except OSError:
        return None
    return text if check == hashlib.sha256(text).hexdigest().encode() else None


def keep(file: Path, text: bytes) -> None:
    """Writes a kept file whole, for its owner only; then the oldest of its kind go."""
    from advisor.store.disk import whole_file

    with suppress(OSError):
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        whole_file(file, hashlib.sha256(text).hexdigest().encode() + b"\n" + text, replace=True)
        kind = file.name.rpartition("-")[0]
        found = sorted(file.parent.glob(f"{kind}-*.json"), key=lambda f: f.stat().st_mtime, reverse=True)
        for old in found[KEPT:]:
            old.unlink(missing_ok=True)


def read_json(file: Path) -> Any:
    """The data of a kept file; None for one that is missing or damaged."""
    text = read_kept(file)
    return None if text is None else json.loads(text)


def keep_json(file: Path, data: Any) -> None:
    """Keeps plain data."""
    keep(file, json.dumps(data, ensure_ascii=False).encode())
