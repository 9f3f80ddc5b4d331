"""The command line: options in, one call, exit code out. The one home of typer, and the one error boundary.

Nothing heavy is imported here; each command imports what it runs, so that --help stays quick.
"""

from __future__ import annotations

import io
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Any

import typer

from advisor.commands.shared import Layers
from advisor.errors import AdvisorError, ExitCode, InputError, StoreError, UsageError
from advisor.plain import one_line

app = typer.Typer(
    name="advisor", add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False, no_args_is_help=False,
    help="Find, prove and repair the cause of a misbehaving steering or position sensor. Exit codes: 0 ok, 1 findings or"
    " failure, 2 usage, 3 no such case or file, 4 case locked, 5 paused without a result, 130 interrupted.",
)  # fmt: skip
knowledge_app = typer.Typer(rich_markup_mode=None, help="Check, list, read and describe the trade knowledge.")
app.add_typer(knowledge_app, name="knowledge")

DataDir = Annotated[Path | None, typer.Option("--data-dir", envvar="ADVISOR_DATA_DIR", help="Folder of the case files.")]
KnowledgeDir = Annotated[Path | None, typer.Option("--knowledge", envvar="ADVISOR_KNOWLEDGE", help="Knowledge folder.")]
Shop = Annotated[Path | None, typer.Option("--shop", envvar="ADVISOR_SHOP", help="The shop's own knowledge, laid over the other.")]
Plain = Annotated[bool, typer.Option("--plain", help="No colour and no block characters.")]
AsJson = Annotated[bool, typer.Option("--json", help="JSON on standard output.")]


@app.callback(invoke_without_command=True)
def root(context: typer.Context) -> None:
    """Without a command: a new case on a terminal, the help in a pipe."""
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
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    plain: Plain = False,
) -> None:
    """Begin a case: be asked, see the ranking move, be told what to check next."""
    from advisor.commands import case as command

    _leave(command.start(Layers(knowledge, shop), data_dir, machine, complaint, answers, tuple(missing or ()), plain=plain))


@app.command()
def resume(
    case: Annotated[str | None, typer.Argument(help="Case id or its beginning; left out: the newest.")] = None,
    machine: Annotated[Path | None, typer.Option("--machine", help="Machine file, to be held to the one it began with.")] = None,
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    plain: Plain = False,
) -> None:
    """Go on with a case."""
    from advisor.commands import case as command

    _leave(command.resume(Layers(knowledge, shop), data_dir, case, machine, plain=plain))


@app.command()
def close(
    case: Annotated[str, typer.Argument(help="Case id or its beginning.")],
    by: Annotated[str, typer.Option("--by", help="Who confirms it.")],
    cause: Annotated[str | None, typer.Option("--cause", help="Cause id, or none; left out: what was repaired, or leads.")] = None,
    place: Annotated[str | None, typer.Option("--place", help="Element of the layout at which it sat.")] = None,
    reason: Annotated[str, typer.Option("--reason", help="Why, when it is not the leading suspect.")] = "",
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
) -> None:
    """Close a case with its confirmed cause and place."""
    from advisor.commands import closing as command

    _leave(command.close(Layers(knowledge, shop), data_dir, case, cause, place, by, reason))


@app.command()
def reopen(
    case: Annotated[str, typer.Argument(help="Case id or its beginning.")],
    reason: Annotated[str, typer.Option("--reason", help="Why it is opened again.")],
    data_dir: DataDir = None,
) -> None:
    """Open a closed case again."""
    from advisor.commands import closing as command

    _leave(command.reopen(data_dir, case, reason))


@app.command()
def cases(
    only: Annotated[list[str] | None, typer.Argument(metavar="[CASE]...", help="With --export: only these.")] = None,
    export: Annotated[Path | None, typer.Option("--export", help="Pack cases into this file, for another computer.")] = None,
    import_: Annotated[Path | None, typer.Option("--import", help="Take in the cases of such a file.")] = None,
    data_dir: DataDir = None,
    as_json: AsJson = False,
) -> None:
    """List every case, newest first; or carry cases to another computer."""
    from advisor.commands import case as command
    from advisor.commands import transfer

    if export is not None and import_ is not None:
        raise UsageError("--export and --import are given at once", "Do one after the other.")
    if only and export is None:
        raise UsageError("a case is named, but nothing is exported", "See one case with: advisor show CASE")
    if export is not None:
        _leave(transfer.export_cases(data_dir, only or (), export, as_json=as_json))
    elif import_ is not None:
        _leave(transfer.import_cases(data_dir, import_, as_json=as_json))
    else:
        _leave(command.cases(data_dir, as_json=as_json))


@app.command()
def show(
    case: Annotated[str, typer.Argument(help="Case id or its beginning.")],
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Show a case's ranking, next step and trail."""
    from advisor.commands import case as command

    _leave(command.show(Layers(knowledge, shop), data_dir, case, as_json=as_json, plain=plain))


@app.command()
def record(
    case: Annotated[str | None, typer.Argument(help="Case id or its beginning.")] = None,
    pair: Annotated[
        tuple[str, str] | None, typer.Option("--compare", metavar="A B", help="Two cases side by side, instead of one.")
    ] = None,
    form: Annotated[str, typer.Option("--format", help="md, html or json.")] = "md",
    out: Annotated[Path | None, typer.Option("--out", help="File to write; left out: standard output.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Write over the file named with --out.")] = False,
    details: Annotated[list[str] | None, typer.Option("--set", help="key=value for the record's head, such as order=4711.")] = None,
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
) -> None:
    """Write the record of a case, finished or not, or two cases side by side."""
    from advisor.commands import case as command

    _leave(command.record(Layers(knowledge, shop), data_dir, case, pair, form, out, tuple(details or ()), over=replace))


@app.command()
def replay(
    scenarios: Annotated[list[Path], typer.Argument(help="Scenario files.")],
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
) -> None:
    """Run scenarios in memory and hold each to what it expects; exit 1 if one differs."""
    from advisor.commands import replay as command

    _leave(command.replay(Layers(knowledge, shop), tuple(scenarios), as_json=as_json))


@app.command()
def drop(
    reference: Annotated[float, typer.Option("--reference", help="Volts with the load straight across the source.")],
    loaded: Annotated[float, typer.Option("--loaded", help="Volts with the load through the circuit.")],
    sections: Annotated[int, typer.Option("--sections", help="Connection sections in the run.")] = 1,
    load_ohms: Annotated[float | None, typer.Option("--load-ohms", help="Load in ohms.")] = None,
    amps: Annotated[float | None, typer.Option("--amps", help="Load in amperes.")] = None,
    mm2: Annotated[str | None, typer.Option("--mm2", help="Wire size in square millimetres, or AWG 18.")] = None,
    metres: Annotated[float | None, typer.Option("--metres", help="Wire length in metres.")] = None,
    as_json: AsJson = False,
) -> None:
    """Judge one load-test reading without a case."""
    from advisor.commands import drop as command

    _leave(command.drop(reference, loaded, sections, load_ohms, amps, mm2, metres, as_json=as_json))


@app.command()
def trial(
    cases: Annotated[int, typer.Option("--cases", help="Hidden faults.")] = 200,
    problems: Annotated[int, typer.Option("--problems", help="Small problems solved exactly.")] = 100,
    seed: Annotated[int | None, typer.Option("--seed", help="The same number gives the same faults; 1, or 0 with --field.")] = None,
    jobs: Annotated[int, typer.Option("--jobs", help="Processes; the result is the same for any number.")] = 1,
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
    """Ways of searching side by side on simulated faults: minutes, checks, right causes. Or field cases played."""
    from advisor.commands import practice as command

    if field or files:
        from advisor.commands.field import trial_field

        _leave(trial_field(Layers(knowledge, shop), files or [], seed or 0, jobs, field=field, as_json=as_json))
        return
    _leave(
        command.trial(Layers(knowledge, shop), cases, problems, 1 if seed is None else seed, jobs, off_words, html, as_json=as_json)
    )


@app.command()
def practice(
    seed: Annotated[int | None, typer.Option("--seed", help="The same number gives the same machine.")] = None,
    cause: Annotated[str | None, typer.Option("--cause", help="The hidden cause; left out, it is drawn.")] = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    plain: Plain = False,
) -> None:
    """Find a fault on a simulated machine, and see what each choice cost."""
    from advisor.commands import practice as command

    _leave(command.practice(Layers(knowledge, shop), seed, cause, plain=plain))


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
    """Say how many hours without the fault prove a repair, and what hours run so far show."""
    from advisor.commands import proof as command

    _leave(command.proof(occurrences, hours, confidence, run, recurrences, prior, as_json=as_json))


@app.command()
def verify(
    case: Annotated[str, typer.Argument(help="Case id or its beginning.")],
    data_dir: DataDir = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
) -> None:
    """Look whether a case's file is what was answered; exit 1 with the first event that is not."""
    from advisor.commands import verify as command

    _leave(command.verify(Layers(knowledge, shop), data_dir, case, as_json=as_json))


@knowledge_app.command("check")
def knowledge_check(knowledge: KnowledgeDir = None, shop: Shop = None, as_json: AsJson = False) -> None:
    """Load the knowledge and look at it as a whole; exit 1 if anything is found."""
    from advisor.commands import knowledge as command

    _leave(command.knowledge_check(Layers(knowledge, shop), as_json=as_json))


@knowledge_app.command("list")
def knowledge_list(knowledge: KnowledgeDir = None, shop: Shop = None, as_json: AsJson = False) -> None:
    """List complaints, causes, checks and rules."""
    from advisor.commands import knowledge as command

    _leave(command.knowledge_list(Layers(knowledge, shop), as_json=as_json))


@knowledge_app.command("show")
def knowledge_show(
    name: Annotated[str, typer.Argument(metavar="ID")],
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    plain: Plain = False,
) -> None:
    """Show a check, cause, complaint, setup or rule as a technician would read it."""
    from advisor.commands import knowledge as command

    _leave(command.knowledge_show(Layers(knowledge, shop), name, plain=plain))


@knowledge_app.command("map")
def knowledge_map(
    complaint: Annotated[str | None, typer.Option("--complaint", help="Complaint id; left out: all.")] = None,
    form: Annotated[str | None, typer.Option("--format", help="text or html; left out: html for an .html file.")] = None,
    out: Annotated[Path | None, typer.Option("--out", help="File to write; left out: standard output.")] = None,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    replace: Annotated[bool, typer.Option("--replace", help="Write over the file named with --out.")] = False,
    plain: Plain = False,
) -> None:
    """Draw which checks separate which causes."""
    from advisor.commands import knowledge as command

    _leave(command.knowledge_map(Layers(knowledge, shop), complaint, form, out, plain=plain, over=replace))


@knowledge_app.command("diff")
def knowledge_diff(
    seen: Annotated[
        bool, typer.Option("--seen", help="You have looked: keep what is shipped now, to tell the next update.")
    ] = False,
    knowledge: KnowledgeDir = None,
    shop: Shop = None,
    as_json: AsJson = False,
) -> None:
    """Show what the shop changes, and what an update says beside it; exit 1 if one does."""
    from advisor.commands import shop_knowledge as command

    _leave(command.knowledge_diff(Layers(knowledge, shop), seen=seen, as_json=as_json))


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

    _leave(command.knowledge_new(Layers(knowledge, shop), kind, name, system, out))


@knowledge_app.command("schema")
def knowledge_schema(
    out: Annotated[Path | None, typer.Option("--out", help="Folder to write the schemas to; left out: standard output.")] = None,
) -> None:
    """Write the JSON Schemas of the knowledge files."""
    from advisor.commands import knowledge as command

    _leave(command.knowledge_schema(out))


def _leave(code: ExitCode) -> None:
    if code:
        raise typer.Exit(int(code))


def run(arguments: list[str] | None = None) -> int:
    """Runs a command line and returns its exit code; every failure the program can explain becomes two lines."""
    _prepare_streams()
    try:
        found: Any = app(args=arguments, standalone_mode=False)
        sys.stdout.flush()
        return int(found or 0)
    except typer.Exit as leave:
        return _left(leave)
    except typer.Abort:
        return int(ExitCode.INTERRUPTED)
    except AdvisorError as error:
        return _explain(error)
    except BrokenPipeError:
        _drop(sys.stdout)  # the reader has gone, and so has anyone to tell
        return int(ExitCode.FAILURE)
    except OSError as error:
        return _explain(_told(error))
    except Exception as error:
        usage = getattr(error, "format_message", None)
        if usage is None:
            raise
        context = getattr(error, "ctx", None)
        command = context.command_path if context is not None else "advisor"
        typer.echo(one_line(f"advisor: {usage()}"), err=True)
        typer.echo(f"Type: {command} --help", err=True)
        return int(ExitCode.USAGE)


def _left(leave: typer.Exit) -> int:
    """The exit code of a command that ended; another one when its output could not be written."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _drop(sys.stdout)
        return int(ExitCode.FAILURE)
    except OSError as error:
        return _explain(_told(error))
    return int(leave.exit_code)


def _prepare_streams() -> None:
    """Streams that take every character, and stand even where the process was started without them."""
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - open as long as the process lives
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def _told(error: OSError) -> AdvisorError:
    """A failure of the system that no command explains better."""
    where = f"{error.filename}: " if error.filename is not None else "the output could not be written: "
    if error.filename is None:
        _drop(sys.stdout)
    return StoreError(f"{where}{error.strerror or error}", "Nothing that was saved is lost. Make room, or choose another place.")


def _drop(stream: Any) -> None:
    """Sends what is still to be written nowhere: Python would try again at its end, and fail again."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _explain(error: AdvisorError) -> int:
    if isinstance(error, InputError):
        for problem in error.problems:
            typer.echo(one_line(str(problem)), err=True)
    typer.echo(one_line(f"advisor: {error.what}"), err=True)
    if error.hint:
        typer.echo(one_line(error.hint), err=True)
    return int(error.exit_code)
