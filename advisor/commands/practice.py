"""What the commands on simulated machines do: load, call, print, exit code."""

from __future__ import annotations

import json
from pathlib import Path

from advisor.commands.own import page_in_own_numbers, progress, screen
from advisor.commands.shared import Layers, check_out, load_knowledge, print_aside, print_out, print_text, write_whole
from advisor.errors import ExitCode, UsageError, nearest


def trial(
    layers: Layers, cases: int, problems: int, seed: int, jobs: int, off_words: float, html: Path | None,
    cluster: str | None = None, *, as_json: bool,
) -> ExitCode:  # fmt: skip
    """Runs every policy on the same simulated faults and prints what it cost."""
    from advisor.model.machine import generic_machine
    from advisor.practice import figures
    from advisor.practice.trial import Bench, run

    at_least("--cases", cases, 1)
    at_least("--problems", problems, 0)
    at_least("--seed", seed, 0)
    at_least("--jobs", jobs, 1)
    if not 0 <= off_words <= 1:
        raise UsageError(f"--off-words {off_words:g} is no chance", "Give a number from 0 to 1, such as 0.3.")
    if html is not None:
        check_out(html, "--html")  # said before the work, not after it
    bench = Bench(load_knowledge(layers), generic_machine(), off_words)
    with progress("Trial", cases + problems, "machines and problems") as told:
        found = run(bench, cases, problems, seed, jobs, told, cluster)
    report = {**figures.figures(found), "seed": seed, "off_words": off_words}
    if html is not None:
        from advisor.record.render import trial_page

        write_whole(html, page_in_own_numbers(trial_page(report)), "--html")
        print_aside(f"Written: {html}")
    if as_json:
        print_out(json.dumps(report, indent=2, sort_keys=True))
        return ExitCode.OK
    print_text(f"{cases} simulated machines, seed {seed}; every policy on the same ones.")
    if off_words:
        print_text(f"Each word of the knowledge is one step wrong with a chance of {off_words:g}.")
    print_out("")
    for line in figures.text(report):
        print_text(line)
    return ExitCode.OK


def practice(layers: Layers, seed: int | None, cause: str | None, *, plain: bool) -> ExitCode:
    """An exercise at the terminal, on a simulated machine."""
    import secrets
    from collections.abc import Iterator

    from advisor.commands.practice_talk import Practice, exercise, whole
    from advisor.consultation.this_machine import for_machine
    from advisor.model.case import Case
    from advisor.model.machine import generic_machine
    from advisor.practice.exercise import hidden_machine, programs_way
    from advisor.practice.plant import SimulatedPlant
    from advisor.practice.trial import Bench

    if seed is not None:
        at_least("--seed", seed, 0)
    layout = generic_machine()
    knowledge = for_machine(load_knowledge(layers), layout)
    if cause is not None and cause not in knowledge.causes:
        raise UsageError(f"no cause '{cause}'", nearest(cause, knowledge.causes))
    chosen = secrets.randbelow(100_000) if seed is None else seed
    terminal = screen(plain=plain)
    terminal.line(f"Practice on simulated machine {chosen}. Nothing is saved, and no real machine is touched.")
    terminal.line(f"The same machine again: advisor practice --seed {chosen}" + (f" --cause {cause}" if cause else ""), hang=2)
    bench = Bench(knowledge, layout)
    machine = hidden_machine(bench, chosen, cause)

    def told(done: Practice) -> Iterator[str]:
        repairs = sum(j.kind == "repair" for j in done.judged)
        yield f"You: {whole(done.minutes, len(done.judged) - repairs, repairs)}."
        yield f"It was: {machine.world.title(machine.hidden)}."
        way = programs_way(bench, machine)
        yield f"The program, on the same machine: {whole(way.minutes, way.checks, way.repairs)}."

    return exercise(terminal, bench.consultation, Case((machine.opened(),)), SimulatedPlant(machine), told)


def at_least(option: str, value: int, least: int) -> None:
    """Raises UsageError for a number below the least that makes sense."""
    if value < least:
        raise UsageError(f"{option} {value} is too small", f"Give a whole number of at least {least}.")
