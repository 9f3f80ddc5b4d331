"""Settings of the tests: none is held to a wall time, for a busy machine breaks nothing. What a system lacks is left out."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("no-clock", deadline=None)
settings.load_profile("no-clock")
os.environ["ADVISOR_CONFIG"] = os.devnull  # what the developer has set is no part of a test

# Windows has no fork, no keyboard of a test's own, and hardly a signal.
collect_ignore = (
    []
    if os.name != "nt"
    else [
        "attacks/test_refused.py", "attacks/test_rot.py", "attacks/test_terminals.py", "store/test_intake_kept.py",
        "store/test_killed.py", "test_cli.py", "test_plain_output.py",
    ]
)  # fmt: skip
