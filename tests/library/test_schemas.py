"""The JSON Schemas beside the knowledge: current, named by every file, and true of every file."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from builders import SMALL
from folders import REAL, ROOT
from jsonschema import Draft202012Validator

from advisor.library.entries import LISTS
from advisor.library.reader import parse, read
from advisor.library.schemas import schemas
from advisor.library.sources import knowledge_files

SCHEMAS = REAL / "schema"
MODELINE = "# yaml-language-server: $schema="
SCENARIO_FILES = sorted((ROOT / "scenarios").rglob("*.yaml"))


@cache
def validator(name: str) -> Draft202012Validator:
    return Draft202012Validator(json.loads(schemas()[f"{name}.schema.json"]))


def kind(name: str) -> str:
    """The kind of a knowledge file from its name within the folder."""
    first, *rest = name.removesuffix(".yaml").split("/")
    if first == "rules":
        return "cases" if rest[0].endswith(".cases") else "rules"
    return "check" if first == "checks" else first


def real_files() -> list[Any]:
    return [pytest.param(f, id=f.relative_to(REAL).as_posix()) for f in knowledge_files(REAL)]


def complaints_of(file: Path, name: str) -> list[str]:
    data = read(file).data
    return [f"{e.json_path}: {e.message}" for e in validator(name).iter_errors(data)]


def test_the_schemas_beside_the_knowledge_are_current() -> None:
    """Each committed schema is what the models give now, and there is none besides.

    After a change of a model: advisor knowledge schema --out knowledge/schema
    """
    committed = {f.name: f.read_text(encoding="utf-8") for f in SCHEMAS.glob("*.json")}
    assert committed.keys() == schemas().keys()
    assert [name for name, text in schemas().items() if committed[name] != text] == []


@pytest.mark.parametrize("name", sorted(schemas()))
def test_each_schema_is_a_schema(name: str) -> None:
    """Every schema holds to the dialect that it names."""
    schema = json.loads(schemas()[name])
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(schema)


def test_there_is_a_schema_for_every_kind_of_file() -> None:
    """Whatever a person edits has a schema."""
    kinds = {*LISTS, "words", "states", "retired", "causes", "check", "rules", "cases", "machine", "scenario", "field-case"}
    kinds |= {"session-question", "session-ended", "session-reply", "experience"}
    kinds |= {f"shop-{kind}" for kind in (*LISTS, "causes", "rules", "check")}
    assert {name.removesuffix(".schema.json") for name in schemas()} == kinds


@pytest.mark.parametrize("file", real_files())
def test_each_knowledge_file_names_its_schema(file: Path) -> None:
    """The first line of a file tells an editor which schema it follows, and that schema is there."""
    line = file.read_text(encoding="utf-8").split("\n", 1)[0]
    assert line.startswith(MODELINE)
    named = (file.parent / line.removeprefix(MODELINE)).resolve()
    assert named == SCHEMAS / f"{kind(file.relative_to(REAL).as_posix())}.schema.json"
    assert named.is_file()


@pytest.mark.parametrize("file", SCENARIO_FILES, ids=lambda f: f.relative_to(ROOT).as_posix())
def test_each_scenario_and_machine_names_its_schema_and_holds_to_it(file: Path) -> None:
    """Scenarios and machines are written with the same help as the knowledge."""
    name = {"machines": "machine", "field": "field-case"}.get(file.parent.name, "scenario")
    line = file.read_text(encoding="utf-8").split("\n", 1)[0]
    assert line.startswith(MODELINE)
    assert (file.parent / line.removeprefix(MODELINE)).resolve() == SCHEMAS / f"{name}.schema.json"
    assert complaints_of(file, name) == []


@pytest.mark.parametrize("file", real_files())
def test_each_knowledge_file_holds_to_its_schema(file: Path) -> None:
    """An editor that follows the schema finds nothing to underline in a sound file."""
    assert complaints_of(file, kind(file.relative_to(REAL).as_posix())) == []


@pytest.mark.parametrize("file", knowledge_files(SMALL), ids=lambda f: f.relative_to(SMALL).as_posix())
def test_each_small_file_holds_to_its_schema(file: Path) -> None:
    """What loads is valid: here the schema is not stricter than the program."""
    assert complaints_of(file, kind(file.relative_to(SMALL).as_posix())) == []


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("causes", "- {id: x}"),
        ("causes", "id: x"),
        ("check", "- {id: x}"),
        ("tools", "- {id: x, title: y, colour: red}"),
        ("tools", "- {id: Not-An-Id, title: y}"),
        ("fault-modes", "- {fmi: 32, says: x}"),
        ("fault-modes", "- {fmi: 3, says: x, suggests: {y: huge}}"),
        ("words", "{}"),
        ("states", "{variables: [], moves: [{id: x, title: y, from: {a: b}, sets: {a: c}, minutes: -1, steps: [z]}]}"),
        ("states", "{variables: [], moves: [{id: x, title: y, from: {a: b}, sets: {a: c}, minutes: 1, steps: []}]}"),
        ("safety", "- {id: x, doing: {hand: [drive]}, forbids: {a: b}, because: y, source: z}"),
        ("kinds", "- {id: x, title: y}"),
        ("retired", "{setup: {}}"),
        ("rules", "- {id: x, when: [], then: [{advice: y}], because: z, source: from-memory}"),
        ("machine", "{points: [a, b], circuits: {}}"),
        ("scenario", "{title: x}"),
    ],
)
def test_a_schema_finds_what_the_program_refuses(name: str, text: str) -> None:
    """A missing or unknown key, another shape, a word or number that cannot be: the editor underlines it too."""
    assert list(validator(name).iter_errors(parse(text, "f.yaml").data))


CHANGES = (
    (
        "shop-check",
        {"extends": "coupling-grip", "minutes": 9, "evidence": {"stem-cracked": {"slips": "likely"}}, "cautions": "x-y"},
    ),
    ("shop-check", {"extends": "coupling-grip", "steps": {"first": ["Look."], "after": {"Turn it.": "Look again."}}}),
    ("shop-check", {"extends": "coupling-grip", "results": [{"id": "cracked", "says": "It is cracked"}]}),
    ("shop-check", {"retire": "coupling-grip", "because": "We use another.", "stands": "nothing"}),
    ("shop-causes", [{"extends": "ball-joint-play", "repair": {"minutes": 40, "steps": {"last": ["Grease it."]}}}]),
    ("shop-tools", [{"id": "own-tool", "title": "Own tool"}, {"extends": "multimeter", "cautions": ["x-y"]}]),
    ("shop-causes", [{"retire": "ball-joint-play", "because": "None here.", "stands": "kingpin-play"}]),
)
WRONG = (
    ("shop-check", {"extends": "coupling-grip", "minuts": 9}),
    ("shop-check", {"extends": "coupling-grip", "evidence": {"stem-cracked": {"slips": "perhaps"}}}),
    ("shop-check", {"minutes": 9}),
    ("shop-check", {"extends": "coupling-grip", "steps": {"before": ["Look."]}}),
    ("shop-check", {"retire": "coupling-grip"}),
    ("shop-cautions", [{"extends": "lock-the-hinge", "says": "Do."}]),
    ("shop-cautions", [{"retire": "lock-the-hinge", "because": "No.", "stands": "nothing"}]),
)


@pytest.mark.parametrize(("name", "data"), CHANGES)
def test_a_change_of_the_shop_fits_its_schema(name: str, data: Any) -> None:
    """A new entry, what differs of a shipped one, and a retirement."""
    assert [e.message for e in validator(name).iter_errors(data)] == []


@pytest.mark.parametrize(("name", "data"), WRONG)
def test_a_wrong_change_of_the_shop_does_not(name: str, data: Any) -> None:
    """A key or a word that is not known, a place that is none, and what the shop may not change at all."""
    assert list(validator(name).iter_errors(data)) != []
