"""The kept form of the knowledge: quick, silent, and never believed over the files."""

from __future__ import annotations

import copy
import os
import pickle
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from builders import SMALL, small_knowledge

from advisor.commands.shared import Layers, load_knowledge
from advisor.errors import KnowledgeError
from advisor.model.knowledge import Knowledge
from advisor.store.compiled import compiled
from advisor.store.kept import KEPT, cache_folder, keep, read_kept


def unused() -> Knowledge:
    raise AssertionError("the kept form should have been taken")


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache folder of this test alone."""
    monkeypatch.setenv("ADVISOR_CACHE_DIR", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the small knowledge that may be changed."""
    return Path(shutil.copytree(SMALL, tmp_path / "knowledge"))


def kept(cache: Path) -> list[Path]:
    return sorted(cache.glob("*.json"))


def test_the_kept_form_is_the_knowledge(cache: Path) -> None:
    """The second time nothing is made, and the whole is equal to what the files say."""
    made = small_knowledge()
    assert compiled(cache, made.digest, "r", small_knowledge) == made
    assert compiled(cache, made.digest, "r", unused) == made
    assert os.name == "nt" or kept(cache)[0].stat().st_mode & 0o777 == 0o600


def test_a_changed_file_is_read_again(cache: Path, folder: Path) -> None:
    """One word changed in a file is there at the next start; the form of before is not taken."""
    before = load_knowledge(Layers(folder))
    file = next(f for f in sorted(folder.rglob("*.yaml")) if "Only the reading moves" in f.read_text(encoding="utf-8"))
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("Only the reading moves", "Nothing but the reading moves"), encoding="utf-8")
    now = load_knowledge(Layers(folder))
    assert now.digest != before.digest
    assert "Nothing but the reading moves" in now.model_dump_json()
    assert len(kept(cache)) == 2


def test_a_file_with_an_error_is_named_and_never_kept(cache: Path, folder: Path) -> None:
    """A kept form of before does not hide an error; nothing is kept of what is wrong."""
    load_knowledge(Layers(folder))
    (folder / "words.yaml").write_text("nonsense: [", encoding="utf-8")
    with pytest.raises(KnowledgeError):
        load_knowledge(Layers(folder))
    assert len(kept(cache)) == 1


@pytest.mark.parametrize("spoil", [b"", b"x", b"\n{}", None])
def test_a_spoilt_form_is_made_anew_without_a_word(spoil: bytes | None, cache: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Emptied, cut, of another shape or with one byte changed: the files are read and the form is written again."""
    made = small_knowledge()
    compiled(cache, made.digest, "r", small_knowledge)
    file = kept(cache)[0]
    good = file.read_bytes()
    file.write_bytes(good.replace(b"reading", b"feeding", 1) if spoil is None else spoil)
    assert compiled(cache, made.digest, "r", small_knowledge) == made
    assert file.read_bytes() == good
    assert capsys.readouterr() == ("", "")


def lines_of(file: Path) -> dict[str, bytes]:
    """The fields of a kept form, as they stand in it."""
    text = read_kept(file)
    assert text is not None
    return {name.decode(): value for name, _, value in (line.partition(b" ") for line in text.split(b"\n"))}


def with_field(cache: Path, name: str, value: bytes) -> None:
    """Puts another value into the kept form of the cache, with a sound check sum."""
    lines = {**lines_of(kept(cache)[0]), name: value}
    keep(kept(cache)[0], b"\n".join(field.encode() + b" " + line for field, line in lines.items()))


@pytest.mark.parametrize("name", ["checks", "complaints", "words"])
def test_a_field_that_does_not_pass_is_read_from_its_source(name: str, cache: Path) -> None:
    """A form with a sound check sum and a field of another shape is never believed: that field comes from the files."""
    made = small_knowledge()
    compiled(cache, made.digest, "r", small_knowledge)
    with_field(cache, name, b'{"planted": {}}')
    assert getattr(compiled(cache, made.digest, "r", small_knowledge), name) == getattr(made, name)
    assert compiled(cache, made.digest, "r", small_knowledge) == made


def test_files_changed_before_a_field_is_read_are_no_source_for_it(cache: Path) -> None:
    """Two knowledges are never mixed: where the files are others by now, the command ends and says so."""
    made = small_knowledge()
    compiled(cache, made.digest, "r", small_knowledge)
    with_field(cache, "checks", b"[]")
    found = compiled(cache, made.digest, "r", lambda: made.model_copy(update={"digest": "0" * 64}))
    assert found.complaints == made.complaints
    with pytest.raises(KnowledgeError, match="changed while it was read"):
        _ = found.checks


def test_a_form_that_does_not_read_back_is_not_kept(cache: Path) -> None:
    """Knowledge that its own models would refuse is handed on, and made anew the next time."""
    made = small_knowledge()
    odd = made.model_copy(update={"complaints": {"x": next(iter(made.complaints.values())).model_copy(update={"id": "No id!"})}})
    assert compiled(cache, odd.digest, "r", lambda: odd) is odd
    assert not cache.exists()


def test_a_field_of_the_kept_form_is_read_once_and_when_it_is_asked_for(cache: Path) -> None:
    """Nothing is read beforehand; a copy shares what was read and what was not, and hands out the very same entries."""
    made = small_knowledge()
    compiled(cache, made.digest, "r", small_knowledge)
    found = compiled(cache, made.digest, "r", unused)
    assert not found.__dict__
    assert found.complaints is found.complaints
    assert set(found.__dict__) == {"complaints"}
    other = found.model_copy(update={"rules": {}})
    assert other.rules == {}
    assert other.checks is found.checks
    assert found.rules == made.rules


@pytest.mark.parametrize(
    "look",
    [
        lambda k: k.model_dump_json(by_alias=True), lambda k: k.model_dump(), dict, lambda k: len(repr(k)) > 20_000,
        lambda k: pickle.loads(pickle.dumps(k)), copy.deepcopy, lambda k: k.model_copy(), lambda k: k,
    ],
)  # fmt: skip
def test_whatever_looks_at_all_of_the_kept_form_sees_all_of_it(look: Callable[[Knowledge], object], cache: Path) -> None:
    """Written out, copied, sent to another process or compared from either side, it is the knowledge."""
    made = small_knowledge()
    compiled(cache, made.digest, "r", small_knowledge)
    assert look(compiled(cache, made.digest, "r", unused)) == look(made)
    assert look(made) == look(compiled(cache, made.digest, "r", unused))


def test_another_program_makes_its_own_form(cache: Path) -> None:
    """What another version of the program kept of the same files is not taken."""
    made = small_knowledge()
    compiled(cache, made.digest, "one", small_knowledge)
    compiled(cache, made.digest, "two", small_knowledge)
    assert len(kept(cache)) == 2


def test_a_cache_that_cannot_be_written_changes_nothing(tmp_path: Path) -> None:
    """With a file where the folder should be, the knowledge comes from its files."""
    (tmp_path / "cache").write_text("in the way", encoding="utf-8")
    made = small_knowledge()
    assert compiled(tmp_path / "cache", made.digest, "r", small_knowledge) == made


def test_old_forms_go(cache: Path) -> None:
    """Of many forms only the newest are kept."""
    made = small_knowledge()
    for i in range(KEPT + 3):
        compiled(cache, made.digest, str(i), small_knowledge)
    assert len(kept(cache)) == KEPT


def test_files_changed_while_they_are_read_are_not_kept(cache: Path) -> None:
    """Knowledge with another digest than the one asked for is handed on and not kept."""
    made = small_knowledge()
    assert compiled(cache, "0" * 64, "r", small_knowledge) == made
    assert not cache.exists()


def test_the_cache_can_be_switched_off() -> None:
    """ADVISOR_CACHE_DIR set to nothing means no cache; not set, it is the user's own folder."""
    assert cache_folder({"ADVISOR_CACHE_DIR": ""}) is None
    assert cache_folder({"ADVISOR_CACHE_DIR": "x"}) == Path("x")
    assert cache_folder({}) is not None
