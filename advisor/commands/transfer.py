"""The commands that carry cases to another computer and take them in there."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.commands.own import progress, screen
from advisor.commands.shared import case_store, print_out
from advisor.errors import ExitCode, NotFound

if TYPE_CHECKING:
    from advisor.store.transfer import Taken


def export_cases(data_dir: Path | None, names: Sequence[str], file: Path, *, as_json: bool) -> ExitCode:
    """Packs the cases named, or all of them, into one file; exit 1 when one had to be left out."""
    from advisor.store.transfer import send

    store = case_store(data_dir)
    ids = tuple(dict.fromkeys(store.resolve(n) for n in names)) if names else store.ids()
    if not ids:
        raise NotFound(f"there is no case in {store.folder}", "Open one with: advisor start")
    with progress(f"Packing {len(ids)} {_cases(len(ids))}"):
        sent = send(store, file, ids)
    if as_json:
        print_out(json.dumps({"format": 1, "file": str(file), **asdict(sent)}, indent=2, sort_keys=True))
    else:
        terminal = screen(plain=True)
        for case_id, why in sent.left_out:
            terminal.line(f"{case_id}  LEFT OUT: {why}", hang=2)
        terminal.line(f"{len(sent.cases)} {_cases(len(sent.cases))} written to {file} ({max(1, sent.bytes // 1024)} kB).")
        terminal.line(f"On the other computer: advisor cases --import {file.name}", hang=2)
    return ExitCode.FAILURE if sent.left_out else ExitCode.OK


def import_cases(data_dir: Path | None, file: Path, *, as_json: bool) -> ExitCode:
    """Takes in what another computer packed; exit 4 when a case here was open, so that what came for it waits."""
    from advisor.store.transfer import take_in, unpack

    taken: list[Taken] = []
    with progress("Unpacking the cases") as told:
        packed = unpack(file)
        told.whole, told.parts = len(packed), "cases"
        for one in take_in(case_store(data_dir), packed):
            taken.append(one)
            told(len(taken), "Taking cases in")
    if as_json:
        print_out(json.dumps({"format": 1, "cases": [asdict(t) for t in taken]}, indent=2, sort_keys=True))
    else:
        terminal = screen(plain=True)
        for one in taken:
            terminal.line(f"{one.case_id}  {_said(one)}", hang=2)
        terminal.line(f"{len(taken)} {_cases(len(taken))} looked at, {sum(t.did in CHANGED for t in taken)} taken in.")
    return ExitCode.LOCKED if any(t.did == "locked" for t in taken) else ExitCode.OK


CHANGED = ("added", "extended", "beside")


def _cases(count: int) -> str:
    return "case" if count == 1 else "cases"


def _said(one: Taken) -> str:
    """What became of one case, in one line."""
    here = f" as {one.kept_as}" if one.kept_as != one.case_id else ""
    match one.did:
        case "added":
            return f"added{here}, {one.events} events"
        case "same":
            return f"is here already{here}; nothing changed"
        case "longer-here":
            return f"is here already{here} and goes on further; nothing changed"
        case "extended":
            return f"goes on{here}: {one.events - one.alike} events added to the {one.alike} that were here"
        case "beside" if one.alike:
            return f"DIFFERS from the one here after event {one.alike - 1}: kept beside it as {one.kept_as}"
        case "beside":
            return f"is ANOTHER CASE than the one here of that name: kept beside it as {one.kept_as}"
    return f"NOT TAKEN IN: {one.kept_as} is open in another window; close it there and import again"
