"""The commands that look at the trade knowledge itself."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from advisor.commands.shared import Layers, knowledge_folder, load_knowledge, print_out, write_whole
from advisor.errors import ExitCode, InputError, NotFound, Problem, StoreError, UsageError, nearest

if TYPE_CHECKING:
    from advisor.consultation.safety_proof import Proof
    from advisor.model.knowledge import Knowledge

KINDS = ("complaints", "causes", "checks", "rules", "moves", "safety", "cautions", "tools", "glossary")
MAP_FORMATS = ("text", "html")


def knowledge_check(layers: Layers, *, as_json: bool) -> ExitCode:
    """Loads the knowledge and runs the lints; findings are listed one a line."""
    from advisor.consultation.safety_proof import prove
    from advisor.library.coverage import counts, coverage
    from advisor.library.lints import run_lints

    problems: tuple[Problem, ...] = ()
    knowledge: Knowledge | None = None
    safe: Proof | None = None
    failed: list[str] = []
    try:
        knowledge = load_knowledge(layers, source=True)
        failed = [f"{i.lint}: {i.what}" for i in run_lints(knowledge)] + rule_case_failures(knowledge)
        safe = prove(knowledge)
        failed += _unsafe(layers, safe)
    except InputError as error:
        if not error.problems:
            raise
        problems = error.problems
    held = counts(knowledge) if knowledge else {}
    if as_json:
        whole = {"format": 1, "counts": held, "problems": [_row(p) for p in problems], "findings": failed}
        proven = {"safety": _proven(safe)} if safe is not None else {}
        print_out(json.dumps({**whole, **proven, **(coverage(knowledge) if knowledge else {})}, indent=1, sort_keys=True))
    else:
        for text in [*map(str, problems), *failed]:
            print_out(text)
        if safe is not None and safe.holds:
            print_out(f"Safe: {safe.steps:,} steps in {safe.states:,} states of {safe.layouts} layouts break no safety rule.")
        total = len(problems) + len(failed)
        print_out(f"{layers}: {_held(held)}; nothing found." if not total else f"{layers}: {total} found.")
    return ExitCode.FAILURE if problems or failed else ExitCode.OK


def _proven(safe: Proof) -> dict[str, Any]:
    return {
        "layouts": safe.layouts,
        "states": safe.states,
        "steps": safe.steps,
        "violations": [{"layout": v.layout, "rule": v.rule, "step": str(v.step), "story": list(v.story)} for v in safe.violations],
    }


def _unsafe(layers: Layers, safe: Proof) -> list[str]:
    """What the proof found, each with the place of the entry that is at fault."""
    from advisor.consultation.safety_proof import STANDING, Named
    from advisor.library.parser import places

    if safe.holds:
        return []
    at = places(knowledge_folder(layers.knowledge), layers.shop)
    named = [(Named("safety", v.rule) if v.step == STANDING else v.step, str(v)) for v in safe.violations]
    named += [(d.entry, str(d)) for d in safe.dead]
    return [*(f"{at[entry.kind, entry.id]}: {what}" for entry, what in named), *safe.stuck]


def _row(problem: Problem) -> dict[str, Any]:
    where = problem.location
    return {"file": where.path, "line": where.line, "column": where.column, "what": problem.what, "hint": problem.hint}


def _held(counted: dict[str, int]) -> str:
    """What the folder holds, in the words of a technician."""
    named = ", ".join(f"{counted[kind]} {kind}" for kind in ("complaints", "causes", "checks", "rules", "cautions", "moves"))
    exceptions = counted["exceptions"]
    left = f" but {exceptions} reviewed" if exceptions else ""
    return f"{named}; all {counted['pairs']} pairs of causes{left} told apart"


def rule_case_failures(knowledge: Knowledge) -> list[str]:
    """The rule cases that do not do what they say."""
    from advisor.consultation.rule_cases import failures

    return list(failures(knowledge))


def knowledge_list(layers: Layers, *, as_json: bool) -> ExitCode:
    """Lists the entries by kind."""
    knowledge = load_knowledge(layers)
    if as_json:
        rows = {kind: {i: getattr(e, "title", "") for i, e in getattr(knowledge, kind).items()} for kind in KINDS}
        print_out(json.dumps({"format": 1, **rows}, indent=2, sort_keys=True))
        return ExitCode.OK
    for kind in KINDS:
        entries = getattr(knowledge, kind)
        print_out(f"{kind} ({len(entries)})")
        for name, entry in entries.items():
            title = getattr(entry, "title", None) or getattr(entry, "says", None) or getattr(entry, "because", "")
            print_out(f"  {name}: {title}")
    return ExitCode.OK


def knowledge_show(layers: Layers, name: str, *, plain: bool) -> ExitCode:
    """One entry as a technician would read it on a page."""
    from advisor.terminal.environment import Terminal
    from advisor.terminal.pages import page

    knowledge = load_knowledge(layers)
    entry = next((getattr(knowledge, kind)[name] for kind in KINDS if name in getattr(knowledge, kind)), None)
    if entry is None:
        entry = next((t for t in knowledge.glossary.values() if name.lower() in t.words), None)
    if entry is None:
        raise NotFound(f"no entry '{name}'", nearest(name, [n for kind in KINDS for n in getattr(knowledge, kind)]))
    page(Terminal.of_process(plain=plain), knowledge, entry)
    return ExitCode.OK


def knowledge_map(
    layers: Layers, complaint: str | None, form: str | None, out: Path | None, *, plain: bool, over: bool = False
) -> ExitCode:
    """Which checks separate which causes, as text or as a page, printed or written to a file."""
    from advisor.evidence.map import separation_map
    from advisor.record.render import map_page
    from advisor.terminal.environment import Terminal
    from advisor.terminal.separation_map import show_map

    chosen = form or ("html" if out is not None and out.suffix.lower() in (".html", ".htm") else "text")
    if chosen not in MAP_FORMATS:
        raise UsageError(f"no format '{chosen}' for the map", nearest(chosen, MAP_FORMATS))
    knowledge = load_knowledge(layers)
    if complaint is not None and complaint not in knowledge.complaints:
        raise UsageError(f"no complaint '{complaint}'", nearest(complaint, knowledge.complaints))
    sections = separation_map(knowledge, [complaint] if complaint else list(knowledge.complaints))
    if chosen == "html":
        text = map_page(sections)
    elif out is None:
        show_map(Terminal.of_process(plain=plain), sections)
        return ExitCode.OK
    else:
        written = io.StringIO()
        show_map(Terminal(output=written, blocks=not plain), sections)
        text = written.getvalue()
    if out is None:
        print_out(text.rstrip("\n"))
    else:
        write_whole(out, text, replace=over)
    return ExitCode.OK


def knowledge_states(layers: Layers, out: Path | None, *, over: bool = False) -> ExitCode:
    """How the machine can stand, drawn as a page, printed or written to a file."""
    from advisor.record.states_page import states_page

    text = states_page(load_knowledge(layers))
    if out is None:
        print_out(text.rstrip("\n"))
    else:
        write_whole(out, text, replace=over)
    return ExitCode.OK


def knowledge_schema(out: Path | None) -> ExitCode:
    """The JSON Schemas of the knowledge files, printed or written to a folder."""
    from advisor.library.schemas import schemas

    texts = schemas()
    if out is None:
        print_out(json.dumps({name: json.loads(text) for name, text in texts.items()}, indent=2, sort_keys=True))
        return ExitCode.OK
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"{out}: cannot be made ({error.strerror})", "Choose another folder with --out.") from None
    for name, text in texts.items():
        write_whole(out / name, text, replace=True, mode=0o644)
    return ExitCode.OK
