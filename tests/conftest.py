"""Settings of the tests: no test is held to a wall time, for a busy machine breaks nothing."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("no-clock", deadline=None)
settings.load_profile("no-clock")
