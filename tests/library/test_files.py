"""Machine and scenario files: what is wrong in them is named by its place."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from builders import MACHINE
from folders import ROOT

from advisor.errors import InputError, NotFound
from advisor.library.files import read_machine, read_scenario
from advisor.model.machine import Machine, generic_machine

Change = Callable[[dict[str, Any]], None]
SCENARIO: dict[str, Any] = {"title": "Told by a test", "complaint": "reads-low"}


def machine_file(where: Path, change: Change | None = None) -> Path:
    """The small machine, changed, as a file; each circuit element and each key on a line of its own."""
    whole = copy.deepcopy(MACHINE)
    if change is not None:
        change(whole)
    lines = []
    for key, value in whole.items():
        if key == "circuits" and value:
            lines.append("circuits:")
            for circuit, path in value.items():
                lines.append(f"  {circuit}:" + ("" if isinstance(path, list) and path else f" {json.dumps(path)}"))
                lines += [f"    - {json.dumps(element)}" for element in path] if isinstance(path, list) else []
        else:
            lines.append(f"{key}: {json.dumps(value)}")
    file = where / "machine.yaml"
    file.write_text("\n".join(lines))
    return file


def scenario_file(where: Path, **keys: Any) -> Path:
    file = where / "scenario.yaml"
    file.write_text("\n".join(f"{key}: {json.dumps(value)}" for key, value in {**SCENARIO, **keys}.items()))
    return file


def refused(read: Callable[[Path], object], file: Path) -> list[str]:
    """Every problem of a file, without its path."""
    with pytest.raises(InputError) as failure:
        read(file)
    found = [failure.value.what, *map(str, failure.value.problems)]
    assert all(text.startswith(f"{file}:") for text in found), found
    assert failure.value.hint == ("Correct the line named." if len(found) == 1 else f"Correct it; {len(found) - 1} more follow.")
    return [text.removeprefix(f"{file}:") for text in found]


def put(circuit: str, place: int, **element: Any) -> Change:
    """Replaces one element of a circuit."""
    return lambda m: m["circuits"][circuit].__setitem__(place, element)


def add(circuit: str, **element: Any) -> Change:
    return lambda m: m["circuits"][circuit].append(element)


def put_key(*path: str, value: Any) -> Change:
    def change(m: dict[str, Any]) -> None:
        for key in path[:-1]:
            m = m[key]
        m[path[-1]] = value

    return change


def test_a_sane_machine_is_read(tmp_path: Path) -> None:
    """A file means what the same data mean."""
    assert read_machine(machine_file(tmp_path)) == Machine.model_validate(MACHINE)


@pytest.mark.parametrize("file", sorted((ROOT / "scenarios" / "machines").glob("*.yaml")), ids=lambda f: f.stem)
def test_every_machine_that_comes_along_is_read(file: Path) -> None:
    """The invented machines are sound."""
    assert read_machine(file).points


def test_inches_of_other_countries_are_understood(tmp_path: Path) -> None:
    """A wire may have its gauge number and its length in feet."""
    machine = read_machine(machine_file(tmp_path, put("signal-a", 1, wire="long-one", awg=18, feet=10)))
    assert machine.elements["long-one"].length == pytest.approx(3.048)


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        # one element
        (put("signal-a", 1, wire="w", mm2=1.0, metres=0), "25:33: 0 is out of range; it must be greater than 0"),
        (put("signal-a", 1, wire="w", mm2=1.0, metres=-2), "25:33: -2 is out of range; it must be greater than 0"),
        (put("signal-a", 1, wire="w", mm2=1.0, metres=2000), "25:33: 2000 is out of range; it must be at most 200"),
        (put("signal-a", 1, wire="w", mm2=0, metres=2), "25:21: 0 is out of range; it must be greater than 0"),
        (put("signal-a", 1, wire="w", mm2=750, metres=2), "25:21: 750 is out of range; it must be at most 120"),
        (put("signal-a", 1, wire="w", awg=41, metres=2), "25:21: 41 is out of range; it must be at most 40"),
        (put("signal-a", 1, wire="w", awg=17.5, metres=2), "25:21: a whole number is wanted here"),
        (put("signal-a", 1, wire="w", mm2="thick", metres=2), "25:21: a number is wanted here"),
        (put("signal-a", 1, wire="w", mm2="0,75", metres=2), "25:21: a number is wanted here"),
        (put("signal-a", 1, wire="w", mm2=1, awg=18), "25:7: give either mm2 or awg"),
        (put("signal-a", 1, wire="w", metres=1, feet=3), "25:7: give either metres or feet"),
        (put("signal-a", 1, wire="w", gauge=18), "25:21: 'gauge' is not a key here"),
        (put("signal-a", 1, wire=7), "25:8: a text is wanted here"),
        (put("signal-a", 1, wire="w", splice="s"), "25:7: name exactly one of terminal, wire, splice and ground"),
        (put("signal-a", 1, mm2=1, metres=2), "25:7: name exactly one of terminal, wire, splice and ground"),
        (put("signal-a", 1, splice="s", mm2=1), "25:7: only a wire has a size and a length"),
        (put("signal-a", 1, terminal="bulkhead"), "25:7: a terminal is named POINT:CAVITY"),
        (put("signal-a", 1, splice=""), "25:"),
        # one circuit
        (
            add("supply-a", splice="splice-7"),
            "15:7: 'splice-7' stands twice in supply-a; give each element of a circuit its own name",
        ),
        (put("signal-a", 4, terminal="bulkhead:5"), "28:7: 'bulkhead:5' stands twice in signal-a"),
        (put_key("circuits", "signal-a", value=[]), "23:3: this list is too short"),
        (put_key("circuits", "signal-a", value="short"), "23:3: a list is wanted here"),
        (put_key("circuits", "signal-a", value=["wire"]), "24:7: a mapping (key: value) is wanted here"),
        # several circuits
        (
            lambda m: m["circuits"]["supply-b"].insert(1, m["circuits"]["supply-b"].pop(2)),
            "17:7: supply-a and supply-b visit their shared elements in different order; write both from the controller",
        ),
        (put("signal-a", 1, splice="feed"), "25:"),
        (put("supply-b", 1, wire="feed", mm2=2.5, metres=1.7), "17:"),
        # points
        (
            put_key("points", value=["controller", "bulkhead", "sensr"]),
            "5:36: no circuit reaches the point 'sensr'; did you mean 'sensor'?",
        ),
        (
            put_key("points", value=["controller", "bulkhead", "sensor", "cab-roof"]),
            "5:46: no circuit reaches the point 'cab-roof'; known: ",
        ),
        (put_key("points", value=["controller"]), "5:1: this list is too short"),
        (put_key("points", value="controller"), "5:1: a list is wanted here"),
        (put_key("points", value=["controller", "bulkhead", "sensor", "sensor"]), "5:"),
        # the rest
        (put_key("format", value=2), "35:1: "),
        (put_key("nominal_volts", value=13), "2:1: '13' is not a word known here; did you mean '12'?"),
        (put_key("colour", value="yellow"), "35:1: 'colour' is not a key here; known: "),
        (put_key("titel", value="x"), "35:1: 'titel' is not a key here; did you mean 'title'?"),
        (put_key("sensor", value={"tracks": 3}), "3:10: '3' is not a word known here; known: 1, 2"),
        (put_key("sensor", value={"supply_volts": 0}), "3:10: 0 is out of range; it must be greater than 0"),
        (put_key("sensor", value={"supply_volts": "five"}), "3:10: a number is wanted here"),
        (put_key("sensor", value={"band_volts": [4.5, 0.5]}), "3:1: band_volts must rise and lie between 0 and supply_volts"),
        (put_key("sensor", value={"band_volts": [0.5, 5.5]}), "3:1: band_volts must rise and lie between 0 and supply_volts"),
        (put_key("sensor", value={"band_volts": [0.5, 2.5, 4.5]}), "3:10: this list is too long"),
        (put_key("load_test", value={"load_ohms": 5, "load_amps": 2}), "4:1: give either load_ohms or load_amps"),
        (put_key("load_test", value={}), "4:1: give either load_ohms or load_amps"),
        (put_key("load_test", value={"load_amps": 45}), "4:13: 45 is out of range; it must be at most 40"),
        (put_key("load_test", value={"load_ohms": 9, "limit_volts": {"supply-z": 0.3}}), "4:"),
        (put_key("load_test", value={"load_ohms": 9, "limit_volts": {"supply-a": -0.3}}), "4:"),
        (put_key("sensor", value={"plausibility_degrees": "inf"}), "3:10: "),
    ],
)
def test_each_mistake_in_a_machine_is_one_problem(tmp_path: Path, change: Change, wanted: str) -> None:
    """A layout that cannot be, or a value that cannot be, is one problem at its own place."""
    (problem,) = refused(read_machine, machine_file(tmp_path, change))
    assert problem.startswith(wanted)


def test_all_mistakes_in_a_machine_are_shown_in_order(tmp_path: Path) -> None:
    """Problems of types, of the layout and of doubled keys come together, by line."""
    file = machine_file(tmp_path, put("signal-a", 1, wire="w", mm2=-1))
    file.write_text(
        file.read_text().replace('"nominal_volts": 24', '"nominal_volts": 24').replace('"sensor"]', '"sensr"]') + '\ntitle: "again"'
    )
    found = refused(read_machine, file)
    assert [text.split(": ")[0] for text in found] == ["5:36", "25:21", "35:1"]


def test_a_machine_without_circuits_names_every_point_out_of_reach(tmp_path: Path) -> None:
    """With no circuit, no point is reached, and each says so."""
    found = refused(read_machine, machine_file(tmp_path, put_key("circuits", value={})))
    assert sum("no circuit reaches the point" in text for text in found) == 3


@pytest.mark.parametrize(
    ("content", "wanted"),
    [
        (b"", "1:1: is empty"),
        (b"- a", "1:1: a mapping (key: value) is wanted here"),
        (b"hello", "1:1: a mapping"),
        (b"\0", "1:1: is not a text file"),
        (b"a: [", "2:1: not readable as YAML"),
        (b"points: &p [a, b]", "1:9: anchors"),
    ],
)
def test_a_file_that_is_no_machine_or_scenario_is_refused(tmp_path: Path, content: bytes, wanted: str) -> None:
    """Neither kind of file may be empty, another shape, binary or broken."""
    file = tmp_path / "f.yaml"
    file.write_bytes(content)
    for read in (read_machine, read_scenario):
        assert refused(read, file)[0].startswith(wanted)


def test_a_missing_file_is_not_found(tmp_path: Path) -> None:
    """The file, and the machine file that a scenario names, must exist."""
    for read in (read_machine, read_scenario):
        with pytest.raises(NotFound, match="no such file"):
            read(tmp_path / "gone.yaml")
    with pytest.raises(NotFound, match=r"machines/gone\.yaml: no such file"):
        read_scenario(scenario_file(tmp_path, machine="machines/gone.yaml"))
    with pytest.raises(NotFound, match="no such file"):
        read_scenario(scenario_file(tmp_path, machine="a\0b"))


def test_a_scenario_finds_its_machine_beside_itself(tmp_path: Path) -> None:
    """A machine's path is taken from the scenario's folder, and an inline machine is the same."""
    machine_file(tmp_path)
    beside = read_scenario(scenario_file(tmp_path, machine="machine.yaml"))
    inline = read_scenario(scenario_file(tmp_path, machine=MACHINE))
    assert beside.machine == inline.machine == Machine.model_validate(MACHINE)
    assert read_scenario(scenario_file(tmp_path)).machine is None
    assert generic_machine().generic


def test_a_broken_machine_of_a_scenario_is_named_by_its_own_file(tmp_path: Path) -> None:
    """The problem stands in the machine file, so that is the file named."""
    file = machine_file(tmp_path, put("signal-a", 1, wire="w", mm2=-1))
    with pytest.raises(InputError, match=r"machine\.yaml:25:21: -1 is out of range"):
        read_scenario(scenario_file(tmp_path, machine="machine.yaml"))
    assert file.name == "machine.yaml"


def test_an_inline_machine_is_held_to_the_same_rules(tmp_path: Path) -> None:
    """A layout that a machine file may not have, a scenario may not have either."""
    doubled = copy.deepcopy(MACHINE)
    add("supply-a", splice="splice-7")(doubled)
    (problem,) = refused(read_scenario, scenario_file(tmp_path, machine=doubled))
    assert "'splice-7' stands twice in supply-a" in problem


@pytest.mark.parametrize(
    ("keys", "wanted"),
    [
        ({"title": None}, "1:1: a text is wanted here"),
        ({"complaint": 5}, "2:1: a text is wanted here"),
        ({"machine": 5}, "3:1: a mapping (key: value) is wanted here"),
        ({"answer": []}, "3:1: 'answer' is not a key here; did you mean 'answers'?"),
        ({"codes": "SPN 7 FMI 3"}, "3:1: a list is wanted here"),
        ({"intake": {"occurrences": -1}}, "3:10: -1 is out of range; it must be at least 0"),
        ({"intake": {"occurrences": "often"}}, "3:10: a whole number is wanted here"),
        ({"intake": {"hours": 0}}, "3:10: 0 is out of range; it must be greater than 0"),
        ({"expect": {"leading": "x", "share": 60}}, "3:26: 60 is out of range; it must be at most 1"),
        ({"expect": {"leading": "x", "within": 0}}, "3:26: 0 is out of range; it must be at least 1"),
        ({"expect": {}}, "3:1: 'leading' is missing"),
        ({"answers": [{"chek": "a", "result": "b"}]}, "3:11: a line starts with one of check, reading, correct"),
        ({"answers": [{"check": "a", "skip": "b"}]}, "3:11: a line starts with one of check"),
        ({"answers": [{"check": "a", "circuit": "b"}]}, "3:11: 'circuit' does not belong to 'check'"),
        ({"answers": [{"run": 5, "minutes": 3}]}, "3:11: 'minutes' does not belong to 'run'"),
        ({"answers": ["tight"]}, "3:11: a mapping (key: value) is wanted here"),
        ({"answers": {"check": "a"}}, "3:1: a list is wanted here"),
        ({"format": 2}, "3:1: "),
    ],
)
def test_each_mistake_in_a_scenario_is_one_problem(tmp_path: Path, keys: dict[str, Any], wanted: str) -> None:
    """A key, a line or a value that a scenario cannot have is one problem at its place."""
    (problem,) = refused(read_scenario, scenario_file(tmp_path, **keys))
    assert problem.startswith(wanted)


def test_a_missing_title_and_complaint_are_both_named(tmp_path: Path) -> None:
    """Everything that a scenario must have and has not is said at once."""
    file = tmp_path / "s.yaml"
    file.write_text("answers: []")
    assert [text.split(";")[0] for text in refused(read_scenario, file)] == [
        "1:1: 'complaint' is missing",
        "1:1: 'title' is missing",
    ]
