"""What the modules of the command line share: options that mean the same everywhere, and leaving with a code."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Annotated, Any

import typer

from advisor.errors import ExitCode

NARROW = 52  # columns under which the library's help would be wider than the terminal

DataDir = Annotated[Path | None, typer.Option("--data-dir", envvar="ADVISOR_DATA_DIR", help="Folder of the case files.")]
KnowledgeDir = Annotated[Path | None, typer.Option("--knowledge", envvar="ADVISOR_KNOWLEDGE", help="Knowledge folder.")]
Shop = Annotated[Path | None, typer.Option("--shop", envvar="ADVISOR_SHOP", help="The shop's own knowledge, laid over the other.")]
Plain = Annotated[bool, typer.Option("--plain", help="No colour and no block characters.")]
Cluster = Annotated[str | None, typer.Option("--cluster", help="A Dask cluster that does the work: its address, or local.")]
AsJson = Annotated[bool, typer.Option("--json", help="JSON on standard output.")]


def _case_ids(incomplete: str) -> list[str]:
    """Cases that begin so, for the shell's completion; a folder that cannot be read completes nothing."""
    from advisor.commands.shared import case_store
    from advisor.errors import AdvisorError

    try:
        return [i for i in case_store(None).ids() if i.startswith(incomplete)]
    except AdvisorError:
        return []


def _entry_ids(incomplete: str) -> list[str]:
    """Ids of the knowledge that begin so."""
    from advisor.commands.knowledge import KINDS
    from advisor.commands.shared import Layers, load_knowledge
    from advisor.errors import AdvisorError

    try:
        knowledge = load_knowledge(Layers())
    except AdvisorError:
        return []
    return [i for kind in KINDS for i in getattr(knowledge, kind) if i.startswith(incomplete)]


CASE_HELP = "Case id or its beginning; left out: the newest."
ACase = Annotated[str | None, typer.Argument(help=CASE_HELP, autocompletion=_case_ids)]
TheCase = Annotated[str, typer.Argument(help="Case id or its beginning.", autocompletion=_case_ids)]
EntryId = Annotated[str, typer.Argument(metavar="ID", autocompletion=_entry_ids)]


def settings() -> dict[str, Any]:
    """How help is asked for, and how wide it is on a narrow terminal."""
    columns = shutil.get_terminal_size((80, 24)).columns
    narrow: dict[str, Any] = {"terminal_width": max(20, columns - 1)} if columns < NARROW else {}
    return {"help_option_names": ["-h", "--help"], **narrow}


def leave(code: ExitCode) -> None:
    """Ends the command with a code; nothing happens for OK."""
    if code:
        raise typer.Exit(int(code))
