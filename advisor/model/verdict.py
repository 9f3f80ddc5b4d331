"""What a look at the knowledge as a whole came to: kept, and told again as long as nothing has changed."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Safety(_Part):
    """What the proof of safety tried, and whether it holds."""

    layouts: int
    states: int
    steps: int
    violations: tuple[dict[str, Any], ...]  # plain data
    holds: bool


class Verdict(_Part):
    """How much the knowledge holds, what lints, rule cases and the proof found in it, and the proof's own figures."""

    counts: dict[str, int]
    findings: tuple[str, ...]
    safety: Safety
