"""The stages of checks: how far each disturbs the machine."""

from __future__ import annotations

from typing import Literal

Stage = Literal["ask", "confirm", "look", "measure", "unplug", "dismantle"]
ASK: Stage = "ask"  # a question to the operator
STAGES: dict[str, str] = {  # what waits, when a whole stage does
    "ask": "Questions to the operator",
    "confirm": "Seeing the complaint",
    "look": "Checks that only look",
    "measure": "Measuring checks",
    "unplug": "Checks that unplug something",
    "dismantle": "Checks that take something apart",
}
