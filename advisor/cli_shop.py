"""The commands of a shop with many laptops: the shared store, and keeping in step with it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from advisor.cli_options import ACase, AsJson, Cluster, DataDir, KnowledgeDir, Plain, Shop, leave
from advisor.commands.shared import Layers

shop_app = typer.Typer(rich_markup_mode=None)
store_app = typer.Typer(rich_markup_mode=None, help="Make the shop's shared store of cases.")


@shop_app.command()
def sync(
    store: Annotated[
        str | None,
        typer.Argument(envvar="ADVISOR_STORE", help="A folder, sqlite:///FILE or postgresql://USER@COMPUTER/NAME."),
    ] = None,
    whole: Annotated[
        bool, typer.Option("--whole", help="Look at every case of the store again, not only at what came since.")
    ] = False,
    data_dir: DataDir = None,
    as_json: AsJson = False,
) -> None:
    """Send the shared store what it lacks, and fetch what is lacking here."""
    from advisor.commands import sync as command

    leave(command.sync(data_dir, store, whole=whole, as_json=as_json))


@shop_app.command()
def similar(
    case: ACase = None,
    words: Annotated[str | None, typer.Option("--words", help="Instead of a case: words in the notes of closed ones.")] = None,
    most: Annotated[int, typer.Option("--most", help="How many are shown.")] = 5,
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Show the closed cases most like this one: what cured them, and how long it took."""
    from advisor.commands import similar as command

    leave(command.similar(Layers(knowledge, shop), data_dir, case, words, most, as_json=as_json, plain=plain))


@shop_app.command()
def experience(
    out: Annotated[
        Path | None, typer.Option("--out", help="Write what was learned: a file for the shop's folder, to be read first.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace a file that is there.")] = False,
    jobs: Annotated[int, typer.Option("--jobs", help="Workers; the result is the same for any number.")] = 1,
    cluster: Cluster = None,
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Count what closed and proven cases teach, and say where that foretells better than the words."""
    from advisor.commands import experience as command

    done = command.experience(Layers(knowledge, shop), data_dir, out, jobs, cluster, replace=replace, as_json=as_json, plain=plain)
    leave(done)


@shop_app.command()
def shop(
    html: Annotated[Path, typer.Option("--html", help="Where the page is written.")],
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
) -> None:
    """Write the foreman's page: how the closed cases went, minutes against plan, causes, and what is open."""
    from advisor.commands import shop_page as command

    leave(command.shop_page(Layers(knowledge, shop), data_dir, html))


@store_app.command("new")
def store_new(
    store: Annotated[str, typer.Argument(help="sqlite:///FILE or postgresql://USER@COMPUTER/NAME.")],
    technician: Annotated[list[str] | None, typer.Option("--technician", help="Role that may read and add cases.")] = None,
    foreman: Annotated[list[str] | None, typer.Option("--foreman", help="Role that may only read.")] = None,
) -> None:
    """Make the tables of a shared store, or bring older ones up to date."""
    from advisor.commands import sync as command

    leave(command.store_new(store, tuple(technician or ()), tuple(foreman or ())))


@store_app.command("password")
def store_password(
    store: Annotated[str, typer.Argument(help="postgresql://USER@COMPUTER/NAME.")],
    forget: Annotated[bool, typer.Option("--forget", help="Take away the one that is kept.")] = False,
) -> None:
    """Keep the password of a shared store in this computer's keyring."""
    from advisor.commands import sync as command

    leave(command.store_password(store, forget=forget))
