"""The program killed in the middle of a dialogue, and two programs on one folder."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from benchmarks.kills import COMPLAINT, SMALL, kill_once

from advisor.store.folder import CaseStore


@pytest.mark.parametrize("after", [0.0, 0.003, 0.02, 0.05, 0.11, 0.2])
def test_no_acknowledged_entry_is_lost_or_doubled_by_a_kill(tmp_path: Path, after: float) -> None:
    """Whenever it comes: the file holds each entry that was acknowledged once, in order, and at most one more."""
    found = kill_once(tmp_path, after)
    assert found.acknowledged >= 1
    assert (found.lost, found.doubled, found.whole) == (0, 0, True)


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
