"""The program killed in the middle of a dialogue, and two programs on one folder."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from benchmarks.kills import COMPLAINT, SMALL, Kill, at_every_call, at_random, kill_once

from advisor.store.folder import CaseStore


@pytest.mark.parametrize("after", [0.0, 0.003, 0.02, 0.05, 0.11, 0.2])
def test_no_acknowledged_entry_is_lost_or_doubled_by_a_kill(tmp_path: Path, after: float) -> None:
    """Whenever it comes: the file holds each entry that was acknowledged once, in order, and at most one more."""
    found = kill_once(tmp_path, after)
    assert found.acknowledged >= 1
    assert (found.lost, found.doubled, found.whole) == (0, 0, True)


def well(found: list[Kill]) -> bool:
    """Nothing lost, doubled or changed, every file whole, and each goes on where it stood."""
    return all((k.lost, k.doubled, k.whole) == (0, 0, True) and k.same is not False for k in found)


def test_random_dialogues_killed_at_random_moments_lose_nothing() -> None:
    """Ranking, state of the machine and next step are the same to the last bit when the case is gone on with."""
    found = list(at_random(24, seed=7))
    assert sum(k.acknowledged for k in found) > 50
    assert sum(k.same is True for k in found) > 20
    assert well(found)


def test_a_dialogue_killed_at_each_call_that_writes_loses_nothing() -> None:
    """Before the call, half-way through its bytes, and after it; every third call of one dialogue."""
    found = list(at_every_call(seed=3, step=3))
    assert len(found) > 40
    assert well(found)


def begin(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "advisor", "start", "--complaint", COMPLAINT, "--knowledge", str(SMALL), "--data-dir", str(folder)],
        input="522990/10\npause\n", capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip


def test_programs_that_begin_at_once_get_a_case_each(tmp_path: Path) -> None:
    """Eight at a time in one new folder: eight cases, each whole, none shared."""
    with ThreadPoolExecutor(8) as pool:
        done = list(pool.map(begin, [tmp_path] * 8))
    assert [d.returncode for d in done] == [5] * 8
    store = CaseStore(tmp_path)
    assert len(store.ids()) == 8
    assert all(store.verify(name).problem is None and len(store.read(name).case.events) == 2 for name in store.ids())


def test_a_second_program_on_an_open_case_is_told(tmp_path: Path) -> None:
    """It writes nothing and says who is in the way, with the documented exit code."""
    begin(tmp_path)
    store = CaseStore(tmp_path)
    name = store.ids()[0]
    with store.open(name) as case:
        before = case.stored.path.read_bytes()
        done = subprocess.run(
            [sys.executable, "-m", "advisor", "resume", name, "--knowledge", str(SMALL), "--data-dir", str(tmp_path)],
            input="note x\n", capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
        assert done.returncode == 4
        assert "open in another window" in done.stderr
        assert case.stored.path.read_bytes() == before
