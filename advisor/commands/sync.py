"""The commands that make a shared store and keep this computer in step with it."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.commands.own import progress, screen
from advisor.commands.shared import case_store, now, print_out
from advisor.errors import ExitCode, StoreError, UsageError

if TYPE_CHECKING:
    from advisor.store.database import DatabaseHome
    from advisor.store.home import Home
    from advisor.store.sync import InStep, Moved

NO_STORE = "Name it: advisor sync STORE. To keep it: advisor config store STORE"


def database(name: str) -> DatabaseHome:
    """The database of a name. Raises UsageError where the libraries for it are not installed, or the name is none."""
    try:
        from advisor.store.database import database as found
    except ModuleNotFoundError as error:
        raise UsageError(f"'{error.name}' is not installed, which databases need", "Type: pip install 'advisor[shop]'") from None
    return found(name)


@contextmanager
def shared_home(name: str | None) -> Iterator[Home]:
    """The shared store of a name: a folder, or a database. Raises UsageError, NotFound, StoreError."""
    from advisor.commands.own import own_settings
    from advisor.store.home import folder_home

    name = name or own_settings().get("store")
    if not name:
        raise UsageError("no shared store is named", NO_STORE)
    if "://" in name:
        home = database(name)
        try:
            yield home.open()
        finally:
            home.close()
        return
    if not Path(name).is_dir():
        raise UsageError(f"{name}: no such folder", "Make the folder, or name the store as sqlite:///FILE or postgresql://...")
    yield folder_home(Path(name))


def store_password(name: str, *, forget: bool) -> ExitCode:
    """Asks for the password of a store and keeps it in the system's keyring; it is never shown."""
    from getpass import getpass

    from advisor.store.passwords import keep

    home = database(name)
    home.close()
    if not home.has_roles:
        raise UsageError("a store in one file has no password", "Who may read the file may read the store.")
    if forget:
        keep(home.name, None)
        print_out(f"The password for {home.name} is no longer kept.")
        return ExitCode.OK
    typed = getpass(f"Password for {home.name}: ") if sys.stdin.isatty() else sys.stdin.readline().rstrip("\r\n")
    if not typed:
        raise UsageError("no password was typed", "Nothing was changed.")
    keep(home.name, typed)
    print_out(f"The password for {home.name} is kept in this computer's keyring.")
    return ExitCode.OK


def store_new(name: str, technicians: Sequence[str], foremen: Sequence[str]) -> ExitCode:
    """Makes a shared store in a database, and gives roles their rights."""
    home = database(name)
    if (technicians or foremen) and not home.has_roles:
        raise UsageError(
            "a store in one file has no roles", "Leave --technician and --foreman out. Who may write the file may write the store."
        )
    try:
        home.make()
        for roles, write in ((technicians, True), (foremen, False)):
            for role in roles:
                home.allow(role, write=write)
    finally:
        home.close()
    print_out(f"The store is ready: {home.name}")
    return ExitCode.OK


def sync(data_dir: Path | None, name: str | None, *, whole: bool, as_json: bool) -> ExitCode:
    """Brings this computer and the shared store in step. Exit 1 when a case was kept out, 4 when one here was open."""
    from advisor.store.home import FolderHome
    from advisor.store.sync import in_step, keep_in_step
    from advisor.store.sync import sync as bring

    store, terminal = case_store(data_dir), screen(plain=True)
    last = in_step(store.folder)
    rows: list[Moved] = []
    try:
        with shared_home(name) as there, progress("Keeping in step") as told:
            until = since = 0 if whole or there.name not in last else last[there.name].until
            for moved in bring(FolderHome(store), there, since):
                if isinstance(moved, int):
                    until = moved
                    continue
                rows.append(moved)
                told(len(rows))
                if not as_json:
                    told.clear()
                    terminal.line(f"{moved.case_id}  {_said(moved)}", hang=2)
            store.make()
            keep_in_step(store.folder, there.name, now(), until)
    except StoreError as error:
        raise StoreError(error.what, f"{error.hint} {_age(last)}".strip()) from None
    if as_json:
        print_out(json.dumps({"format": 1, "store": there.name, "cases": [asdict(m) for m in rows]}, indent=1, sort_keys=True))
    else:
        counts = [sum(m.way == way for m in rows) for way in ("sent", "fetched", "kept-out")]
        terminal.line(f"In step with {there.name}: {counts[0]} sent, {counts[1]} fetched, {counts[2]} kept out.", hang=2)
    if any(m.way == "kept-out" for m in rows):
        return ExitCode.FAILURE
    return ExitCode.LOCKED if any(m.taken is not None and m.taken.did == "locked" for m in rows) else ExitCode.OK


def _age(last: dict[str, InStep]) -> str:
    """How old the cases of others are on this computer."""
    newest = max((step.at for step in last.values()), default=None)
    return "" if newest is None else f"The cases here are those of {newest:%Y-%m-%d %H:%M} UTC."


def _said(moved: Moved) -> str:
    """What became of one case, in one line."""
    taken = moved.taken
    if taken is None:
        return f"KEPT OUT: {moved.why}"
    there = f" as {taken.kept_as}" if taken.kept_as != moved.case_id else ""
    match taken.did:
        case "beside":
            at = f"after event {taken.alike - 1}" if taken.alike else "from its beginning"
            return f"{moved.way}; it DIFFERS {at} from the one there: kept beside it{there}"
        case "extended":
            return f"{moved.way}{there}: {taken.events - taken.alike} events more"
        case "locked":
            return "NOT TAKEN IN: it is open in another window; close it there and sync again"
    return f"{moved.way}{there}: {taken.events} events"
