"""The commands that list, show and draw the trade knowledge."""

from __future__ import annotations

import io
import json
from pathlib import Path

from advisor.commands.own import page_in_own_numbers, screen
from advisor.commands.shared import Layers, load_knowledge, print_out, print_text, write_whole
from advisor.errors import ExitCode, NotFound, StoreError, UsageError, nearest

KINDS = ("complaints", "causes", "checks", "rules", "moves", "safety", "cautions", "tools", "glossary")
MAP_FORMATS = ("text", "html")


def knowledge_list(layers: Layers, *, as_json: bool) -> ExitCode:
    """Lists the entries by kind."""
    knowledge = load_knowledge(layers)
    if as_json:
        rows = {kind: {i: getattr(e, "title", "") for i, e in getattr(knowledge, kind).items()} for kind in KINDS}
        print_out(json.dumps({"format": 1, **rows}, indent=2, sort_keys=True))
        return ExitCode.OK
    for kind in KINDS:
        entries = getattr(knowledge, kind)
        print_text(f"{kind} ({len(entries)})")
        for name, entry in entries.items():
            title = getattr(entry, "title", None) or getattr(entry, "says", None) or getattr(entry, "because", "")
            print_text(f"  {name}: {title}")
    return ExitCode.OK


def knowledge_show(layers: Layers, name: str, *, plain: bool) -> ExitCode:
    """One entry as a technician would read it on a page."""
    from advisor.terminal.pages import page

    knowledge = load_knowledge(layers)
    entry = next((getattr(knowledge, kind)[name] for kind in KINDS if name in getattr(knowledge, kind)), None)
    if entry is None:
        entry = next((t for t in knowledge.glossary.values() if name.lower() in t.words), None)
    if entry is None:
        raise NotFound(f"no entry '{name}'", nearest(name, [n for kind in KINDS for n in getattr(knowledge, kind)]))
    page(screen(plain=plain), knowledge, entry)
    return ExitCode.OK


def knowledge_map(
    layers: Layers, complaint: str | None, form: str | None, out: Path | None, *, plain: bool, over: bool = False
) -> ExitCode:
    """Which checks separate which causes, as text or as a page, printed or written to a file."""
    from advisor.evidence.map import separation_map
    from advisor.record.render import map_page
    from advisor.terminal.separation_map import show_map

    chosen = form or ("html" if out is not None and out.suffix.lower() in (".html", ".htm") else "text")
    if chosen not in MAP_FORMATS:
        raise UsageError(f"no format '{chosen}' for the map", nearest(chosen, MAP_FORMATS))
    knowledge = load_knowledge(layers)
    if complaint is not None and complaint not in knowledge.complaints:
        raise UsageError(f"no complaint '{complaint}'", nearest(complaint, knowledge.complaints))
    sections = separation_map(knowledge, [complaint] if complaint else list(knowledge.complaints))
    if chosen == "html":
        text = page_in_own_numbers(map_page(sections))
    elif out is None:
        show_map(screen(plain=plain), sections)
        return ExitCode.OK
    else:
        from advisor.terminal.environment import Terminal

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
