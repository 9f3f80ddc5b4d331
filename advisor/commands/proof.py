"""The command that sizes a run after a repair without a case."""

from __future__ import annotations

import json
from dataclasses import asdict

from advisor.commands.own import screen
from advisor.commands.shared import print_out
from advisor.errors import ExitCode, InputError, UsageError


def proof(
    occurrences: int, hours: float, confidence: float, run: float | None, recurrences: int, prior: float, *, as_json: bool
) -> ExitCode:
    """Says how long to run and, once hours are run, what they show."""
    from advisor.consultation.run_words import report
    from advisor.reasoning.proof import advise_run

    if recurrences and run is None:
        raise UsageError("recurrences are given without the hours run", "Give the hours with --run.")
    try:
        advice = advise_run(occurrences, hours, prior, run or 0.0, recurrences, confidence)
    except InputError as error:
        raise UsageError(error.what, error.hint) from None
    if as_json:
        print_out(json.dumps({"format": 1, **asdict(advice)}, indent=2, sort_keys=True))
        return ExitCode.OK
    terminal = screen(plain=True)
    for text in report(advice, (), "set it with --prior"):
        terminal.line(text, hang=2)
    return ExitCode.OK
