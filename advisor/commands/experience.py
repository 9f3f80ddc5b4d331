"""The command that counts what closed cases teach, and writes it as a layer for the shop."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from advisor.commands.closed_index import closed_index
from advisor.commands.own import progress, screen
from advisor.commands.practice import at_least
from advisor.commands.shared import Layers, case_store, check_out, load_knowledge, print_out, write_whole
from advisor.errors import ExitCode

if TYPE_CHECKING:
    from advisor.experience.fit import Fit, Part
    from advisor.model.tally import Tally

LISTED = 12  # things left as shipped that are listed on the screen; the file and --json have them all
KINDS = {
    "prior": "how often each cause comes, by complaint", "feature": "what a fact of the machine says, by complaint",
    "row": "what a check shows", "check": "minutes of a check", "repair": "minutes of a repair",
}  # fmt: skip


def experience(
    layers: Layers, data_dir: Path | None, out: Path | None, jobs: int = 1, cluster: str | None = None, *,
    replace: bool, as_json: bool, plain: bool,
) -> ExitCode:  # fmt: skip
    """Counts the closed cases of the folder; with too few of them it says how few, and changes nothing."""
    from advisor.experience.fit import FEWEST, fit, given_minutes
    from advisor.workers import workers

    at_least("--jobs", jobs, 1)
    if out is not None:
        check_out(out, "--out", replace=replace)
    knowledge = load_knowledge(layers, counted=False)
    index = closed_index(case_store(data_dir), knowledge)
    with progress("Reading closed cases") as told:
        trouble = index.refresh()
        told(1, "Counting what they showed")
        tally = index.tally(given_minutes(knowledge))
        enough, found = tally.fit >= FEWEST, None
        if enough:
            told(2, "Holding counts against words")
            with workers(knowledge, jobs, cluster) as each:
                found = fit(knowledge, tally, each)
    if out is not None and found is not None and found.used:
        write_whole(out, _text(found), replace=replace)
    if as_json:
        print_out(json.dumps(_report(tally, found, trouble, FEWEST), indent=1, sort_keys=True))
        return ExitCode.OK if enough else ExitCode.FAILURE
    line = screen(plain=plain).line
    for text in trouble:
        line(f"Left out: {text}", hang=2)
    _counted(line, tally)
    if found is None:
        line(f"Experience begins at {FEWEST} closed and proven cases. Nothing was changed.", "bold", hang=2)
        return ExitCode.FAILURE
    _learned(line, found, out)
    return ExitCode.OK


def _counted(line: Callable[..., None], tally: Tally) -> None:
    line(f"Closed cases: {tally.closed}. Learned from: {tally.fit}.", "bold", hang=2)
    for why, count in sorted(tally.unfit.items(), key=lambda item: (-item[1], item[0])):
        line(f"Not learned from: {count}, {why}.", hang=2)


def _learned(line: Callable[..., None], found: Fit, out: Path | None) -> None:
    each = max(1, found.foretold)
    line("Each cause and each result was foretold from all the other cases. The score is in nats; nearer to 0 is better.", hang=2)
    line(f"By the words as shipped: {found.shipped_score / each:.4f} each.", hang=2)
    line(f"With what was learned: {found.learned_score / each:.4f} each.", hang=2)
    line("One case more or less moves no share by more than 10 points.", hang=2)
    line("Learned:", "bold")
    for kind, count in Counter(p.kind for p in found.used).items():
        line(f"{count} of {sum(p.kind == kind for p in found.parts)}: {KINDS[kind]}.", hang=2)
    left = sorted(found.left, key=lambda p: (-p.cases, p.kind, p.name))
    if left:
        line(f"Left as shipped, for they do not foretell the cases better: {len(left)}.", "bold", hang=2)
    for part in left[:LISTED]:
        line(_told(part), hang=2)
    if len(left) > LISTED:
        line(f"{len(left) - LISTED} more stand in the file, and with --json.", hang=2)
    if not found.used:
        line("Nothing to write: the words stay as they are.", "bold", hang=2)
    elif out is None:
        line("Nothing is written yet. Write it with: advisor experience --out FILE", hang=2)
    else:
        line(
            f"Written: {out}. Read it, sign it at reviewed_by, then put it as experience.yaml into the shop's folder.",
            "bold",
            hang=2,
        )


def _told(part: Part) -> str:
    return f"{KINDS[part.kind]}: {', '.join(part.name)} ({part.cases} cases)"


def _text(found: Fit) -> str:
    from advisor.library.experience import written

    left = "".join(f"#   {_told(p)}\n" for p in found.left)
    words, file = f"{found.shipped_score:.1f} with the words alone", f"{found.learned_score:.1f} with this file"
    scores = f"# Score in nats, nearer to 0 is better: {words}, {file}.\n"
    return written(found.experience, scores + (f"# Left as shipped, for the cases are foretold no better:\n{left}" if left else ""))


def _report(tally: Tally, found: Fit | None, trouble: tuple[str, ...], fewest: int) -> dict[str, Any]:
    whole: dict[str, Any] = {
        "format": 1, "closed_cases": tally.closed, "learned_from": tally.fit, "fewest": fewest,
        "not_learned_from": dict(tally.unfit), "left_out": list(trouble),
    }  # fmt: skip
    if found is None:
        return whole
    return {
        **whole, "shipped_score": found.shipped_score, "learned_score": found.learned_score, "foretold": found.foretold,
        "learned": [asdict(p) for p in found.used], "left": [asdict(p) for p in found.left],
        "experience": found.experience.model_dump(mode="json", exclude_defaults=True),
    }  # fmt: skip
