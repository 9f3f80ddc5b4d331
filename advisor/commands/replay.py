"""Whole cases in memory, each held to what must come out."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from advisor.commands.own import progress
from advisor.commands.shared import Layers, load_knowledge, print_out, print_text
from advisor.errors import ExitCode, InputError


def replay(layers: Layers, files: Sequence[Path], *, as_json: bool) -> ExitCode:
    """Runs scenarios in memory and holds each to what it expects."""
    from advisor.consultation import scenario as scenarios
    from advisor.library.files import read_scenario
    from advisor.record.report import report

    knowledge = load_knowledge(layers)
    met, rows = True, []
    for file in files:
        scenario = knowledge.retired.scenario(read_scenario(file))
        try:
            with progress(f"Replay of {file.name}"):
                found = scenarios.replay(knowledge, scenario)
        except InputError as error:
            raise InputError(f"{file}: {error.what}", error.hint) from None
        met = met and not found.differs
        if as_json:
            rows.append(
                {
                    **report(found.consultation, found.case),
                    "scenario": str(file),
                    "met": not found.differs,
                    "differs": list(found.differs),
                }
            )
            continue
        leading = found.final.leading
        where = f" at {leading.place}" if leading.place else ""
        print_text(f"{'DIFFERS' if found.differs else 'met    '} {file}: {leading.cause}{where} {leading.share:.0%}")
        for text in found.differs:
            print_text(f"        {text}")
    if as_json:
        print_out(json.dumps(rows[0] if len(rows) == 1 else {"format": 1, "met": met, "scenarios": rows}, indent=2, sort_keys=True))
    return ExitCode.OK if met else ExitCode.FAILURE
