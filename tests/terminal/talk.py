"""A dialogue driven by typed lines, for tests."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from typing import Any

from builders import small_knowledge

from advisor.consultation.consultation import Consultation
from advisor.errors import ExitCode
from advisor.model.case import Case, Event, Opened
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.session.session import Session
from advisor.terminal.client import Person, play
from advisor.terminal.environment import Terminal

NOT_SAID = ("", "", "")  # Enter alone at what was found, fitted and kept


@dataclass
class Talk:
    """What came of a dialogue: what was printed, what was stored, how it ended."""

    printed: str
    stored: list[Event]
    code: ExitCode | None
    case: Case = field(default_factory=Case)


def talk(
    *typed: str,
    width: int = 80,
    opened: Opened | None = None,
    stored: list[Event] | None = None,
    knowledge: Knowledge | None = None,
    machine: dict[str, Any] | None = None,
    resumed: bool = False,
) -> Talk:
    """Types lines at a dialogue on a fresh case; the end of the lines is the end of input."""
    output = io.StringIO()
    terminal = Terminal(output=output, source=io.StringIO("".join(f"{line}\n" for line in typed)), width=width, blocks=False)
    first = opened or Opened(complaint="motion-without-steering", occurrences=6, hours=14)
    events: list[Event] = [first] if stored is None else stored
    case = Case(tuple(events))
    laid_out = generic_machine() if machine is None else Machine.model_validate(machine)
    consultation = Consultation(knowledge or small_knowledge(), laid_out)
    session = Session.going_on(
        consultation.knowledge, case, lambda *new: events.extend(new), consultation=consultation, resumed=resumed
    )
    play(terminal, Person(terminal), session)
    return Talk(output.getvalue(), events, session.code, session.room.case)
