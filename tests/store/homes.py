"""One case into a home and out of it, for the tests."""

from __future__ import annotations

from advisor.errors import AdvisorError
from advisor.store.home import Home
from advisor.store.transfer import Taken


def put(home: Home, case_id: str, data: bytes) -> Taken:
    """Takes in one case. Raises what it was refused with."""
    (taken,) = home.take({case_id: data})
    if isinstance(taken, AdvisorError):
        raise taken
    return taken


def got(home: Home, name: str) -> bytes:
    """The lines of one case. Raises why they cannot be had."""
    found = home.lines([name])[name]
    if isinstance(found, AdvisorError):
        raise found
    return found
