"""What the commands on field cases do: load, call, print, exit code."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path

from advisor.commands.own import progress, screen
from advisor.commands.practice import at_least
from advisor.commands.shared import Layers, load_knowledge, print_aside, print_out, print_text
from advisor.errors import ExitCode, InputError, NotFound, UsageError
from advisor.model.field_case import FieldCase
from advisor.model.knowledge import Knowledge
from advisor.plain import one_line


def practice_field(layers: Layers, file: Path | None, seed: int, *, plain: bool) -> ExitCode:
    """A field case played by a person: the machine answers, and at the end it tells the master's path."""
    from advisor.commands.practice_talk import Practice, exercise
    from advisor.library.field_cases import read_field_case, read_menu
    from advisor.practice.field import begin, play
    from advisor.practice.plant import FieldPlant

    if file is None:
        raise UsageError("no field case is named", "Type advisor practice --field FILE.")
    at_least("--seed", seed, 0)
    knowledge = load_knowledge(layers)
    case, menu = read_field_case(file, knowledge), read_menu(file)
    game = begin(knowledge, case, menu, seed)
    terminal = screen(plain=plain)
    terminal.line(f"Practice on the machine of {file.name}. Nothing is saved, and no real machine is touched.", hang=2)
    terminal.line(one_line(case.title), "bold")
    terminal.line(one_line(case.story), hang=2)

    def told(done: Practice) -> Iterator[str]:
        if case.fault.says:
            yield f"It was: {one_line(case.fault.says)}"
        yield from path_of_master(game.consultation.knowledge, case)
        played = play(knowledge, str(file), case, menu, seed)
        repairs = f", {played.wrong_repairs} repairs in vain" if played.wrong_repairs else ""
        yield f"You: {done.until_cure:.0f} min to the right repair, {done.minutes:.0f} min in all."
        yield f"The master: {played.master_minutes:.0f} min to it."
        yield f"The program: {played.minutes:.0f} min to it, {len(played.steps)} steps{repairs}."

    return exercise(terminal, game.consultation, game.case, FieldPlant(game.machine), told)


def path_of_master(knowledge: Knowledge, case: FieldCase) -> Iterator[str]:
    """The steps of a very good technician, with their reasons."""
    yield "The path of a very good technician:"
    for n, step in enumerate(case.master, 1):
        title = knowledge.checks[step.check].title if step.check else f"Repair: {knowledge.causes[str(step.repair)].title}"
        where = step.place or " ".join(w for w in (step.circuit, step.start, step.end) if w)
        yield f"{n}. {title}" + (f" ({where})" if where else "") + (f": {one_line(step.why)}" if step.why else "")


def trial_field(
    layers: Layers, files: Sequence[Path], seed: int, jobs: int, cluster: str | None = None, *, field: bool, as_json: bool
) -> ExitCode:
    """Plays field cases by the program's own advice. A file that cannot be read is named; the others are played."""
    from advisor.library.field_cases import read_field_case, read_menu
    from advisor.practice import field_trial

    if not field:
        raise UsageError(f"{files[0]} is named without --field", "Type advisor trial --field FILE...")
    if not files:
        raise UsageError("no field case is named", "Type advisor trial --field FILE...")
    at_least("--seed", seed, 0)
    at_least("--jobs", jobs, 1)
    knowledge = load_knowledge(layers)
    entries, bad = [], False
    for file in files:
        try:
            entries.append(field_trial.Entry(str(file), read_field_case(file, knowledge), read_menu(file)))
        except (InputError, NotFound) as error:
            bad = True
            for said in (error.what, *(map(str, error.problems) if isinstance(error, InputError) else ()), error.hint):
                print_aside(said)
    if not entries:
        raise InputError("none of the field cases can be played", "Correct the lines named above.")
    with progress("Trial", len(entries), "field cases") as told:
        played = field_trial.run(knowledge, entries, seed, jobs, told, cluster)
    if as_json:
        print_out(json.dumps(field_trial.report(played, seed), indent=2, sort_keys=True))
    else:
        for line in field_trial.text(played, seed):
            print_text(line)
    return ExitCode.FAILURE if bad else ExitCode.OK
