"""The command for what the user sets once for all cases."""

from __future__ import annotations

import json

from advisor.commands.own import checked_meter, screen
from advisor.commands.shared import print_out, write_whole
from advisor.errors import ExitCode, UsageError


def config(key: str | None, value: str | None, *, unset: bool, as_json: bool) -> ExitCode:
    """Shows every setting or one, sets one, or takes one away."""
    from advisor.store.settings import KEYS, checked, folder_for, read_settings, settings_file, settings_text

    file = settings_file()
    known = read_settings(file)
    if unset and (key is None or value is not None):
        raise UsageError("--unset needs one key and no value", "Write, for example: advisor config shop --unset")
    if key is not None and (value is not None or unset):
        kept = checked(key, value or "") if not unset else ""
        known = {k: v for k, v in {**known, key: kept}.items() if v}
        if key == "meter" and kept:
            checked_meter(kept)
        if unset and key not in KEYS:
            checked(key, "")
        folder_for(file)
        write_whole(file, settings_text(known), replace=True)
    elif key is not None and key not in KEYS:
        checked(key, "")
    shown = [key] if key is not None else list(KEYS)
    if as_json:
        print_out(
            json.dumps({"format": 1, "file": str(file), "settings": {k: known.get(k) for k in shown}}, indent=2, sort_keys=True)
        )
        return ExitCode.OK
    terminal = screen(plain=True)
    for name in shown:
        terminal.line(f"{name}: {known.get(name) or 'not set'}", hang=2)
        if key is None:
            terminal.line(KEYS[name], indent=2, hang=2)
    if key is None:
        terminal.line(f"Kept in: {file}", hang=2)
        terminal.line("Set one with: advisor config KEY VALUE", hang=2)
    return ExitCode.OK
