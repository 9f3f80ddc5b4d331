"""The program asks no network for anything: it works beside a machine in a field."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from builders import MORNING, SMALL, small_knowledge

from advisor.model.case import Opened
from advisor.store.folder import CaseStore

# Run in a process of its own, for an audit hook cannot be taken away again.
GUARD = """
import sys
def guard(event, arguments):
    if event.startswith("socket."):
        raise SystemExit(f"the network was asked: {event}")
sys.addaudithook(guard)
from advisor.cli import run
sys.exit(run(sys.argv[1:]))
"""


def offline(*arguments: object, typed: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", GUARD, *map(str, arguments)], input=typed, capture_output=True, text=True, timeout=120, check=False
    )


def test_the_guard_stops_a_program_that_asks() -> None:
    """Otherwise the test below would show nothing."""
    code = GUARD.replace("from advisor.cli import run\nsys.exit(run(sys.argv[1:]))", "import socket; socket.socket()")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert "the network was asked" in done.stderr


def test_no_command_of_a_job_opens_a_socket(tmp_path: Path) -> None:
    """A case begun, gone on with, shown, recorded, verified, listed and carried away."""
    with CaseStore(tmp_path).create(Opened(complaint="motion-without-steering"), small_knowledge().digest, MORNING) as case:
        name = case.stored.case_id
    own, data = ("--knowledge", SMALL), ("--data-dir", tmp_path)
    runs = [
        offline("start", "--complaint", "motion-without-steering", *own, *data, typed="\nnote x\npause\n"),
        offline("resume", name, *own, *data, typed="pause\n"),
        *(offline(command, name, *own, *data) for command in ("show", "verify")),
        *(offline("record", name, "--format", form, *own, *data) for form in ("md", "html", "json")),
        offline("cases", *data),
        offline("cases", "--export", tmp_path / "out.zip", *data),
    ]
    assert [r.returncode for r in runs] == [5, 5, 0, 0, 0, 0, 0, 0, 0]
    assert not any("the network was asked" in r.stderr for r in runs)
