"""The commands under `advisor knowledge`: options in, one call."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from advisor.cli_options import AsJson, EntryId, KnowledgeDir, Plain, Shop, leave
from advisor.commands.shared import Layers

knowledge_app = typer.Typer(rich_markup_mode=None, help="Check, list, read and write the trade knowledge.")


@knowledge_app.command("check")
def knowledge_check(
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
    afresh: Annotated[
        bool, typer.Option("--afresh", help="Run all of it, also where nothing has changed since the last run.")
    ] = False,
) -> None:
    """Load the knowledge and look at it as a whole; exit 1 if anything is found."""
    from advisor.commands import knowledge_check as command

    leave(command.knowledge_check(Layers(knowledge, shop), as_json=as_json, afresh=afresh))


@knowledge_app.command("list")
def knowledge_list(knowledge: KnowledgeDir = None, shop: Shop = None, as_json: AsJson = False) -> None:
    """List complaints, causes, checks and rules."""
    from advisor.commands import knowledge as command

    leave(command.knowledge_list(Layers(knowledge, shop), as_json=as_json))


@knowledge_app.command("show")
def knowledge_show(
    name: EntryId,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    plain: Plain = False,
) -> None:
    """Show a check, cause, complaint, setup or rule as a technician would read it."""
    from advisor.commands import knowledge as command

    leave(command.knowledge_show(Layers(knowledge, shop), name, plain=plain))


@knowledge_app.command("map")
def knowledge_map(
    complaint: Annotated[str | None, typer.Option("--complaint", help="Complaint id; left out: all.")] = None,
    form: Annotated[str | None, typer.Option("--format", help="text or html; left out: html for an .html file.")] = None,
    out: Annotated[Path | None, typer.Option("--out", help="File to write; left out: standard output.")] = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the file named with --out.")] = False,
    plain: Plain = False,
) -> None:
    """Draw which checks separate which causes."""
    from advisor.commands import knowledge as command

    leave(command.knowledge_map(Layers(knowledge, shop), complaint, form, out, plain=plain, over=replace))


@knowledge_app.command("diff")
def knowledge_diff(
    seen: Annotated[
        bool, typer.Option("--seen", help="You have looked: keep what is shipped now, and compare the next update with it.")
    ] = False,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
) -> None:
    """Show what the shop changes, and what an update says beside it; exit 1 if one does."""
    from advisor.commands import shop_knowledge as command

    leave(command.knowledge_diff(Layers(knowledge, shop), seen=seen, as_json=as_json))


@knowledge_app.command("new")
def knowledge_new(
    kind: Annotated[str, typer.Argument(help="check, cause or machine.")],
    name: Annotated[str, typer.Argument(metavar="ID", help="Its id; the id of a shipped one writes a change of that one.")],
    system: Annotated[str | None, typer.Option("--system", help="System it belongs to, such as harness.")] = None,
    out: Annotated[Path | None, typer.Option("--out", help="File to write; left out: its place in the shop's folder.")] = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
) -> None:
    """Write a commented file to fill in: a check, a cause or a machine."""
    from advisor.commands import shop_knowledge as command

    leave(command.knowledge_new(Layers(knowledge, shop), kind, name, system, out))


@knowledge_app.command("states")
def knowledge_states(
    out: Annotated[Path | None, typer.Option("--out", help="Page to write; left out: standard output.")] = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the file named with --out.")] = False,
) -> None:
    """Draw how the machine can stand: the moves, and what must never hold together."""
    from advisor.commands import knowledge as command

    leave(command.knowledge_states(Layers(knowledge, shop), out, over=replace))


@knowledge_app.command("schema")
def knowledge_schema(
    out: Annotated[Path | None, typer.Option("--out", help="Folder to write the schemas to; left out: standard output.")] = None,
) -> None:
    """Write the JSON Schemas of the knowledge files."""
    from advisor.commands import knowledge as command

    leave(command.knowledge_schema(out))
