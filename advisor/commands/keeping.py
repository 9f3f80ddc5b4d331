"""A case open in a dialogue: what cannot be saved is said, and the session goes on, here or in another folder."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.commands.shared import now
from advisor.errors import AdvisorError, InputError, StoreError
from advisor.model.case import Answered, Corrected, Event, Moved, Noted, Reading, Retested, Told
from advisor.store.folder import CaseStore

if TYPE_CHECKING:
    from advisor.store.open_case import OpenCase
    from advisor.terminal.environment import Terminal

CHOICES = "again: try once more. elsewhere: go on in another folder (elsewhere FOLDER names it). Enter: leave this answer out."


@dataclass
class Keeping:
    """The open case, and where it lies by now. `asks`: somebody is there who can choose what to do."""

    terminal: Terminal
    store: CaseStore
    open_case: OpenCase
    asks: bool = True
    moved: bool = False

    def append(self, *events: Event) -> None:
        """Writes events, all or none. Raises InputError for those that are left out, StoreError where nobody can be asked.

        EndOfInput and KeyboardInterrupt come through: the events are then not in the case, and that has been said.
        """
        while True:
            try:
                return self.open_case.append_all(events, now())
            except StoreError as error:
                self._say(events, error)
                if not self.asks:
                    raise
            self._choose()

    def _say(self, events: tuple[Event, ...], error: StoreError) -> None:
        stored = self.open_case.stored
        count = len(stored.case.events)
        where = "in its file and in this window" if stored.path.is_file() else "in this window; its file is gone"
        self.terminal.line(f"NOT SAVED: {told(events)}.", "bold", hang=2)
        self.terminal.line(f"Why: {error.what}.", hang=2)
        before = "The entry before it is" if count == 1 else f"The {count} entries before it are"
        self.terminal.line(f"{before} safe, {where}.", hang=2)

    def _choose(self) -> None:
        """Returns when the write is to be tried again. Raises InputError when it is to be left out."""
        while True:
            self.terminal.line(CHOICES, hang=2)
            word, _, folder = self.terminal.read("not saved> ").partition(" ")
            match word.lower():
                case "":
                    raise InputError("this answer is not in the case", "Give the answer again when it can be saved.")
                case "again":
                    return
                case "elsewhere":
                    if self._move(folder.strip()):
                        return
                case _:
                    self.terminal.line(f"'{word}' is none of these words.", hang=2)

    def _move(self, named: str) -> bool:
        """Goes on in the folder named, or in the first that takes the case."""
        for folder in [Path(named).expanduser()] if named else _others(self.store.folder):
            store = CaseStore(folder)
            try:
                self.open_case = store.rescue(self.open_case)
            except AdvisorError as error:
                self.terminal.line(f"Not there: {error.what}.", hang=2)
                continue
            self.store, self.moved = store, True
            self.terminal.line(f"The case goes on in {self.open_case.stored.path}.", "bold", hang=2)
            return True
        return False

    def close(self) -> None:
        """Lets go of the case."""
        self.open_case.close()


def _others(folder: Path) -> Iterator[Path]:
    """Folders to go on in, where none is named: the user's own, where the program was started, and the system's."""
    for place in (Path.home, Path.cwd, lambda: Path(tempfile.gettempdir())):
        try:
            other = place() / "advisor-cases"
        except (OSError, RuntimeError):  # no home, a deleted folder, no place for temporary files
            continue
        if other != folder:
            yield other


def told(events: tuple[Event, ...]) -> str:
    """What was to be written, in words that need no knowledge."""
    found = [_says(e) for e in events if not isinstance(e, Moved)]
    return ", and ".join(dict.fromkeys(found)) or "how the machine stands"


def _says(event: Event) -> str:
    match event:
        case Answered():
            return f"the answer to {event.check}" + (f" ({event.place})" if event.place else "")
        case Reading():
            return f"the load test of {event.circuit} from {event.start} to {event.end}"
        case Corrected() | Retested():
            return f"{_says(event.by)}, {event.event}"
        case Told():
            return f"the answer to {event.question}"
        case Noted():
            return "the note"
    return f"the entry '{event.event.replace('-', ' ')}'"
