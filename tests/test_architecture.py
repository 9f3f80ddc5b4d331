"""Imports go one way, every foreign library has one home, and the first screen loads none of the heavy ones."""

from __future__ import annotations

import ast
import graphlib
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer
from builders import SMALL
from folders import ROOT

from advisor.cli import run

PACKAGE = ROOT / "advisor"

# Each part, and what it may import; what is lower does not know what is higher.
_BELOW_CONSULTATION = {"inference", "reasoning", "electrical", "evidence", "model", "errors", "plain"}
ALLOWED: dict[str, set[str]] = {
    "errors": {"plain"},
    "plain": set(),
    "model": {"errors"},
    "electrical": {"model", "errors"},
    "evidence": {"model", "errors"},
    "library": {"evidence", "model", "errors", "plain"},
    "inference": {"model", "errors"},
    "reasoning": {"electrical", "evidence", "model", "errors"},
    "store": {"model", "errors"},
    "consultation": _BELOW_CONSULTATION,
    "session": {"consultation", *_BELOW_CONSULTATION},
    "terminal": {"session", "consultation", *_BELOW_CONSULTATION},
    "record": {"consultation", *_BELOW_CONSULTATION},
    "practice": {"consultation", "workers", *_BELOW_CONSULTATION},
    "workers": {"errors"},
    "experience": {"consultation", *_BELOW_CONSULTATION},
    "commands": {
        "workers",
        "experience",
        "session",
        "terminal",
        "record",
        "practice",
        "store",
        "library",
        "consultation",
        *_BELOW_CONSULTATION,
    },
    "cli": {"commands", "errors", "plain"},
    "__main__": {"cli"},
    "__init__": set(),
}
# Each foreign library, and the one part (or module) that may import it.
HOMES = {
    "experta": "inference/_experta.py",
    "yaml": "library/",
    "jinja2": "record/",
    "typer": "cli",
    "rich": "terminal/",
    "filelock": "store/",
    "platformdirs": "store/",
    "rapidfuzz": "session/",
    "snowballstemmer": "session/",
    "sqlalchemy": "store/",
    "alembic": "store/",
    "matplotlib": "record/pictures.py",
    "keyring": "store/passwords.py",
    "distributed": "workers.py",
    "dask": "workers.py",
}
# Libraries that come with another one and show its types: they live where that one lives.
PART_OF = {"pydantic_core": "pydantic", "markupsafe": "jinja2"}
HEAVY = (
    "numpy",
    "pydantic",
    "yaml",
    "jinja2",
    "experta",
    "rich",
    "filelock",
    "platformdirs",
    "rapidfuzz",
    "snowballstemmer",
    "sqlalchemy",
    "alembic",
    "matplotlib",
    "keyring",
    "distributed",
)


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def part(module: Path) -> str:
    name = module.relative_to(PACKAGE).parts[0].removesuffix(".py")
    return "cli" if name.startswith("cli_") else name  # the command line in several modules


def library(name: str) -> str:
    """The library that a dotted name belongs to."""
    head = name.split(".")[0]
    return PART_OF.get(head, head)


def imported(module: Path) -> Iterator[tuple[int, str]]:
    """Line and dotted name of everything that a module imports, inside functions and for type checks too."""
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}:{node.lineno}: relative imports hide where a name comes from"
            yield from ((node.lineno, f"{node.module}.{alias.name}") for alias in node.names)


@pytest.mark.parametrize("module", modules(), ids=lambda m: m.relative_to(PACKAGE).as_posix())
def test_imports_go_one_way(module: Path) -> None:
    """A module imports only from its own part and from those below it."""
    own = part(module)
    wrong = []
    for line, name in imported(module):
        head, *rest = name.split(".")
        if head == "advisor" and part(PACKAGE / rest[0]) != own and rest[0] not in ALLOWED[own]:
            wrong.append(f"{module.relative_to(ROOT)}:{line} imports {name}")
    assert wrong == []


def dotted(module: Path) -> str:
    """The name under which a module is imported."""
    parts = module.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def circle(graph: dict[str, set[str]]) -> list[str]:
    """Modules that import one another in a circle, the first one named at the end too; empty without one."""
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        return list(error.args[1])
    return []


def test_no_modules_import_one_another_in_a_circle() -> None:
    """A module can be read after those it needs, also where it imports them late or for their types only."""
    names = {dotted(m) for m in modules()}

    def module_of(name: str) -> str:
        return name if name in names else name.rpartition(".")[0]  # a name out of a module

    graph = {dotted(m): {module_of(n) for _, n in imported(m) if n.startswith("advisor.")} - {dotted(m)} for m in modules()}
    assert all(found <= names for found in graph.values())
    assert circle(graph) == []


def test_a_circle_of_three_is_found() -> None:
    """The search names the modules that hang together."""
    assert set(circle({"one": {"two"}, "two": {"three"}, "three": {"one"}, "four": {"one"}})) == {"one", "two", "three"}


@pytest.mark.parametrize("module", modules(), ids=lambda m: m.relative_to(PACKAGE).as_posix())
def test_foreign_libraries_have_one_home(module: Path) -> None:
    """A library that we may want to exchange is known in one place only."""
    inside = module.relative_to(PACKAGE).as_posix()
    wrong = [
        f"{inside}:{line} imports {name}" for line, name in imported(module) if not inside.startswith(HOMES.get(library(name), ""))
    ]
    assert wrong == []


def test_every_part_has_its_place() -> None:
    """A new folder or module at the top must be given its place above; no place stands for nothing."""
    assert {part(m) for m in modules()} <= ALLOWED.keys()
    assert {part(m) for m in modules()} >= ALLOWED.keys() - {"practice"}


@pytest.mark.parametrize("guest", HOMES)
def test_every_home_is_lived_in(guest: str) -> None:
    """The library is imported in its home; otherwise the line above is out of date."""
    assert any(library(name) == guest for m in modules() for _, name in imported(m))


def test_only_the_standard_library_and_declared_ones_are_imported() -> None:
    """Whatever is imported comes with Python or stands in pyproject.toml."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    lines = [*project["dependencies"], *extras["shop"], *extras["cluster"]]
    declared = {re.split(r"[^a-z0-9_-]", line)[0].replace("pyyaml", "yaml") for line in lines} - {"psycopg"}  # named in an address
    foreign = {library(name) for m in modules() for _, name in imported(m)} - sys.stdlib_module_names - {"advisor"}
    assert foreign == declared


def test_physics_and_models_do_no_input_or_output() -> None:
    """The parts that compute neither open files nor print."""
    wrong = []
    for module in modules():
        if part(module) not in ("model", "evidence", "electrical", "reasoning", "inference", "consultation", "session"):
            continue
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("open", "print", "input"):
                wrong.append(f"{module.relative_to(ROOT)}:{node.lineno} calls {node.func.id}")
        wrong += [
            f"{module.relative_to(ROOT)}:{line}"
            for line, name in imported(module)
            if name.split(".")[0] in ("os", "pathlib", "sys")
        ]
    assert wrong == []


def loaded_by(arguments: list[str]) -> list[str]:
    """The heavy libraries that a command line loads, in a process of its own."""
    code = (
        "import sys\n"
        "from advisor.cli import run\n"
        f"code = run({arguments!r})\n"
        f"print(code, *[name for name in {HEAVY!r} if name in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60, check=False
    )
    assert done.stderr == ""
    assert "Usage: " in done.stdout
    code, *heavy = done.stdout.splitlines()[-1].split()
    assert code == "0"
    return heavy


def test_help_loads_nothing_heavy() -> None:
    """Help is on the screen before any library that takes its time is loaded."""
    assert loaded_by(["--help"]) == []


@pytest.mark.parametrize("command", ["start", "replay", "record", "knowledge check"])
def test_help_of_a_command_loads_little(command: str) -> None:
    """Help for one command loads only what the library of the command line itself uses to describe options."""
    assert set(loaded_by([*command.split(), "--help"])) <= {"pydantic"}


FIRST_QUESTION = """
import sys
from advisor.cli import run
run(["start", "--knowledge", sys.argv[1]])
print(*[name for name in {heavy!r} if name in sys.modules], file=sys.stderr)
"""


def test_the_first_question_loads_only_what_it_needs(tmp_path: Path) -> None:
    """Once the knowledge is kept, no reader of files and no arithmetic is loaded before the first question is asked."""
    for _ in range(2):  # the first start keeps the knowledge
        done = subprocess.run(
            [sys.executable, "-c", FIRST_QUESTION.format(heavy=HEAVY), str(SMALL)],
            cwd=ROOT, capture_output=True, text=True, timeout=60, check=True, input="",
            env={**os.environ, "ADVISOR_CACHE_DIR": str(tmp_path / "cache"), "ADVISOR_DATA_DIR": str(tmp_path / "cases")},
        )  # fmt: skip
    assert "What" in done.stdout
    assert set(done.stderr.split()) <= {"pydantic", "platformdirs"}


@pytest.mark.parametrize(("words", "most"), [(["cases", "--help"], 1), (["store", "--help"], 5), (["--help"], 99)])
def test_only_the_command_that_is_asked_for_is_made(words: list[str], most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The command line makes the options of one command, or of one group of commands, and of all only for the whole help."""
    made: list[object] = []
    real = typer.main.get_command_from_info

    def counted(*given: Any, **named: Any) -> Any:
        made.append(given)
        return real(*given, **named)

    monkeypatch.setattr(typer.main, "get_command_from_info", counted)
    assert run(words) == 0
    assert 1 <= len(made) <= most
    assert most < 99 or len(made) > 20


def test_a_word_that_is_no_command_is_held_against_all_of_them(capsys: pytest.CaptureFixture[str]) -> None:
    """A slip in the name of a command is refused by the whole command line."""
    assert run(["recrod"]) == 2
    assert "recrod" in capsys.readouterr().err
