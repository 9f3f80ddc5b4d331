"""The command that looks at the knowledge as a whole: its files, its lints, its rule cases and its proof of safety.

Lints and proof take long and follow from nothing but the files and the program. So what they came to is kept under the digest of
both, and told again, as what it is, until one of them changes. The files are looked at each time.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from advisor.commands.own import progress
from advisor.commands.shared import Layers, folders, load_knowledge, print_out
from advisor.errors import ExitCode, InputError, Problem

if TYPE_CHECKING:
    from pathlib import Path

    from advisor.consultation.safety_proof import Proof
    from advisor.model.knowledge import Knowledge
    from advisor.model.verdict import Verdict

EARLIER = (
    "Nothing has changed since an earlier run: findings and proof are of that run.",
    "To run all of it again: advisor knowledge check --afresh",
)


def knowledge_check(layers: Layers, *, as_json: bool, afresh: bool = False) -> ExitCode:
    """Loads the knowledge, runs lints, rule cases and proof, and lists findings one a line; exit 1 with any.

    `afresh`: nothing that was kept is taken.
    """
    kept = _kept_as("verdict", layers)
    verdict = None if afresh or kept is None else _read(kept)
    earlier = verdict is not None
    try:
        if verdict is None:
            verdict = _judged(layers, kept)
    except InputError as error:
        if not error.problems:
            raise
        return _not_read(layers, error.problems, as_json=as_json)
    if as_json:
        _print_json(layers, verdict, earlier=earlier, afresh=afresh)
    else:
        _print(layers, verdict, earlier=earlier)
    return ExitCode.FAILURE if verdict.findings else ExitCode.OK


def _kept_as(kind: str, layers: Layers) -> Path | None:
    """The file that keeps what just this program found in just these files; None without a cache.

    Findings name the folders, so their names count too.
    """
    from advisor.library.sources import digest_of_both, judging_digest
    from advisor.store.kept import cache_folder, kept_file

    folder = cache_folder()
    if folder is None:
        return None
    both = folders(layers)
    return kept_file(folder, kind, digest_of_both(*both), judging_digest(), *map(str, both))


def _read(file: Path) -> Verdict | None:
    from pydantic import ValidationError

    from advisor.model.verdict import Verdict
    from advisor.store.kept import read_kept

    text = read_kept(file)
    try:
        return None if text is None else Verdict.model_validate_json(text)
    except ValidationError:
        return None


def _judged(layers: Layers, kept: Path | None) -> Verdict:
    """Everything run, and kept. Raises KnowledgeError with every problem of the files."""
    from advisor.consultation.rule_cases import failures
    from advisor.consultation.safety_proof import prove
    from advisor.library.coverage import counts
    from advisor.library.lints import run_lints
    from advisor.model.verdict import Safety, Verdict
    from advisor.store.kept import keep

    with progress("Reading the knowledge") as told:
        knowledge = load_knowledge(layers, source=True)
        told(1, "Playing every step in every state of the machine")
        safe = prove(knowledge)
        told(2, "Looking for faults in the knowledge")
        found = [f"{i.lint}: {i.what}" for i in run_lints(knowledge)]
        told(3, "Trying the example of every rule")
        findings = (*found, *failures(knowledge), *_unsafe(layers, safe))
    violations = tuple({"layout": v.layout, "rule": v.rule, "step": str(v.step), "story": list(v.story)} for v in safe.violations)
    safety = Safety(layouts=safe.layouts, states=safe.states, steps=safe.steps, violations=violations, holds=safe.holds)
    verdict = Verdict(counts=counts(knowledge), findings=findings, safety=safety)
    if kept is not None and kept == _kept_as("verdict", layers):  # no file was changed while all this ran
        keep(kept, verdict.model_dump_json().encode())
    return verdict


def _unsafe(layers: Layers, safe: Proof) -> list[str]:
    """What the proof found, each with the place of the entry that is at fault."""
    from advisor.consultation.safety_proof import STANDING, Named
    from advisor.library.parser import places

    if safe.holds:
        return []
    at = places(*folders(layers))
    named = [(Named("safety", v.rule) if v.step == STANDING else v.step, str(v)) for v in safe.violations]
    named += [(d.entry, str(d)) for d in safe.dead]
    return [*(f"{at[entry.kind, entry.id]}: {what}" for entry, what in named), *safe.stuck]


def _not_read(layers: Layers, problems: tuple[Problem, ...], *, as_json: bool) -> ExitCode:
    """What is wrong with files that cannot be read as knowledge."""
    if as_json:
        rows = [_row(p) for p in problems]
        print_out(json.dumps({"format": 1, "counts": {}, "problems": rows, "findings": []}, indent=1, sort_keys=True))
    else:
        for problem in problems:
            print_out(str(problem))
        print_out(f"{layers}: {len(problems)} found.")
    return ExitCode.FAILURE


def _print(layers: Layers, verdict: Verdict, *, earlier: bool) -> None:
    for text in verdict.findings:
        print_out(text)
    safe = verdict.safety
    if safe.holds:
        print_out(f"Safe: {safe.steps} steps in {safe.states} states of {safe.layouts} layouts break no safety rule.")
    total = len(verdict.findings)
    print_out(f"{layers}: {total} found." if total else f"{layers}: {_held(verdict.counts)}; nothing found.")
    for text in EARLIER if earlier else ():
        print_out(text)


def _print_json(layers: Layers, verdict: Verdict, *, earlier: bool, afresh: bool) -> None:
    whole = {"format": 1, "counts": verdict.counts, "problems": [], "findings": list(verdict.findings), "earlier_run": earlier}
    proven = {"safety": verdict.safety.model_dump(mode="json", exclude={"holds"})}
    print_out(json.dumps({**whole, **proven, **_coverage(layers, afresh=afresh)}, indent=1, sort_keys=True))


def _coverage(layers: Layers, *, afresh: bool) -> dict[str, Any]:
    """What the knowledge covers, from the cache where nothing has changed."""
    from advisor.library.coverage import coverage
    from advisor.store.kept import keep_json, read_json

    file = _kept_as("coverage", layers)
    known = None if afresh or file is None else read_json(file)
    if isinstance(known, dict):
        return known
    knowledge: Knowledge = load_knowledge(layers)
    with progress("Counting what the knowledge covers"):
        found = coverage(knowledge)
    if file is not None and file == _kept_as("coverage", layers):
        keep_json(file, found)
    return found


def _row(problem: Problem) -> dict[str, Any]:
    where = problem.location
    return {"file": where.path, "line": where.line, "column": where.column, "what": problem.what, "hint": problem.hint}


def _held(counted: dict[str, int]) -> str:
    """What the folder holds, in the words of a technician."""
    named = ", ".join(f"{counted[kind]} {kind}" for kind in ("complaints", "causes", "checks", "rules", "cautions", "moves"))
    exceptions = counted["exceptions"]
    left = f" but {exceptions} reviewed" if exceptions else ""
    return f"{named}; all {counted['pairs']} pairs of causes{left} told apart"
