"""The commands that begin, check and list machine files."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from advisor.commands.own import screen
from advisor.commands.shared import print_out, write_whole
from advisor.errors import AdvisorError, ExitCode, NotFound, UsageError

VOLTS = (12, 24, 48)


def machine_new(out: Path, title: str | None, volts: int | None) -> ExitCode:
    """Asks for the kind of machine and its voltage where a person can answer, and writes a commented file."""
    from advisor.commands.shared import check_out
    from advisor.library.beginning import begun

    check_out(out, "FILE")
    title = title if title is not None else _asked("What kind of machine is it?")
    volts = volts if volts is not None else _volts(_asked("Volts of the system, 12, 24 or 48?"))
    if volts is not None and volts not in VOLTS:
        raise UsageError(f"{volts} V is no system voltage", "Choose 12, 24 or 48.")
    text = begun("machine", out.stem, "")
    if title:
        text = text.replace("FILL IN what kind of machine it is", json.dumps(title, ensure_ascii=False))
    if volts is not None:
        text = text.replace("FILL IN 12 or 24", str(volts))
    write_whole(out, text, "FILE", mode=0o644)
    left = text.count("FILL IN") - 1  # one stands in the explanation
    print_out(f"Written: {out}")
    print_out(f"{left} places to fill in. They begin with FILL IN. Then: advisor machine check {out}")
    return ExitCode.OK


def _asked(question: str) -> str:
    """What a person answers; nothing where nobody can."""
    if not sys.stdin.isatty():
        return ""
    try:
        return input(f"{question} Enter: fill it in later. > ").strip()
    except EOFError:
        return ""


def _volts(text: str) -> int | None:
    number = text.lower().removesuffix("v").strip()
    if not number:
        return None
    if not number.isdecimal():
        raise UsageError(f"'{text}' is no voltage", "Type 12, 24 or 48.")
    return int(number)


def machine_check(file: Path, *, as_json: bool, plain: bool) -> ExitCode:
    """Draws the circuits of a machine file and says what it leaves open. Raises InputError with every problem."""
    from advisor.library.files import read_machine
    from advisor.terminal.layout import layout

    machine = read_machine(file)
    missing = _missing(machine)
    if as_json:
        keys = {"title": machine.title, "circuits": len(machine.circuits), "elements": len(machine.elements)}
        print_out(json.dumps({"format": 1, "file": str(file), **keys, "missing": missing}, indent=2, sort_keys=True))
        return ExitCode.OK
    terminal = screen(plain=plain)
    terminal.line(f"{file}: {machine.title}, {machine.nominal_volts} V. In order.", "bold", hang=2)
    layout(terminal, machine, ())
    for text in missing:
        terminal.line(f"Not given: {text}", hang=2)
    return ExitCode.OK


def _missing(machine: object) -> list[str]:
    """What the file leaves open, and what the program does without it."""
    from advisor.model.machine import Machine

    assert isinstance(machine, Machine)
    found = []
    if machine.steering is None:
        found.append("steering. The technician is asked what steers the machine.")
    if machine.sensor.ends_volts is None:
        found.append("sensor ends_volts. Only the working band of the output is judged.")
    if machine.sensor_drive is None:
        found.append("sensor_drive. The technician is asked how the sensor is driven.")
    wires = [
        e.name for e in machine.elements.values() if e.kind == "wire" and (e.length is None or (e.mm2 is None and e.awg is None))
    ]
    if wires:
        found.append(f"size or length of {', '.join(wires)}. No drop can be expected of these wires.")
    kinds = {c.partition("-")[0] for c in machine.circuits}
    found += [f"a {kind} circuit. It cannot be load tested." for kind in ("supply", "ground", "signal") if kind not in kinds]
    return found


def machine_list(folder: Path, *, as_json: bool) -> ExitCode:
    """The machine files of a folder, those below it too, with their titles. A file that is none is passed over."""
    from advisor.library.files import read_machine

    if not folder.is_dir():
        raise NotFound(f"there is no folder {folder}", "Name the folder of your machine files.")
    rows: list[dict[str, str]] = []
    for file in sorted(f for ending in ("*.yaml", "*.yml") for f in folder.rglob(ending)):
        text = file.read_bytes()
        if b"circuits:" not in text or b"points:" not in text or b"complaint:" in text:
            continue
        try:
            rows.append({"file": str(file), "title": read_machine(file).title, "trouble": ""})
        except AdvisorError as error:
            rows.append({"file": str(file), "title": "", "trouble": error.what})
    if as_json:
        print_out(json.dumps({"format": 1, "machines": rows}, indent=2, sort_keys=True))
        return ExitCode.OK
    terminal = screen(plain=True)
    for row in rows:
        terminal.line(row["file"], hang=2)
        terminal.line(row["title"] or f"NOT IN ORDER: {row['trouble']}", indent=2, hang=2)
    terminal.line("Use one with: advisor start --machine FILE" if rows else f"No machine file in {folder}.", hang=2)
    return ExitCode.OK
