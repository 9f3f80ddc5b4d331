"""The command that looks for words in the trade knowledge."""

from __future__ import annotations

import json
from dataclasses import asdict

from advisor.commands.own import screen
from advisor.commands.shared import Layers, load_knowledge, page_out, print_out
from advisor.errors import ExitCode

MOST = 40  # entries shown on a screen


def find(layers: Layers, words: str, *, as_json: bool, plain: bool) -> ExitCode:
    """Lists the entries that hold every word; exit 1 when there is none."""
    from advisor.library.search import search

    found = search(load_knowledge(layers), words)
    if as_json:
        rows = [asdict(h) for h in found.hits]
        print_out(
            json.dumps({"format": 1, "words": words, "read_as": dict(found.read_as), "found": rows}, indent=2, sort_keys=True)
        )
        return ExitCode.OK if found.hits else ExitCode.FAILURE
    with page_out(screen(plain=plain)) as terminal:
        for word, other in found.read_as:
            terminal.line(f"'{word}' is not in the knowledge. Looked for '{other}' instead.", hang=2)
        for hit in found.hits[:MOST]:
            terminal.line(f"{hit.title} ({hit.kind.removesuffix('s')} {hit.id})", "bold", hang=2)
            if hit.line:
                terminal.line(hit.line, indent=2, hang=2)
        if len(found.hits) > MOST:
            terminal.line(f"{len(found.hits) - MOST} more. Type one more word to see fewer.", hang=2)
        if not found.hits:
            terminal.line(f"Nothing in the knowledge holds all of: {words}", hang=2)
            terminal.line("Try one word less. See everything with: advisor knowledge list", hang=2)
        else:
            terminal.line("Read one with: advisor knowledge show ID", hang=2)
    return ExitCode.OK if found.hits else ExitCode.FAILURE
