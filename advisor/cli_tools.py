"""The commands around the trade knowledge, machine files and the user's own settings: options in, one call."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from advisor.cli_options import AsJson, KnowledgeDir, Plain, Shop, leave
from advisor.commands.shared import Layers

machine_app = typer.Typer(rich_markup_mode=None, help="Write, check and list machine files.")


def find(
    words: Annotated[list[str], typer.Argument(help="Words to look for, such as: splice corroded.")],
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Look for words in the trade knowledge."""
    from advisor.commands import find as command

    leave(command.find(Layers(knowledge, shop), " ".join(words), as_json=as_json, plain=plain))


def config(
    key: Annotated[str | None, typer.Argument(help="What to set; left out: show all.")] = None,
    value: Annotated[str | None, typer.Argument(help="Its value; left out: show this one.")] = None,
    unset: Annotated[bool, typer.Option("--unset", help="Take the value away.")] = False,
    as_json: AsJson = False,
) -> None:
    """Show or set what holds for all cases.

    Name, shop, paper, voltmeter, decimal sign, screen reader.
    """
    from advisor.commands import config as command

    leave(command.config(key, value, unset=unset, as_json=as_json))


@machine_app.command("new")
def machine_new(
    out: Annotated[Path, typer.Argument(metavar="FILE", help="File to write.")],
    title: Annotated[str | None, typer.Option("--title", help="Kind of machine; left out, it is asked.")] = None,
    volts: Annotated[int | None, typer.Option("--volts", help="12, 24 or 48; left out, it is asked.")] = None,
) -> None:
    """Write a commented machine file to fill in."""
    from advisor.commands import machine as command

    leave(command.machine_new(out, title, volts))


@machine_app.command("check")
def machine_check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Machine file (YAML).")],
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Check a machine file and draw its circuits."""
    from advisor.commands import machine as command

    leave(command.machine_check(file, as_json=as_json, plain=plain))


@machine_app.command("list")
def machine_list(
    folder: Annotated[Path, typer.Argument(metavar="[FOLDER]", help="Folder of machine files.")] = Path("."),
    as_json: AsJson = False,
) -> None:
    """List the machine files in a folder."""
    from advisor.commands import machine as command

    leave(command.machine_list(folder, as_json=as_json))
