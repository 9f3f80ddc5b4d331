"""Plays every scenario through the terminal and over lines of JSON, and prints whether both store the same events.

    python tests/benchmarks/clients.py [SCENARIO...]

Prints one line a scenario: events, and the lines of JSON that it took. Ends with 1 when one differs.
"""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from folders import SCENARIOS, real_knowledge

from advisor.consultation.scenario import opening
from advisor.errors import EndOfInput
from advisor.library.files import read_scenario
from advisor.model.case import Case, Event
from advisor.model.question import Question
from advisor.model.scenario import Scenario
from advisor.session.lines import converse
from advisor.session.script import Script
from advisor.session.session import Session
from advisor.terminal.client import play
from advisor.terminal.environment import Terminal


def by_lines(scenario: Scenario) -> tuple[list[Event], int]:
    """The events that a client of the lines comes to, and how many lines came out."""
    events: list[Event] = []
    script, asked = Script(scenario), [""]
    session = Session.going_on(real_knowledge(), Case((opening(real_knowledge(), scenario),)), lambda *new: events.extend(new))

    def read() -> str | None:
        try:
            return json.dumps({"answer": script.answer(Question.model_validate_json(asked[-1]))})
        except EndOfInput:
            return None

    converse(session, asked.append, read, lambda: None)
    return events, len(asked) - 1


def by_terminal(scenario: Scenario) -> list[Event]:
    """The events that the terminal comes to."""
    events: list[Event] = []
    session = Session.going_on(real_knowledge(), Case((opening(real_knowledge(), scenario),)), lambda *new: events.extend(new))
    play(Terminal(output=io.StringIO(), blocks=False), Script(scenario), session)
    return events


def main(files: list[str]) -> int:
    differing = 0
    for file in map(Path, files or map(str, SCENARIOS)):
        scenario = real_knowledge().retired.scenario(read_scenario(file))
        (events, lines), expected = by_lines(scenario), by_terminal(scenario)
        same = events == expected
        differing += not same
        print(f"{file.stem}: {len(events)} events, {lines} lines, {'the same' if same else 'DIFFERENT'}", flush=True)
    print(f"{differing} differ")
    return 1 if differing else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
