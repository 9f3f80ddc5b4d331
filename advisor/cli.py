"""The command line: options in, one call, exit code out. The one home of typer, and the one error boundary.

Nothing heavy is imported here; each command imports what it runs, so that --help stays quick.
"""

from __future__ import annotations

import copy
import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from advisor.cli_ending import explain, forsake, left, prepare_streams, told
from advisor.cli_knowledge import knowledge_app
from advisor.cli_options import ACase, AsJson, Cluster, DataDir, KnowledgeDir, Plain, Shop, TheCase, leave, settings
from advisor.cli_shop import shop_app, store_app
from advisor.cli_tools import config, find, machine_app
from advisor.commands.shared import Layers
from advisor.errors import AdvisorError, ExitCode, UsageError
from advisor.plain import one_line

app = typer.Typer(
    name="advisor", context_settings=settings(), rich_markup_mode=None, pretty_exceptions_enable=False, no_args_is_help=False,
    help="Find, prove and repair the cause of a misbehaving steering or position sensor. Exit codes: 0 ok, 1 findings or"
    " failure, 2 usage, 3 no such case or file, 4 case locked, 5 paused without a result, 130 interrupted.",
)  # fmt: skip
app.add_typer(knowledge_app, name="knowledge")
app.add_typer(store_app, name="store")

app.add_typer(machine_app, name="machine")


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import PackageNotFoundError, version

        try:
            typer.echo(f"advisor {version('advisor')}")
        except PackageNotFoundError:
            typer.echo("advisor, run from its source folder")
        raise typer.Exit()


@app.callback(invoke_without_command=True)
def root(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True, help="Say which version it is.")] = False,
    accessible: Annotated[bool, typer.Option("--accessible", help="For a screen reader, as ACCESSIBLE=1.")] = False,
) -> None:
    """Without a command: a new case on a terminal, the help in a pipe."""
    if accessible:
        os.environ["ACCESSIBLE"] = "1"
    if context.invoked_subcommand is not None:
        return
    if sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty():
        start()
    else:
        typer.echo(context.get_help())


@app.command()
def start(
    machine: Annotated[Path | None, typer.Option("--machine", help="Machine file (YAML).")] = None,
    complaint: Annotated[str | None, typer.Option("--complaint", help="Complaint id; left out, it is asked.")] = None,
    answers: Annotated[Path | None, typer.Option("--answers", help="Scenario file whose answers are typed in.")] = None,
    missing: Annotated[list[str] | None, typer.Option("--missing", help="A tool, setup or second-person not here.")] = None,
    json_lines: Annotated[bool, typer.Option("--json-lines", help="Questions and answers as lines of JSON.")] = False,
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    plain: Plain = False,
) -> None:
    """Begin a case and be told what to check."""
    from advisor.commands import case as command

    layers, left_out = Layers(knowledge, shop), tuple(missing or ())
    leave(command.start(layers, data_dir, machine, complaint, answers, left_out, plain=plain, json_lines=json_lines))


@app.command()
def resume(
    case: ACase = None,
    machine: Annotated[
        Path | None, typer.Option("--machine", help="Machine file, where the case is to go on with another.")
    ] = None,
    copy: Annotated[bool, typer.Option("--copy", help="Damaged case: copy what can be read, and go on in the copy.")] = False,
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    plain: Plain = False,
) -> None:
    """Go on with a case."""
    from advisor.commands import case as command

    leave(command.resume(Layers(knowledge, shop), data_dir, case, machine, plain=plain, copy=copy))


@app.command()
def close(
    case: TheCase,
    by: Annotated[str, typer.Option("--by", help="Who confirms it.")],
    cause: Annotated[
        str | None, typer.Option("--cause", help="Cause id, or none. Left out: the repaired cause, else the likeliest.")
    ] = None,
    place: Annotated[str | None, typer.Option("--place", help="Element of the layout where the cause was.")] = None,
    reason: Annotated[str, typer.Option("--reason", help="Why, when it is not the likeliest cause.")] = "",
    yes: Annotated[bool, typer.Option("--yes", help="Close an unproven case without being asked once more.")] = False,
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
) -> None:
    """Close a case with its cause and place.

    Where the repair is not proven, it asks once more. With --yes it does not.
    """
    from advisor.commands import closing as command

    leave(command.close(Layers(knowledge, shop), data_dir, case, cause, place, by, reason, yes=yes))


@app.command()
def reopen(
    case: TheCase,
    reason: Annotated[str, typer.Option("--reason", help="Why it is opened again.")],
    data_dir: DataDir = None,
) -> None:
    """Open a closed case again."""
    from advisor.commands import closing as command

    leave(command.reopen(data_dir, case, reason))


@app.command()
def cases(
    only: Annotated[list[str] | None, typer.Argument(metavar="[CASE]...", help="With --export: only these.")] = None,
    export: Annotated[Path | None, typer.Option("--export", help="Pack cases into this file, for another computer.")] = None,
    import_: Annotated[Path | None, typer.Option("--import", help="Take in the cases of such a file.")] = None,
    data_dir: DataDir = None,
    as_json: AsJson = False,
) -> None:
    """List cases, newest first.

    Or carry cases to another computer with --export and --import.
    """
    from advisor.commands import case as command
    from advisor.commands import transfer

    if export is not None and import_ is not None:
        raise UsageError("--export and --import are given at once", "Do one after the other.")
    if only and export is None:
        raise UsageError("a case is named, but nothing is exported", "See one case with: advisor show CASE")
    if export is not None:
        leave(transfer.export_cases(data_dir, only or (), export, as_json=as_json))
    elif import_ is not None:
        leave(transfer.import_cases(data_dir, import_, as_json=as_json))
    else:
        leave(command.cases(data_dir, as_json=as_json))


@app.command()
def show(
    case: ACase = None,
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Show ranking, next step and trail of a case."""
    from advisor.commands import case as command

    leave(command.show(Layers(knowledge, shop), data_dir, case, as_json=as_json, plain=plain))


@app.command()
def record(
    case: ACase = None,
    pair: Annotated[
        tuple[str, str] | None, typer.Option("--compare", metavar="A B", help="Two cases side by side, instead of one.")
    ] = None,
    form: Annotated[str | None, typer.Option("--format", help="md, html, json or pdf; left out: by the file's ending.")] = None,
    out: Annotated[Path | None, typer.Option("--out", help="File to write; left out: standard output.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the file named with --out.")] = False,
    shown: Annotated[bool, typer.Option("--open", help="Open the record in the browser.")] = False,
    details: Annotated[list[str] | None, typer.Option("--set", help="key=value for the record's head, such as order=4711.")] = None,
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
) -> None:
    """Write the record of a case.

    The case can be finished or not. With --compare: two cases side by side.
    """
    from advisor.commands import record as command

    leave(command.record(Layers(knowledge, shop), data_dir, case, pair, form, out, tuple(details or ()), over=replace, shown=shown))


@app.command()
def replay(
    scenarios: Annotated[list[Path], typer.Argument(help="Scenario files.")],
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
) -> None:
    """Run scenarios and check what comes out.

    Nothing is saved. Exit 1 if one differs from what it expects.
    """
    from advisor.commands import replay as command

    leave(command.replay(Layers(knowledge, shop), tuple(scenarios), as_json=as_json))


@app.command()
def drop(
    reference: Annotated[float, typer.Option("--reference", help="Volts with the load straight across the source.")],
    loaded: Annotated[float, typer.Option("--loaded", help="Volts with the load through the circuit.")],
    sections: Annotated[int, typer.Option("--sections", help="Connection sections in the run.")] = 1,
    load_ohms: Annotated[float | None, typer.Option("--load-ohms", help="Load in ohms.")] = None,
    amps: Annotated[float | None, typer.Option("--amps", help="Load in amperes.")] = None,
    mm2: Annotated[str | None, typer.Option("--mm2", help="Wire size in square millimetres, or AWG 18.")] = None,
    metres: Annotated[float | None, typer.Option("--metres", help="Wire length in metres.")] = None,
    meter: Annotated[
        str | None, typer.Option("--meter", help="Meter as its manual states it, such as 0.5%+2; left out: that of the settings.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Judge one load test without a case."""
    from advisor.commands import drop as command

    leave(command.drop(reference, loaded, sections, load_ohms, amps, mm2, metres, meter, as_json=as_json))


@app.command()
def trial(
    cases: Annotated[int, typer.Option("--cases", help="Hidden faults.")] = 200,
    problems: Annotated[int, typer.Option("--problems", help="Small problems solved exactly.")] = 100,
    seed: Annotated[int | None, typer.Option("--seed", help="The same number gives the same faults; 1, or 0 with --field.")] = None,
    jobs: Annotated[int, typer.Option("--jobs", help="Workers; the result is the same for any number.")] = 1,
    cluster: Cluster = None,
    off_words: Annotated[
        float, typer.Option("--off-words", help="Chance that a word of the knowledge is wrong by one band, 0 to 1.")
    ] = 0.0,
    html: Annotated[Path | None, typer.Option("--html", help="A page with the curves to write, one file.")] = None,
    field: Annotated[bool, typer.Option("--field", help="Play the field cases named, by the program's own advice.")] = False,
    files: Annotated[list[Path] | None, typer.Argument(metavar="[FILE]...", help="Field cases, with --field.")] = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
) -> None:
    """Compare ways of searching.

    They work on simulated faults: minutes, checks, right causes. With --field: plays field cases.
    """
    from advisor.commands import practice as command

    if field or files:
        from advisor.commands.field import trial_field

        leave(trial_field(Layers(knowledge, shop), files or [], seed or 0, jobs, cluster, field=field, as_json=as_json))
        return
    number = 1 if seed is None else seed
    leave(command.trial(Layers(knowledge, shop), cases, problems, number, jobs, off_words, html, cluster, as_json=as_json))


@app.command()
def practice(
    seed: Annotated[int | None, typer.Option("--seed", help="The same number gives the same machine.")] = None,
    cause: Annotated[str | None, typer.Option("--cause", help="The hidden cause; left out, it is drawn.")] = None,
    field: Annotated[Path | None, typer.Option("--field", help="Play the machine of this field case.")] = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    plain: Plain = False,
) -> None:
    """Find a fault on a simulated machine, or on one of a field case.

    At the end you see what each choice cost.
    """
    from advisor.commands import practice as command

    if field is not None:
        from advisor.commands.field import practice_field

        if cause is not None:
            raise UsageError("--cause and --field were both given", "A field case hides its own cause. Leave --cause out.")
        leave(practice_field(Layers(knowledge, shop), field, seed or 0, plain=plain))
        return

    leave(command.practice(Layers(knowledge, shop), seed, cause, plain=plain))


@app.command()
def proof(
    occurrences: Annotated[int, typer.Option("--occurrences", help="How often the fault came before the repair.")],
    hours: Annotated[float, typer.Option("--hours", help="In how many hours of work.")],
    confidence: Annotated[float, typer.Option("--confidence", help="Wanted beside 0.8, 0.9 and 0.95.")] = 0.9,
    run: Annotated[float | None, typer.Option("--run", help="Hours run since the repair.")] = None,
    recurrences: Annotated[int, typer.Option("--recurrences", help="How often it came back in them.")] = 0,
    prior: Annotated[float, typer.Option("--prior", help="Probability, before the run, that the repair cured it.")] = 0.5,
    as_json: AsJson = False,
) -> None:
    """Say how long to run after a repair.

    Also says what the hours run so far show.
    """
    from advisor.commands import proof as command

    leave(command.proof(occurrences, hours, confidence, run, recurrences, prior, as_json=as_json))


@app.command()
def verify(
    case: ACase = None,
    code: Annotated[str | None, typer.Option("--code", help="Check code that a job card or a record has.")] = None,
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
) -> None:
    """Check that a case file is unaltered.

    Exit 1 with the first event that was altered.
    """
    from advisor.commands import verify as command

    leave(command.verify(Layers(knowledge, shop), data_dir, case, code, as_json=as_json))


app.add_typer(shop_app)
app.command()(find)
app.command()(config)


def _app_for(words: list[str]) -> typer.Typer:
    """The whole command line, or only the command that is asked for: to make them all takes longer than to run one."""
    name = words[0] if words else ""
    own = [c for c in app.registered_commands if (c.name or getattr(c.callback, "__name__", "")) == name]
    groups = [g for g in app.registered_groups if g.name == name]
    if not own and not groups:
        return app
    small = copy.copy(app)
    small.registered_commands, small.registered_groups = own, groups
    return small


def run(arguments: list[str] | None = None) -> int:
    """Runs a command line and returns its exit code; every failure the program can explain becomes two lines."""
    prepare_streams()
    try:
        found: Any = _app_for(sys.argv[1:] if arguments is None else arguments)(args=arguments, standalone_mode=False)
        sys.stdout.flush()
        return int(found or 0)
    except typer.Exit as leave:
        return left(leave)
    except typer.Abort:
        return int(ExitCode.INTERRUPTED)
    except AdvisorError as error:
        return explain(error)
    except BrokenPipeError:
        forsake(sys.stdout)  # the reader has gone, and so has anyone to tell
        return int(ExitCode.FAILURE)
    except OSError as error:
        return explain(told(error))
    except Exception as error:
        usage = getattr(error, "format_message", None)
        if usage is None:
            raise
        context = getattr(error, "ctx", None)
        command = context.command_path if context is not None else "advisor"
        typer.echo(one_line(f"advisor: {usage()}"), err=True)
        typer.echo(f"Type: {command} --help", err=True)
        return int(ExitCode.USAGE)
