"""What the shop changes beside the shipped knowledge, and what an update has changed since."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from builders import SMALL
from folders import changed, variant

from advisor.cli import run
from advisor.library.differences import Change, changes, differences

GRIP = "checks/sensor-drive/coupling-grip.yaml"
OURS = "extends: coupling-grip\nminutes: 9\nmistakes: [Twisting with a pipe]\n"


def shop(where: Path, text: str = OURS) -> Path:
    file = where / "shop" / GRIP
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return where / "shop"


def diff(shipped: Path, ours: Path, *more: str) -> int:
    return run(["knowledge", "diff", "--knowledge", str(shipped), "--shop", str(ours), *more])


def test_only_what_differs_is_listed() -> None:
    """Values by their field; of a list what came and went; entries of a list by their id."""
    before = {"a": 1, "b": {"c": "x"}, "l": ["p", "q"], "r": [{"id": "low", "below": 3}]}
    after = {"a": 1, "b": {"c": "y"}, "l": ["q", "s"], "r": [{"id": "low", "below": 4}], "n": True}
    assert list(changes(before, after)) == [
        Change("b.c", "x", "y"),
        Change("l", ["p"], ["s"]),
        Change("r.low.below", 3, 4),
        Change("n", None, True),
    ]
    assert list(changes({"l": ["p", "q"]}, {"l": ["q", "p"]})) == [Change("l", ["p", "q"], ["q", "p"])]


def test_a_changed_entry_shows_both_values(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Minutes of both, and what the shop adds to a list; not looked at yet is said and is no finding."""
    assert diff(SMALL, shop(tmp_path)) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[:6] == [
        f"shop/{GRIP}:1:1: checks coupling-grip: changed",
        "  minutes",
        "    shipped: 5",
        "    shop: 9",
        "  mistakes",
        "    shop: Twisting with a pipe",
    ]
    assert "1 not looked at yet" in said[-1]


def test_an_update_is_told_beside_what_the_shop_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """After --seen the same knowledge is no finding, and another one is, until it was looked at."""
    ours = shop(tmp_path)
    assert diff(SMALL, ours, "--seen") == 0
    assert diff(SMALL, ours) == 0
    update = variant(tmp_path)
    (update / GRIP).write_text(changed(GRIP, "minutes: 5", "minutes: 4"), encoding="utf-8")
    capsys.readouterr()
    assert diff(update, ours) == 1
    said = capsys.readouterr().out
    assert "shipped: 4\n    shop: 9\n" in said
    assert "shipped before: 5\n    shipped now: 4\n" in said
    assert diff(update, ours, "--seen") == 0
    assert diff(update, ours) == 0


def test_an_entry_that_an_update_took_away_is_a_finding(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The shop's change of it is named, with its place."""
    ours = tmp_path / "shop"
    ours.mkdir()
    (ours / "tools.yaml").write_text("- {extends: laser, title: Laser}\n", encoding="utf-8")
    assert diff(SMALL, ours) == 1
    assert "shop/tools.yaml:1:3: tools laser: no longer shipped" in capsys.readouterr().out


def test_a_retired_entry_is_told_with_its_reason(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Reason and successor are shown, also in JSON."""
    ours = shop(tmp_path, "retire: coupling-grip\nbecause: Two fingers feel too little.\nstands: nothing\n")
    assert diff(SMALL, ours) == 0
    assert "  because: Two fingers feel too little.\n  stands for it: nothing\n" in capsys.readouterr().out
    diff(SMALL, ours, "--json")
    (row,) = json.loads(capsys.readouterr().out)["differences"]
    assert (row["what"], row["because"], row["looked_at"]) == ("retired", "Two fingers feel too little.", False)


def test_what_was_looked_at_and_is_spoilt_counts_as_not_looked_at(tmp_path: Path) -> None:
    """A broken file of what was seen is no error: every entry is to be looked at again."""
    ours = shop(tmp_path)
    for text in ("", "[]", '{"entries": 3}', "\x00"):
        (ours / ".seen.json").write_text(text, encoding="utf-8")
        assert [d.update for d in differences(SMALL, ours)] == [None]
