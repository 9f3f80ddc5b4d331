"""A disk that fails at any call: the answer is refused aloud, the case before it stays whole, and it goes on elsewhere."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from attacks.dialogues import only_events
from attacks.faults import Faults, laid
from builders import MORNING, small_knowledge

from advisor.commands.keeping import Keeping
from advisor.errors import AdvisorError, InputError, StoreError
from advisor.model.case import Answered, Event, Moved, Noted, Opened
from advisor.store.folder import CaseStore
from advisor.store.transfer import send, take_in, unpack
from advisor.terminal.environment import Terminal

OPENED = Opened(complaint="motion-without-steering")
TOLD: tuple[tuple[Event, ...], ...] = (
    (Moved(to={"key": "off"}), Answered(check="coupling-grip", result="tight")), (Noted(text="one"),), (Noted(text="two"),),
)  # fmt: skip


def whole(store: CaseStore) -> bool:
    """Every case of a folder verifies."""
    return all(store.verify(name).problem is None for name in store.ids())


def calls_of(folder: Path) -> int:
    """How many calls a short case makes."""
    with laid(Faults()) as counted:
        case = CaseStore(folder).create(OPENED, "d" * 64, MORNING)
        for events in TOLD:
            case.append_all(events, MORNING)
        case.close()
    return len(counted.seen)


@pytest.mark.parametrize("how", ["full", "gone", "short"])
def test_whichever_call_fails_the_answer_is_in_the_case_or_refused(how: str, tmp_path: Path) -> None:
    """Never in between: what was refused is not in the file, what was taken is, and the next answer goes through."""
    for at in range(calls_of(tmp_path / "counted")):
        store = CaseStore(tmp_path / f"{how}-{at}")
        taken: list[Event] = []
        refused: list[str] = []
        with laid(Faults(at, how)) as faults:
            try:
                case = store.create(OPENED, "d" * 64, MORNING)
            except StoreError:
                continue
            for events in (*TOLD, *TOLD):
                try:
                    case.append_all(events, MORNING)
                    taken += events
                except StoreError as error:
                    refused.append(error.what)
            case.close()
        assert all("cannot write" in what for what in refused)
        assert len(faults.seen) > at
        kept = store.read(store.newest()).case.events
        assert only_events(kept) == only_events((OPENED, *taken))
        assert whole(store)


def test_a_disk_that_stays_full_refuses_aloud_until_another_folder_is_named(tmp_path: Path) -> None:
    """Everything given before stays; the refused answer and all later ones are in the other folder, once each."""
    output = io.StringIO()
    typed = f"again\n\nelsewhere {tmp_path / 'b'}\n"
    terminal = Terminal(output=output, source=io.StringIO(typed), width=400)
    store = CaseStore(tmp_path / "a")
    keeping = Keeping(terminal, store, store.create(OPENED, small_knowledge().digest, MORNING))
    keeping.append(*TOLD[0])
    rescued: list[bool] = []
    with laid(Faults(0, "every")) as faults:
        real = keeping._move

        def moving(named: str) -> bool:
            faults.at = None  # the other disk is sound
            rescued.append(True)
            return real(named)

        keeping._move = moving  # type: ignore[method-assign]
        with pytest.raises(InputError):
            keeping.append(*TOLD[1])
        keeping.append(*TOLD[2])
    keeping.append(Noted(text="three"))
    keeping.close()
    assert rescued == [True]
    assert output.getvalue().count("NOT SAVED: the note") == 3
    assert "No space left on device" in output.getvalue()
    other = CaseStore(tmp_path / "b")
    assert only_events(other.read(other.newest()).case.events) == only_events((OPENED, *TOLD[0], *TOLD[2], Noted(text="three")))
    assert only_events(store.read(store.newest()).case.events) == only_events((OPENED, *TOLD[0]))
    assert whole(store)
    assert whole(other)


def test_a_clock_that_goes_back_changes_no_order(tmp_path: Path) -> None:
    """Events stand in the order in which they were given, whatever the hour says; the file verifies."""
    store = CaseStore(tmp_path)
    with store.create(OPENED, "d" * 64, MORNING) as case:
        for number, days in enumerate((0, -9000, 3, -1)):
            case.append(Noted(text=str(number)), MORNING + timedelta(days=days))
    kept = store.read(case.stored.case_id).case.events
    assert [e.text for e in kept if isinstance(e, Noted)] == ["0", "1", "2", "3"]
    assert whole(store)


def fresh_numbers(folder: Path) -> Iterator[Path]:
    number = 0
    while True:
        yield folder / str(number)
        number += 1


def test_an_import_an_export_and_a_copy_that_fail_at_any_call_leave_only_whole_cases(tmp_path: Path) -> None:
    """An archive that cannot be written is not there; a case is taken in whole or not at all; what was there before stays."""
    store = CaseStore(tmp_path / "a")
    with store.create(OPENED, "d" * 64, MORNING) as case:
        case.append_all(TOLD[0], MORNING)
        short = case.data
        case.append_all(TOLD[1], MORNING)
    name, data = case.stored.case_id, case.data
    folders = fresh_numbers(tmp_path)
    for at in range(8):
        for how in ("full", "gone", "short"):
            here = next(folders)
            archive = here.with_suffix(".zip")
            with laid(Faults(at, how)):
                try:
                    send(store, archive, [name])
                except AdvisorError:
                    assert not archive.exists()
            assert not archive.exists() or unpack(archive) == {name: data}
            there = CaseStore(here)
            for lines in (short, data):  # added at first, then extended
                with laid(Faults(at, how)):
                    try:
                        list(take_in(there, {name: lines}))
                    except StoreError:
                        assert not there.ids() or there.path(name).read_bytes() in (short, data)
                assert whole(there)
            assert not list(there.folder.glob("*.new"))
    assert whole(store)
