"""Changes the program in one place at a time, at places drawn by a seed, and runs the tests that pass there: do they notice?

    python tests/benchmarks/mutants.py --map MAP tests/reasoning tests/store ...     which test passes which line, once
    python tests/benchmarks/mutants.py --map MAP --draw 160 --seed 1 [--part 1/4] [--in reasoning]
    python tests/benchmarks/mutants.py --map MAP --at advisor/reasoning/standing.py:200-260           every change in these lines

The changes are those of cosmic-ray (`pip install advisor[attack]`): another operator, number, comparison, exception or decorator, a
loop that never runs. A place is drawn first and then one of its changes; types and words in quotes are left alone. Each changed
copy lies in a folder of its own. The tests that pass the line run, those of the same folder and the quickest first, for `--budget`
seconds at most. A change that no test notices is printed, unless `mutants_alive.yaml` says in one line why it is the same program.
Ends with 1 if one is left, or if fewer than 85 of 100 were noticed.
"""

from __future__ import annotations

import argparse
import ast
import difflib
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).parents[2]
PACKAGES = ("consultation", "electrical", "reasoning", "store")
ALIVE = Path(__file__).with_name("mutants_alive.yaml")
ENOUGH = 0.85


@dataclass(frozen=True)
class Mutant:
    """One change: the module from the root on, its line, and the whole text after the change."""

    module: str
    line: int
    operator: str
    text: str

    @property
    def shown(self) -> list[str]:
        """The lines that differ, with their signs."""
        before = (ROOT / self.module).read_text(encoding="utf-8").splitlines()
        lines = difflib.unified_diff(before, self.text.splitlines(), lineterm="", n=0)
        return [" ".join(line.split()) for line in lines if line[:1] in "+-" and line[:3] not in ("+++", "---")]


class Bare(ast.NodeTransformer):
    """A program without its types and docstrings: a change that leaves this the same changes nothing that runs."""

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        node.returns = None
        for argument in (*node.args.args, *node.args.posonlyargs, *node.args.kwonlyargs, node.args.vararg, node.args.kwarg):
            if argument is not None:
                argument.annotation = None
        return self.generic_visit(node)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AST:
        node.annotation = ast.Constant(0)
        return self.generic_visit(node)

    def visit_Expr(self, node: ast.Expr) -> ast.AST:
        return ast.Pass() if isinstance(node.value, ast.Constant) else self.generic_visit(node)


def bare(text: str) -> str | None:
    """What runs of a text; None where it is no program."""
    try:
        return ast.dump(Bare().visit(ast.parse(text)))
    except SyntaxError:
        return None


def places(module: Path) -> dict[tuple[int, int], list[tuple[str, int]]]:
    """For each place of a module, the changes that can be made there: operator and number of its occurrence."""
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.plugins import get_operator, operator_names

    nodes = list(ast_nodes(get_ast(module.read_text(encoding="utf-8"))))
    found: dict[tuple[int, int], list[tuple[str, int]]] = defaultdict(list)
    for name in sorted(operator_names()):
        if get_operator(name).arguments():
            continue
        operator = get_operator(name)()
        starts = (start for node in nodes for start, _ in operator.mutation_positions(node))
        for number, start in enumerate(starts):
            found[start].append((name, number))
    return found


def drawn(count: int, seed: int, packages: tuple[str, ...]) -> Iterator[Mutant]:
    """So many changes, as many of each package."""
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    for number, package in enumerate(packages):
        dice = random.Random(f"{seed} {package}")
        modules = sorted(p for p in (ROOT / "advisor" / package).rglob("*.py") if "migrations" not in p.parts)
        every = [(m, start, ways) for m in modules for start, ways in sorted(places(m).items())]
        dice.shuffle(every)
        wanted = count * (number + 1) // len(packages) - count * number // len(packages)
        for module, start, ways in every:
            if not wanted:
                break
            operator, occurrence = dice.choice(ways)
            before = module.read_text(encoding="utf-8")
            after = mutate_code(before, get_operator(operator)(), occurrence)
            if after is None or bare(after) in (None, bare(before)):
                continue
            wanted -= 1
            yield Mutant(module.relative_to(ROOT).as_posix(), start[0], operator.removeprefix("core/"), after)


def every(at: str) -> Iterator[Mutant]:
    """Every change that can be made between two lines of a module."""
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    module, _, lines = at.partition(":")
    first, last = map(int, lines.split("-"))
    before = (ROOT / module).read_text(encoding="utf-8")
    for (line, _), ways in sorted(places(ROOT / module).items()):
        for operator, occurrence in ways if first <= line <= last else ():
            after = mutate_code(before, get_operator(operator)(), occurrence)
            if after is not None and bare(after) not in (None, bare(before)):
                yield Mutant(module, line, operator.removeprefix("core/"), after)


# ---- which test passes which line


class Watch:
    """Tells the measuring which test runs, and keeps how long each took."""

    def __init__(self, switch: Callable[[str], None]) -> None:
        self.switch = switch
        self.seconds: dict[str, float] = {}
        self.failed: list[str] = []

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self.switch(nodeid)
        self.began = time.perf_counter()

    def pytest_runtest_logfinish(self, nodeid: str) -> None:
        self.seconds[nodeid] = time.perf_counter() - self.began
        self.switch("")

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed:
            self.failed.append(report.nodeid)


def measure(paths: list[str], kept: Path) -> int:
    """Runs tests and adds to the map which lines each passes, and its seconds. A test that fails is left out."""
    import coverage
    import pytest

    os.chdir(ROOT)
    cover = coverage.Coverage(data_file=None, source=[f"advisor.{p}" for p in PACKAGES], config_file=False)
    watch = Watch(cover.switch_context)
    cover.start()
    try:
        pytest.main(["-q", "-p", "no:cacheprovider", "-n", "0", "--hypothesis-seed=1", *paths], plugins=[watch])
    finally:
        cover.stop()
    known: dict[str, Any] = json.loads(kept.read_text()) if kept.exists() else {"seconds": {}, "lines": {}}
    known["seconds"].update({t: s for t, s in watch.seconds.items() if t not in watch.failed})
    data = cover.get_data()
    for file in data.measured_files():
        lines = known["lines"].setdefault(Path(file).relative_to(ROOT).as_posix(), {})
        for line, tests in data.contexts_by_lineno(file).items():
            lines[str(line)] = sorted({*lines.get(str(line), ()), *(t for t in tests if t and t not in watch.failed)})
    kept.write_text(json.dumps(known))
    print(f"{len(watch.seconds)} tests in {sum(watch.seconds.values()):.0f} s, {len(watch.failed)} failed and left out")
    return 0


def tests_for(mutant: Mutant, known: dict[str, Any], budget: float) -> list[str]:
    """The tests that pass the line, or where none does (it runs once, on import) those that pass most of the module."""
    lines: dict[str, list[str]] = known["lines"].get(mutant.module, {})
    passing = lines.get(str(mutant.line), [])
    seconds: dict[str, float] = known["seconds"]
    package = mutant.module.split("/")[1]
    if not passing:
        often: dict[str, int] = defaultdict(int)
        for tests in lines.values():
            for test in tests:
                often[test] += 1
        order = sorted(often, key=lambda t: -often[t])
    else:
        order = sorted(passing, key=lambda t: (not t.startswith(f"tests/{package}/"), seconds[t]))
    found: list[str] = []
    for test in order:
        if seconds[test] <= budget:
            found.append(test)
            budget -= seconds[test]
    return found


# ---- do they notice?


def laid_out(folder: Path) -> None:
    """A copy of what the tests need."""
    for name in ("advisor", "knowledge", "scenarios", "tests", "pyproject.toml", "README.md", "DEVELOPERS.md"):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__", ".hypothesis"))
        else:
            shutil.copy(source, folder / name)


def noticed(mutant: Mutant, tests: list[str], folder: Path, most: float) -> str:
    """The first test that fails on a change; "no end" where it runs for ever; empty where none notices."""
    file = folder / mutant.module
    sound = file.read_text(encoding="utf-8")
    file.write_text(mutant.text, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=1", "--tb=no", *tests]
    own = {"PYTHONPATH": str(folder), "XDG_CACHE_HOME": str(folder / ".cache"), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(
            command,
            cwd=folder,
            env={**os.environ, **own},
            capture_output=True,
            text=True,
            errors="replace",
            timeout=most,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return "no end"
    finally:
        file.write_text(sound, encoding="utf-8")
    if done.returncode == 0:
        return ""
    lines = [line for line in (done.stdout + done.stderr).splitlines() if line.startswith(("FAILED", "ERROR", "E "))]
    return lines[0] if lines else f"it does not start: {done.returncode}"


def excused(mutant: Mutant) -> str | None:
    """Why a change is the same program, where the list says so."""
    listed = yaml.safe_load(ALIVE.read_text(encoding="utf-8")) or []
    return next((x["why"] for x in listed if x["module"] == mutant.module and x["change"] == " ".join(mutant.shown)), None)


def attack(mutants: list[Mutant], known: dict[str, Any], budget: float) -> int:
    killed: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])  # drawn, noticed, the same program
    with tempfile.TemporaryDirectory(prefix="mutants-") as name:
        laid_out(Path(name))
        for mutant in mutants:
            began = time.perf_counter()
            tests = tests_for(mutant, known, budget)
            by = noticed(mutant, tests, Path(name), 60 + 4 * budget) if tests else ""
            why = excused(mutant) if not by else None
            count = killed[mutant.module.split("/")[1]]
            count[0] += 1
            count[1] += bool(by)
            count[2] += why is not None
            said = f"noticed by {by}" if by else f"the same program: {why}" if why else "NOT NOTICED"
            took = f"{len(tests)} tests, {time.perf_counter() - began:.0f} s"
            print(f"{mutant.module}:{mutant.line} {mutant.operator}: {said} ({took})", flush=True)
            if not by:
                print("\n".join(f"    {line}" for line in mutant.shown), flush=True)
    for package, (total, well, same) in sorted(killed.items()):
        print(f"{package}: {total} drawn, {well} noticed, {same} the same program, {total - well - same} left")
    total, well, same = (sum(c[i] for c in killed.values()) for i in range(3))
    share = well / max(1, total - same)
    print(f"all: {total} drawn, {same} the same program, {well} of the others noticed ({share:.0%}), {total - well - same} left")
    return int(well + same < total or share < ENOUGH)


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--map", type=Path, required=True)
    parser.add_argument("--draw", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--at", default="")
    parser.add_argument("--part", default="1/1")
    parser.add_argument("--in", dest="packages", action="append", choices=PACKAGES)
    parser.add_argument("--budget", type=float, default=30)
    parser.add_argument("paths", nargs="*")
    options = parser.parse_args()
    if not options.draw and not options.at:
        return measure(options.paths, options.map)
    part, parts = map(int, options.part.split("/"))
    mutants = every(options.at) if options.at else drawn(options.draw, options.seed, PACKAGES)
    chosen = [m for m in mutants if m.module.split("/")[1] in (options.packages or PACKAGES)]
    return attack(chosen[part - 1 :: parts], json.loads(options.map.read_text()), options.budget)


if __name__ == "__main__":
    sys.exit(main())
