"""A case under the shop's layer: its header names both layers, and it goes on when either has changed."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from builders import SMALL

from advisor.cli import run
from advisor.model.case import KnowledgeChanged
from advisor.store.folder import CaseStore

GRIP = "checks/sensor-drive/coupling-grip.yaml"


def shop(where: Path, text: str) -> Path:
    file = where / "shop" / GRIP
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return where / "shop"


def command(monkeypatch: pytest.MonkeyPatch, typed: str, *arguments: object) -> int:
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    return run([str(a) for a in arguments])


def test_a_case_names_both_layers_and_goes_on_when_one_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The header has a digest for each layer; a changed layer of the shop is said and written down, as changed knowledge is."""
    data = tmp_path / "cases"
    where = ("--data-dir", data, "--knowledge", SMALL)
    ours = shop(tmp_path, "extends: coupling-grip\nminutes: 9\n")
    command(monkeypatch, "\n" * 30 + "pause\n", "start", "--complaint", "motion-without-steering", *where, "--shop", ours)
    store = CaseStore(data)
    (case_id,) = store.ids()
    shipped, _, own = json.loads(store.path(case_id).read_bytes().splitlines()[0])["knowledge"].partition("+")
    assert len(shipped) == len(own) == 64
    capsys.readouterr()
    command(monkeypatch, "pause\n", "resume", case_id, *where, "--shop", ours)
    assert "The knowledge has changed" not in capsys.readouterr().out
    shop(tmp_path, "extends: coupling-grip\nminutes: 7\n")
    command(monkeypatch, "pause\n", "resume", case_id, *where, "--shop", ours)
    assert "The knowledge has changed" in capsys.readouterr().out
    last = store.read(case_id).case.events[-1]
    assert isinstance(last, KnowledgeChanged)
    assert last.digest.startswith(shipped + "+")
    assert last.digest != f"{shipped}+{own}"
    command(monkeypatch, "pause\n", "resume", case_id, *where)
    last = store.read(case_id).case.events[-1]
    assert isinstance(last, KnowledgeChanged)
    assert last.digest == shipped


def test_the_environment_names_the_shop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """ADVISOR_SHOP stands for --shop."""
    monkeypatch.setenv("ADVISOR_SHOP", str(shop(tmp_path, "extends: coupling-grip\ntitle: Grip as the yard does it\n")))
    assert run(["knowledge", "list", "--knowledge", str(SMALL)]) == 0
    assert "coupling-grip: Grip as the yard does it" in capsys.readouterr().out


def test_a_rule_of_the_shop_is_held_to_its_cases(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`knowledge check --shop` finds what is wrong with the shop's own entries as with the shipped ones."""
    rules = tmp_path / "shop" / "rules"
    rules.mkdir(parents=True)
    rule = "- {id: ours, when: [{complaint: reads-low}], then: [{advice: Wait.}], because: Made up., source: from-memory}\n"
    (rules / "ours.yaml").write_text(rule, encoding="utf-8")
    (rules / "ours.cases.yaml").write_text("- {rule: ours, fires: true, complaint: motion-without-steering}\n", encoding="utf-8")
    assert run(["knowledge", "check", "--knowledge", str(SMALL), "--shop", str(tmp_path / "shop")]) == 1
    assert "ours" in capsys.readouterr().out


def test_the_settings_name_the_shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """`advisor config shop-knowledge FOLDER` lays the shop over the shipped knowledge in every command that names none."""
    monkeypatch.setenv("ADVISOR_CONFIG", str(tmp_path / "config.toml"))
    ours = shop(tmp_path, "extends: coupling-grip\ntitle: Grip as the yard does it\n")
    assert run(["config", "shop-knowledge", str(ours)]) == 0
    assert run(["knowledge", "list"]) == 0
    assert "coupling-grip: Grip as the yard does it" in capsys.readouterr().out
    assert run(["knowledge", "list", "--knowledge", str(SMALL)]) == 0
    assert "Grip as the yard does it" not in capsys.readouterr().out


def test_the_record_names_both_layers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Its last line names the shipped knowledge and the shop's; without a shop only the one."""
    data = tmp_path / "cases"
    where = ("--data-dir", data, "--knowledge", SMALL)
    ours = shop(tmp_path, "extends: coupling-grip\nminutes: 9\n")
    command(monkeypatch, "\n" * 30 + "pause\n", "start", "--complaint", "motion-without-steering", *where, "--shop", ours)
    (case_id,) = CaseStore(data).ids()
    shipped, own = (d[:12] for d in json.loads(CaseStore(data).path(case_id).read_bytes().splitlines()[0])["knowledge"].split("+"))
    for more, said in ((("--shop", ours), f"with knowledge {shipped} and the shop's {own}."), ((), f"with knowledge {shipped}.")):
        capsys.readouterr()
        command(monkeypatch, "", "record", case_id, *where, *more)
        assert said in " ".join(capsys.readouterr().out.replace("\\", "").split())
