"""What the user set once for all cases: a small TOML file in the user's own config folder."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from pathlib import Path

from advisor.errors import InputError, StoreError, UsageError, nearest

NAME = "config.toml"
# Each key with what it does, in the order in which they are shown.
KEYS = {
    "technician": "Your name, for the head of each record.",
    "shop": "Your shop, for the signature of each record.",
    "shop-knowledge": "Folder of the shop's own knowledge, as --shop names it.",
    "store": "The shop's shared store, as advisor sync names it; without a password.",
    "accessible": "Screens for a screen reader, as --accessible: yes or no.",
    "meter": "Your voltmeter as its manual states it, such as 0.5%+2. It goes with each load test you type.",
    "numbers": "Decimal sign of the numbers shown: point or comma. You can type both.",
    "paper": "Paper of a PDF record: A4 or Letter.",
    "pager": "Show long lists a page at a time: yes or no.",
}
_SECRET = re.compile(r"://[^/@]*:[^/@]*@|password=", re.IGNORECASE)
CHOICES = {"paper": ("A4", "Letter"), "pager": ("yes", "no"), "accessible": ("yes", "no"), "numbers": ("point", "comma")}


def settings_file(environ: Mapping[str, str] = os.environ) -> Path:
    """Where the settings are: ADVISOR_CONFIG, else the user's config folder."""
    given = environ.get("ADVISOR_CONFIG")
    if given:
        return Path(given)
    from platformdirs import user_config_path

    return user_config_path("advisor", appauthor=False) / NAME


def read_settings(file: Path) -> dict[str, str]:
    """The settings of a file; none when there is no file. Raises InputError for a file that is not in order."""
    try:
        text = file.read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):  # a home that is no folder has no settings
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{file}: cannot be read ({error})", "Correct it, or move it away.") from None
    if not text.strip():
        return {}
    import tomllib

    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{file}: {error}", 'A line looks like this: shop = "Name of the shop"') from None
    for key, value in found.items():
        checked(key, value, str(file))
    return {key: value for key, value in found.items() if value}


def checked(key: str, value: object, where: str = "") -> str:
    """The value of a setting as it is kept. Raises UsageError for an unknown key or a value that cannot be."""
    before = f"{where}: " if where else ""
    if key not in KEYS:
        raise UsageError(f"{before}no setting '{key}'", nearest(key, KEYS) or f"Choose: {', '.join(KEYS)}.")
    if not isinstance(value, str) or any(ord(c) < 32 for c in value):
        raise UsageError(f"{before}'{key}' is not one line of text", f'Write: {key} = "..."')
    if _SECRET.search(value):
        raise UsageError(
            f"{before}a password stands in '{key}'", "Put it into the database's password file, and leave it out here."
        )
    allowed = CHOICES.get(key)
    kept = next((c for c in allowed or () if c.lower() == value.strip().lower()), None)
    if allowed and kept is None:
        raise UsageError(f"{before}'{value}' is no value of '{key}'", f"Choose: {' or '.join(allowed)}.")
    return kept or value.strip()


def settings_text(settings: Mapping[str, str]) -> str:
    """The file's text: each key under its meaning, those without a value as a comment."""
    lines = ["# Settings of advisor. Change them here, or with: advisor config KEY VALUE", ""]
    for key, says in KEYS.items():
        value = settings.get(key)
        # A JSON string without surrogates is a TOML string too.
        lines += [f"# {says}", f'# {key} = ""' if not value else f"{key} = {json.dumps(value, ensure_ascii=False)}", ""]
    return "\n".join(lines)


def folder_for(file: Path) -> None:
    """Makes the folder of the settings. Raises StoreError when that cannot be."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"{file.parent}: cannot be made ({error.strerror})", "Name another file in ADVISOR_CONFIG.") from None
