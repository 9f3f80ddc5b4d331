"""The shop's own knowledge: what it changes, and new files for it."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from advisor.commands.shared import Layers, knowledge_folder, print_out, write_whole
from advisor.errors import ExitCode, StoreError, UsageError, nearest

if TYPE_CHECKING:
    from advisor.library.differences import Change, Difference

NO_SHOP = "Name the shop's folder with --shop."


def knowledge_diff(layers: Layers, *, seen: bool, as_json: bool) -> ExitCode:
    """Lists what the shop changes, and what an update has changed beside it; the second is a finding.

    `seen` keeps the shipped entries as they are now, so that the next update is told against them.
    """
    from advisor.library.differences import SEEN, differences, keep_seen

    if layers.shop is None:
        raise UsageError("no shop is named", NO_SHOP)
    folder = knowledge_folder(layers.knowledge)
    found = differences(folder, layers.shop)
    if as_json:
        print_out(json.dumps({"format": 1, "differences": [_row(d) for d in found]}, indent=1, sort_keys=True, default=str))
    else:
        for difference in found:
            _show(difference)
    updated = [d for d in found if d.update or d.what == "gone"]
    unseen = [d for d in found if d.update is None]
    if seen:
        write_whole(layers.shop / SEEN, keep_seen(folder, layers.shop), replace=True, mode=0o644)
    if not as_json:
        print_out(_sum(found, len(updated), len(unseen), seen=seen))
    return ExitCode.FAILURE if updated and not seen else ExitCode.OK


def _sum(found: tuple[Difference, ...], updated: int, unseen: int, *, seen: bool) -> str:
    counts = ", ".join(f"{sum(d.what == w for d in found)} {w}" for w in ("new", "changed", "retired"))
    if seen:
        return f"{counts}. Marked as seen. The next update is compared with what is shipped now."
    parts = [f"{counts}; {updated} of the shipped entries changed since you looked."]
    if unseen:
        parts.append(f"{unseen} not looked at yet.")
    if updated or unseen:
        parts.append("Look at each, then run: advisor knowledge diff --seen")
    return " ".join(parts)


def _show(d: Difference) -> None:
    head = {"new": "new", "changed": "changed", "retired": "retired", "gone": "no longer shipped; take it out, or make it new"}
    print_out(f"{d.place}: {d.kind} {d.id}: {head[d.what]}")
    if d.what == "retired":
        print_out(f"  because: {d.because}")
        print_out(f"  stands for it: {d.stands}")
    for change in d.shop:
        _line(change, "shipped", "shop")
    for change in d.update or ():
        _line(change, "shipped before", "shipped now")


def _line(change: Change, before: str, after: str) -> None:
    print_out(f"  {change.field}")
    for name, value in ((before, change.before), (after, change.after)):
        for item in value if isinstance(value, list) else [value] if value is not None else []:
            print_out(f"    {name}: {item}")


def _row(d: Difference) -> dict[str, Any]:
    return {**asdict(d), "place": str(d.place), "looked_at": d.update is not None}


def knowledge_new(layers: Layers, kind: str, name: str, system: str | None, out: Path | None) -> ExitCode:
    """Writes a commented file to fill in; for the id of a shipped entry, one that changes it."""
    from pydantic import TypeAdapter, ValidationError

    from advisor.library.beginning import KINDS, begun, shipped, system_of
    from advisor.model.entry import Id

    if kind not in KINDS:
        raise UsageError(f"a '{kind}' cannot be begun here", nearest(kind, KINDS))
    try:
        TypeAdapter(Id).validate_python(name)
    except ValidationError:
        raise UsageError(f"'{name}' is not an id", "Use small letters, digits and single hyphens.") from None
    if kind == "machine":
        _write(out or Path(f"{name}.yaml"), begun(kind, name, ""))
        return ExitCode.OK
    known = shipped(knowledge_folder(layers.knowledge), kind, name)
    place, text = known if known is not None else ((chosen := system_of(system)), begun(kind, name, chosen))
    if out is None and layers.shop is None:
        raise UsageError("no place for the file is named", f"{NO_SHOP} Or name the file with --out.")
    file = f"checks/{place}/{name}.yaml" if kind == "check" else f"causes/{place}.yaml"
    _write(out or Path(str(layers.shop)) / file, text, add=kind == "cause")
    return ExitCode.OK


def _write(path: Path, text: str, *, add: bool = False) -> None:
    """A new file, or more at the end of a list. Raises UsageError where a file is in the way, StoreError."""
    if path.exists() and not add:
        raise UsageError(f"{path} is there already", "Change it there, or choose another id.")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        before = path.read_text(encoding="utf-8") if path.exists() else ""
    except (OSError, UnicodeDecodeError) as error:
        raise StoreError(f"{path}: cannot be written ({error})", "Choose another folder.") from None
    write_whole(path, before + ("\n" if before and not before.endswith("\n") else "") + text, replace=True, mode=0o644)
    print_out(f"Written: {path}")
