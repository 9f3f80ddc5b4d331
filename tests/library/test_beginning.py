"""New files for the shop: each is refused until it is filled in, and loads when it is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from builders import SMALL, small_knowledge

from advisor.cli import run
from advisor.errors import InputError, KnowledgeError
from advisor.library.files import read_machine
from advisor.library.parser import load
from advisor.library.reader import parse

# What a technician writes over each text to fill in, by a part of what the file asks for.
FILLED = {
    "confirm, look": "look",
    "the id of a cause": "sensor-coupling-loose",
    "a family": "slipping-drive",
    "very-rare": "rare",
    "the id of a complaint": "reads-low",
    "the id of a check": "coupling-grip",
    "the result that": "slips",
    "the check that must": "coupling-grip",
    "minutes without": "12",
    "12 or 24": "24",
    "what the sensor draws": "9",
}
SMALL_WORDS = {'needs: {key: out, engine: "off"}': "needs: {key: out}"}  # the small knowledge has no engine


def filled(text: str) -> str:
    """A new file as a technician leaves it."""
    for old, new in SMALL_WORDS.items():
        text = text.replace(old, new)

    def write(match: re.Match[str]) -> str:
        return next((new for asked, new in FILLED.items() if asked in match[0]), "Words of the yard")

    return re.sub(r"FILL IN.*?(?=  +#|\"|, normal|\}|$)", write, text, flags=re.MULTILINE)


def new(kind: str, name: str, where: Path, *more: str) -> None:
    assert run(["knowledge", "new", kind, name, "--knowledge", str(SMALL), "--shop", str(where), *more]) == 0


@pytest.mark.parametrize(
    ("kind", "file"), [("check", "checks/sensor-drive/yard-look.yaml"), ("cause", "causes/sensor-drive.yaml")]
)  # fmt: skip
def test_a_new_file_is_refused_until_it_is_filled_in(tmp_path: Path, kind: str, file: str) -> None:
    """Each text that is left is named by line; filled in, the entry is there and no field is unknown."""
    new(kind, "yard-look", tmp_path, "--system", "sensor-drive")
    text = (tmp_path / file).read_text(encoding="utf-8")
    with pytest.raises(KnowledgeError) as failure:
        load(SMALL, tmp_path)
    assert len(failure.value.problems) == text.count(" FILL IN ") + text.count('"FILL IN ')
    assert all("this is not filled in yet" in p.what for p in failure.value.problems)
    (tmp_path / file).write_text(filled(text), encoding="utf-8")
    assert "yard-look" in getattr(load(SMALL, tmp_path), f"{kind}s")


def test_a_new_machine_is_refused_until_it_is_filled_in(tmp_path: Path) -> None:
    """The machine file reads as a machine once its texts are written over."""
    file = tmp_path / "yard.yaml"
    assert run(["knowledge", "new", "machine", "yard", "--out", str(file)]) == 0
    with pytest.raises(InputError, match="not filled in yet"):
        read_machine(file)
    file.write_text(filled(file.read_text(encoding="utf-8")), encoding="utf-8")
    assert read_machine(file).points == ("controller", "bulkhead", "sensor")


@pytest.mark.parametrize(("kind", "name"), [("check", "coupling-grip"), ("cause", "chafe-to-ground")])
def test_the_change_of_a_shipped_entry_changes_nothing_yet(tmp_path: Path, kind: str, name: str) -> None:
    """It loads at once, says what is shipped in comments, and the entry is as before."""
    new(kind, name, tmp_path)
    same = getattr(load(SMALL, tmp_path), f"{kind}s")[name]
    assert same == getattr(small_knowledge(), f"{kind}s")[name]
    (file,) = tmp_path.rglob("*.yaml")
    shown = [line.strip() for line in file.read_text(encoding="utf-8").splitlines()]
    assert f"# title: {same.title}" in shown


def test_a_commented_field_is_changed_by_taking_its_mark_away(tmp_path: Path) -> None:
    """A line of the comment is the field as the program reads it."""
    new("check", "coupling-grip", tmp_path)
    (file,) = tmp_path.rglob("*.yaml")
    file.write_text(file.read_text(encoding="utf-8").replace("# minutes: 5", "minutes: 11"), encoding="utf-8")
    assert load(SMALL, tmp_path).checks["coupling-grip"].minutes == 11


def test_a_second_cause_goes_behind_the_first(tmp_path: Path) -> None:
    """A file of causes holds a list: one more is added, and nothing in it is lost."""
    new("cause", "chafe-to-ground", tmp_path)
    new("cause", "high-resistance-splice", tmp_path)
    data = parse((tmp_path / "causes/harness.yaml").read_text(encoding="utf-8"), "harness.yaml").data
    assert data == [{"extends": "chafe-to-ground"}, {"extends": "high-resistance-splice"}]
