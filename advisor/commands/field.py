"""What the commands on field cases do: load, call, print, exit code."""

from __future__ import annotations

import json
from collections.abc import Sequence
from concurrent.futures import BrokenExecutor
from pathlib import Path

from advisor.commands.practice import Progress, at_least
from advisor.commands.shared import Layers, load_knowledge, print_aside, print_out
from advisor.errors import AdvisorError, ExitCode, InputError, NotFound, UsageError


def trial_field(layers: Layers, files: Sequence[Path], seed: int, jobs: int, *, field: bool, as_json: bool) -> ExitCode:
    """Plays field cases by the program's own advice. A file that cannot be read is named; the others are played."""
    from advisor.library.field_cases import read_field_case, read_menu
    from advisor.practice import field_trial

    if not field:
        raise UsageError(f"{files[0]} is named without --field", "Type advisor trial --field FILE...")
    if not files:
        raise UsageError("no field case is named", "Type advisor trial --field FILE...")
    at_least("--seed", seed, 0)
    at_least("--jobs", jobs, 1)
    knowledge = load_knowledge(layers)
    entries, bad = [], False
    for file in files:
        try:
            entries.append(field_trial.Entry(str(file), read_field_case(file, knowledge), read_menu(file)))
        except (InputError, NotFound) as error:
            bad = True
            for said in (error.what, *(map(str, error.problems) if isinstance(error, InputError) else ()), error.hint):
                print_aside(said)
    if not entries:
        raise InputError("none of the field cases can be played", "Correct the lines named above.")
    try:
        played = field_trial.run(knowledge, entries, seed, jobs, Progress(len(entries), "field cases"))
    except BrokenExecutor:
        raise AdvisorError("a process of the trial died", "Run it again with fewer --jobs; each takes about 100 MB.") from None
    if as_json:
        print_out(json.dumps(field_trial.report(played, seed), indent=2, sort_keys=True))
    else:
        for line in field_trial.text(played, seed):
            print_out(line)
    return ExitCode.FAILURE if bad else ExitCode.OK
