"""The parts of a sensor's wiring at which evidence may point."""

from __future__ import annotations

from typing import Literal

WiringPart = Literal["supply", "ground", "signal", "track-a", "track-b", "one-track", "shared"]
