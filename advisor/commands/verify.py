"""The command that looks whether a case's file is what was answered."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.commands.case import consultation_of, named_now
from advisor.commands.shared import Layers, case_store, load_knowledge, print_out
from advisor.errors import ExitCode

if TYPE_CHECKING:
    from advisor.store.folder import Verified

SHOWN = 16  # digits of a hash that somebody can write down


@dataclass(frozen=True)
class Failed:
    """The first event that is not as it was answered; `what` and `hint` as on the screen."""

    event: int
    what: str
    hint: str


def verify(layers: Layers, data_dir: Path | None, case: str | None, *, as_json: bool) -> ExitCode:
    """Recomputes a case's chain of lines and weighs every event again; exit 1 at the first that is not as it was answered."""
    from advisor.terminal.environment import Terminal

    store = case_store(data_dir)
    found = store.verify(store.newest() if case is None else store.resolve(case))
    failed, same = None, True
    if found.problem is not None:
        failed = Failed(found.good, str(found.problem), "Keep the file as it is and copy it; nothing was changed.")
    else:
        failed, same = _weighed(layers, data_dir, found)
    if as_json:
        keys = {"case": found.case_id, "ok": failed is None, "events": found.good, "head": found.head, "sealed": found.sealed}
        bad = None if failed is None else {"event": failed.event, "what": failed.what, "hint": failed.hint}
        print_out(json.dumps({"format": 1, **keys, "knowledge_same": same, "failed": bad}, indent=2, sort_keys=True))
    else:
        terminal = Terminal.of_process(plain=True)
        for text in _lines(found, failed, same=same):
            terminal.line(text, hang=2)
    return ExitCode.OK if failed is None else ExitCode.FAILURE


def _weighed(layers: Layers, data_dir: Path | None, found: Verified) -> tuple[Failed | None, bool]:
    """The first event that cannot be weighed, and whether the knowledge is still that of the case."""
    from advisor.consultation.again import first_unfit

    knowledge = load_knowledge(layers)
    stored = named_now(knowledge, case_store(data_dir).read(found.case_id))
    same = stored.knowledge_digest == knowledge.digest
    unfit = first_unfit(knowledge, stored.case)
    if unfit is None:
        consultation_of(knowledge, stored).trail(stored.case)
        return None, same
    number, error = unfit
    hint = (
        error.hint if same else f"The knowledge has changed since. Verify with the one it was made with: --knowledge. {error.hint}"
    )
    return Failed(number, f"cannot be weighed: {error.what}", hint.strip()), same


def _lines(found: Verified, failed: Failed | None, *, same: bool) -> tuple[str, ...]:
    if failed is not None:
        good = (
            f"The {failed.event} events before it are as they were written." if failed.event else "No event before it can be read."
        )
        return (
            f"Case {found.case_id}: event {failed.event} is the first that is not what was answered.",
            failed.what,
            failed.hint,
            good,
        )
    lines = [
        f"Case {found.case_id}: the record is what was answered.",
        f"{found.good} events in one unbroken chain; each of them can be weighed again.",
    ]
    if not same:
        lines.append("The knowledge has changed since: the answers stand, and what follows from them is weighed anew.")
    if not found.sealed:
        lines.append("The last line was written by an older program: a change of that line alone cannot show.")
    lines += [
        f"Check of the last line: {found.head[:SHOWN]}. Write it on the filed record.",
        "What no file can show by itself: lines cut off at its end, and an edit by somebody who computes every check anew."
        " Both change the check of the last line.",
    ]
    return tuple(lines)
