"""The command that checks whether a case file is unaltered."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.commands.own import progress, screen
from advisor.commands.shared import Layers, case_store, load_knowledge, print_out
from advisor.commands.stored import consultation_of, named_now
from advisor.errors import ExitCode, short

if TYPE_CHECKING:
    from advisor.store.folder import Verified


@dataclass(frozen=True)
class Failed:
    """The first event that is not as it was answered; `what` and `hint` as on the screen."""

    event: int
    what: str
    hint: str


def verify(layers: Layers, data_dir: Path | None, case: str | None, code: str | None = None, *, as_json: bool) -> ExitCode:
    """Recomputes a case's chain of lines and weighs every event again; exit 1 at the first that is not as it was answered.

    `code` is a check code of a job card: exit 1 too when no line of the file has it.
    """

    store = case_store(data_dir)
    found = store.verify(store.newest() if case is None else store.resolve(case))
    failed, same = None, True
    if found.problem is not None:
        failed = Failed(found.good, str(found.problem), "Keep the file as it is and copy it; nothing was changed.")
    else:
        with progress("Working out every entry again"):
            failed, same = _weighed(layers, data_dir, found)
    carded = _carded(found, code)
    if failed is None and carded is not None and carded < 0:
        what = f"no event of the file has the check code '{short(code)}'"
        failed = Failed(found.good, what, "Its end was cut off, or the file was edited; or the code was copied wrong.")
    if as_json:
        keys: dict[str, object] = {"case": found.case_id, "ok": failed is None, "events": found.good, "head": found.head}
        keys |= {"code": found.codes[-1] if found.codes else None, "sealed": found.sealed, "code_at": carded}
        bad = None if failed is None else {"event": failed.event, "what": failed.what, "hint": failed.hint}
        print_out(json.dumps({"format": 1, **keys, "knowledge_same": same, "failed": bad}, indent=2, sort_keys=True))
    else:
        terminal = screen(plain=True)
        for text in _lines(found, failed, carded, same=same):
            terminal.line(text, hang=2)
    return ExitCode.OK if failed is None else ExitCode.FAILURE


def _carded(found: Verified, code: str | None) -> int | None:
    """The event that a check code of a card stands for; -1 for none, None when no code was given."""
    if code is None:
        return None
    bare = "".join(c for c in code.lower() if c.isalnum())
    return next((n for n, one in enumerate(found.codes) if one.replace("-", "") == bare), -1)


def _weighed(layers: Layers, data_dir: Path | None, found: Verified) -> tuple[Failed | None, bool]:
    """The first event that cannot be weighed, and whether the knowledge is still that of the case."""
    from advisor.consultation.again import first_unfit

    knowledge = load_knowledge(layers)
    stored = named_now(knowledge, case_store(data_dir).read(found.case_id))
    same = stored.knowledge_digest == knowledge.digest
    unfit = first_unfit(knowledge, stored.case)
    if unfit is None:
        consultation_of(knowledge, stored).assess(stored.case, plan=False)  # each event fits; this is all of them together
        return None, same
    number, error = unfit
    hint = (
        error.hint if same else f"The knowledge has changed since. Verify with the one it was made with: --knowledge. {error.hint}"
    )
    return Failed(number, f"cannot be weighed: {error.what}", hint.strip()), same


def _lines(found: Verified, failed: Failed | None, carded: int | None, *, same: bool) -> tuple[str, ...]:
    if failed is not None:
        good = (
            f"The {failed.event} events before it are as they were written." if failed.event else "No event before it can be read."
        )
        return (
            f"Case {found.case_id}: event {failed.event} is the first that was altered.",
            failed.what,
            failed.hint,
            good,
        )
    lines = [
        f"Case {found.case_id}: the case file is unaltered.",
        f"{found.good} events in one unbroken chain. The knowledge can read each of them.",
    ]
    if not same:
        lines.append("The knowledge has changed since. The answers stay; what follows from them is worked out again.")
    if not found.sealed:
        lines.append("An older program wrote the last line. If somebody changed only that line, nothing shows it.")
    if carded is not None:
        later = found.good - 1 - carded
        lines.append(f"The code of the card is that of event {carded}. Up to that event the file is unchanged; {later} came later.")
    lines += [
        f"Check code: {found.codes[-1]} after event {found.good - 1}. Write both on the job card; the record prints them too.",
        "A file cannot show two things by itself: lines cut off at its end, and an edit by someone who recalculates the checks.",
        "Both change the check code. Compare the file with a card: advisor verify CASE --code CODE.",
    ]
    return tuple(lines)
