"""The verdict on the knowledge: kept while nothing changes, said to be of an earlier run, and never taken for other content."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from builders import SMALL
from folders import ROOT

from advisor.cli import run
from advisor.commands import knowledge_check as command
from advisor.consultation import safety_proof
from advisor.consultation.safety_proof import Proof, Violation
from advisor.library import sources
from advisor.model.knowledge import Knowledge
from advisor.store.kept import KEPT

PROOF = Proof(layouts=4, states=17, steps=91, violations=(), dead=(), stuck=())


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the small knowledge that may be changed."""
    return Path(shutil.copytree(SMALL, tmp_path / "knowledge"))


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("ADVISOR_CACHE_DIR", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def proofs(monkeypatch: pytest.MonkeyPatch, cache: Path) -> list[str]:
    """The digests of what the proof was run on; a proof of these tests' own, for the real one takes long."""
    ran: list[str] = []

    def prove(knowledge: Knowledge) -> Proof:
        ran.append(knowledge.digest)
        return PROOF

    monkeypatch.setattr(safety_proof, "prove", prove)
    return ran


Checked = Callable[..., tuple[int, str]]


@pytest.fixture
def checked(folder: Path, capsys: pytest.CaptureFixture[str]) -> Checked:
    """Checks the folder: exit code and what is said."""

    def check(*options: str) -> tuple[int, str]:
        code = run(["knowledge", "check", "--knowledge", str(folder), *options])
        return code, capsys.readouterr().out

    return check


def change(folder: Path) -> None:
    """One word of one text."""
    file = next(f for f in sorted(folder.rglob("*.yaml")) if "Only the reading moves" in f.read_text(encoding="utf-8"))
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("Only the reading moves", "Just the reading moves"), encoding="utf-8")


def test_the_same_content_is_not_judged_twice(proofs: list[str], checked: Checked) -> None:
    """The second time nothing is run; it says the same, and that it is of an earlier run."""
    first, second = checked(), checked()
    assert len(proofs) == 1
    assert second[0] == first[0]
    assert second[1].startswith(first[1])
    assert second[1].removeprefix(first[1]).splitlines() == list(command.EARLIER)
    assert "Safe: 91 steps in 17 states of 4 layouts" in second[1]


def test_json_says_whether_it_is_of_an_earlier_run(proofs: list[str], checked: Checked) -> None:
    """The same data both times but for the word on the run; coverage is there too."""
    (_, first), (_, second) = checked("--json"), checked("--json")
    one, two = json.loads(first), json.loads(second)
    assert (one.pop("earlier_run"), two.pop("earlier_run")) == (False, True)
    assert one == two
    assert one["safety"] == {"layouts": 4, "states": 17, "steps": 91, "violations": []}
    assert one["causes"]


def test_what_was_found_is_told_again(monkeypatch: pytest.MonkeyPatch, checked: Checked, cache: Path) -> None:
    """A step that breaks a rule is named and refused the second time as well."""
    bad = Violation("tracks", "no-such-rule", safety_proof.STANDING, ("Start the engine",))
    monkeypatch.setattr(safety_proof, "prove", lambda k: Proof(1, 1, 1, (bad,), (), ()))
    monkeypatch.setattr("advisor.library.parser.places", lambda *both: {("safety", "no-such-rule"): "states.yaml:1:1"})
    first, second = checked(), checked()
    assert first[0] == second[0] == 1
    assert "states.yaml:1:1: safety: 'how the machine stands' breaks 'no-such-rule'" in second[1]
    assert "Safe:" not in second[1]


def test_other_knowledge_is_judged_anew(proofs: list[str], checked: Checked, folder: Path) -> None:
    """One word changed in a file: what was kept of the file before is not taken."""
    checked()
    change(folder)
    assert command.EARLIER[0] not in checked()[1]
    assert len(proofs) == len(set(proofs)) == 2


def test_a_changed_program_judges_anew(proofs: list[str], checked: Checked, monkeypatch: pytest.MonkeyPatch) -> None:
    """What another version of the program found is not taken."""
    checked()
    monkeypatch.setattr(sources, "judging_digest", lambda: "another program")
    assert command.EARLIER[0] not in checked()[1]
    assert len(proofs) == 2


@pytest.mark.parametrize("module", ["consultation/safety_proof.py", "library/lints/deeds.py", "reasoning/standing.py", "cli.py"])
def test_the_program_is_known_by_all_its_code(module: str, tmp_path: Path) -> None:
    """A comment more in any module makes another program."""
    copy = Path(shutil.copytree(ROOT / "advisor", tmp_path / "advisor", ignore=shutil.ignore_patterns("__pycache__")))
    before = sources.judging_digest(copy)
    assert before == sources.judging_digest()
    with (copy / module).open("a", encoding="utf-8") as file:
        file.write("# one more\n")
    assert sources.judging_digest(copy) != before


def test_all_is_run_when_it_is_asked_for(proofs: list[str], checked: Checked) -> None:
    """`--afresh` takes nothing that was kept."""
    checked()
    assert command.EARLIER[0] not in checked("--afresh")[1]
    assert len(proofs) == 2


@pytest.mark.parametrize("spoil", [b"", b"x", b'{"counts":{},"findings":[]}', None])
def test_a_spoilt_verdict_is_never_believed(spoil: bytes | None, proofs: list[str], checked: Checked, cache: Path) -> None:
    """Emptied, cut, of another shape or with one figure changed: it is run again without a word."""
    first = checked()
    (file,) = cache.glob("verdict-*")
    file.write_bytes(file.read_bytes().replace(b"91", b"92") if spoil is None else spoil)
    assert checked() == first
    assert len(proofs) == 2


def test_files_changed_during_the_run_are_not_kept(
    proofs: list[str], checked: Checked, folder: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A verdict on files that are no longer so is told once and not kept."""

    def prove(knowledge: Knowledge) -> Proof:
        change(folder)
        return PROOF

    monkeypatch.setattr(safety_proof, "prove", prove)
    checked()
    assert not list(cache.glob("verdict-*"))


def test_only_the_newest_verdicts_stay(proofs: list[str], checked: Checked, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of many verdicts the oldest go, and other kept files stay."""
    cache.mkdir(mode=0o700)
    (cache / "knowledge-x.json").write_text("kept by another", encoding="utf-8")
    for n in range(KEPT + 2):
        monkeypatch.setattr(sources, "judging_digest", lambda n=n: f"program {n}")
        checked()
    assert len(list(cache.glob("verdict-*"))) == KEPT
    assert (cache / "knowledge-x.json").exists()


def test_without_a_cache_all_is_run(proofs: list[str], checked: Checked, monkeypatch: pytest.MonkeyPatch) -> None:
    """ADVISOR_CACHE_DIR set to nothing: each time from the files."""
    monkeypatch.setenv("ADVISOR_CACHE_DIR", "")
    assert checked() == checked()
    assert len(proofs) == 2
