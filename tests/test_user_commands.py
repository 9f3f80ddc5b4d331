"""The commands around cases: settings, search, machine files, PDF, and what every command line has."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from builders import SMALL, small_knowledge

from advisor.cli import run
from advisor.cli_options import settings
from advisor.commands import printing
from advisor.library.search import search

MACHINES = Path(__file__).parents[1] / "scenarios" / "machines"


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Settings of this test alone."""
    file = tmp_path / "settings" / "config.toml"
    monkeypatch.setenv("ADVISOR_CONFIG", str(file))
    return file


@pytest.fixture
def begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Path:
    """A folder with two cases, the second the newest."""
    scenario = tmp_path / "s.yaml"
    lines = [
        "format: 1",
        "title: Told by a test",
        "complaint: motion-without-steering",
        "answers: [{check: coupling-grip, result: slips}]",
    ]
    scenario.write_text("\n".join(lines) + "\n", encoding="utf-8")
    for _ in range(2):
        run(["start", "--answers", str(scenario), "--data-dir", str(tmp_path / "cases"), "--knowledge", str(SMALL)])
    monkeypatch.chdir(tmp_path)
    capsys.readouterr()
    return tmp_path / "cases"


def advisor(*words: object) -> int:
    return run([str(w) for w in words])


def test_it_says_its_version(capsys: pytest.CaptureFixture[str]) -> None:
    """`--version` prints one line with the name and ends well."""
    assert advisor("--version") == 0
    assert capsys.readouterr().out.startswith("advisor")


@pytest.mark.parametrize("words", [["-h"], ["record", "-h"], ["machine", "check", "-h"]])
def test_help_has_a_short_form(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """`-h` is the help at every level."""
    assert advisor(*words) == 0
    assert capsys.readouterr().out.startswith("Usage:")


def test_help_is_no_wider_than_a_narrow_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """On 40 columns the help is told to stay under them; on 80 the library's own width stays."""
    monkeypatch.setenv("COLUMNS", "40")
    assert settings()["terminal_width"] < 40
    monkeypatch.setenv("COLUMNS", "80")
    assert "terminal_width" not in settings()


@pytest.mark.parametrize("command", ["show", "verify", "record"])
def test_the_newest_case_stands_in_when_none_is_named(command: str, begun: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is printed without a case is what is printed with the id of the newest."""
    advisor("cases", "--json", "--data-dir", begun)
    newest = json.loads(capsys.readouterr().out)["cases"][0]["case_id"]
    shared = ("--data-dir", begun, "--knowledge", SMALL)
    codes = [advisor(command, *shared), advisor(command, newest, *shared)]
    out = capsys.readouterr().out
    assert codes[0] == codes[1]
    assert out[: len(out) // 2] == out[len(out) // 2 :]
    assert newest in out


def test_cases_fit_forty_columns(begun: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """No line of the list is wider than the terminal, and each case says what it is about."""
    monkeypatch.setenv("COLUMNS", "40")
    advisor("cases", "--data-dir", begun)
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 40
    assert sum("Motion without steering" in line for line in lines) == 2


def test_a_setting_fills_the_head_of_a_record(begun: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The technician set once stands in each record; a name given with --set goes before it."""
    assert advisor("config", "technician", "R. Example") == 0
    shared = ("--format", "json", "--data-dir", begun, "--knowledge", SMALL)
    capsys.readouterr()
    advisor("record", *shared)
    assert ["Technician", "R. Example"] in json.loads(capsys.readouterr().out)["record"]["blanks"]
    advisor("record", *shared, "--set", "technician=Somebody else")
    assert ["Technician", "Somebody else"] in json.loads(capsys.readouterr().out)["record"]["blanks"]


def test_settings_come_back_as_they_were_set(own_settings: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Quotes and other letters survive the file; what is unset is gone."""
    name = 'A "B" \\ Ä\N{SNOWMAN}'
    advisor("config", "shop", name)
    advisor("config", "paper", "letter")
    capsys.readouterr()
    advisor("config", "--json")
    kept = {key: value for key, value in json.loads(capsys.readouterr().out)["settings"].items() if value is not None}
    assert kept == {"shop": name, "paper": "Letter"}
    advisor("config", "shop", "--unset")
    assert name not in own_settings.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["config", "shopp", "x"], "did you mean 'shop'?"),
        (["config", "paper", "A5"], "Choose: A4 or Letter."),
        (["config", "--unset"], "advisor config shop --unset"),
    ],
)
def test_a_wrong_setting_is_refused_with_what_would_do(words: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The message names the choice or the nearest key; nothing is written."""
    assert advisor(*words) == 2
    assert told in capsys.readouterr().err


@pytest.mark.parametrize("text", ["shop = ", "shop = 1", "nothing = 'x'", "\x00"])
def test_a_broken_settings_file_is_named(text: str, own_settings: Path, begun: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A record with a settings file that is not in order says which file it is, in two lines."""
    own_settings.parent.mkdir()
    own_settings.write_text(text, encoding="utf-8")
    assert advisor("record", "--data-dir", begun, "--knowledge", SMALL) in (1, 2)
    err = capsys.readouterr().err
    assert str(own_settings) in err
    assert len(err.strip().splitlines()) == 2


def test_a_key_that_fits_no_blank_is_told(begun: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`--set ordr=1` is kept as a line of its own, and the likely blank is named."""
    advisor("record", "--set", "ordr=4711", "--data-dir", begun, "--knowledge", SMALL)
    said = capsys.readouterr()
    assert "ordr" in said.out
    assert "did you mean 'order'?" in said.err


def test_words_are_found_in_titles_first_and_in_texts() -> None:
    """Every word must be there; a title with it stands before a text with it."""
    hits = search(small_knowledge(), "splice").hits
    assert hits[0].id == "high-resistance-splice"
    assert all("splice" in f"{h.id} {h.title} {h.line}".lower() for h in hits)
    assert search(small_knowledge(), "splice coupling sweep").hits == ()


def test_a_misspelt_word_finds_its_neighbour() -> None:
    """`coupplin` is read as a word of the knowledge, and it is said which one."""
    found = search(small_knowledge(), "coupplin")
    assert found.read_as == (("coupplin", "coupling"),)
    assert "sensor-coupling-loose" in [h.id for h in found.hits]


@pytest.mark.parametrize("words", ["zzqqx", "...", "\x1b[2J"])
def test_nothing_found_is_said_and_exits_one(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The exit code is that of a finding; no control character comes back."""
    assert advisor("find", words, "--knowledge", SMALL) == 1
    out = capsys.readouterr().out
    assert "Nothing in the knowledge" in out
    assert "\x1b" not in out


def test_a_new_machine_file_is_refused_until_it_is_filled_in(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What was answered stands in the file; the check names the place that is left."""
    file = tmp_path / "m.yaml"
    assert advisor("machine", "new", file, "--title", "A 'new' one: \"x\"", "--volts", "24") == 0
    assert advisor("machine", "check", file) == 1
    assert f"{file}:" in capsys.readouterr().err
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("FILL IN which sensor", "Angle").replace("FILL IN what the sensor draws", "9"), encoding="utf-8")
    assert advisor("machine", "check", file, "--json") == 0
    assert json.loads(capsys.readouterr().out)["title"] == "A 'new' one: \"x\""
    assert advisor("machine", "new", file, "--title", "again", "--volts", "24") == 2


def test_a_machine_check_says_what_the_file_leaves_open(capsys: pytest.CaptureFixture[str]) -> None:
    """The circuits are drawn, and what the file does not give is named with what follows."""
    assert advisor("machine", "check", MACHINES / "loader.yaml", "--plain") == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "supply-a: [controller:31*] --*-- <splice-1*> ---- [bulkhead:9] ---- [sensor:1]" in out
    assert "Not given: sensor ends_volts." in out


def test_machine_files_are_listed_and_other_files_are_not(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every machine file of the folder is there with its title; one that is not in order says why."""
    (tmp_path / "bad.yaml").write_text("points: [a]\ncircuits: {}\n", encoding="utf-8")
    (tmp_path / "other.yaml").write_text("complaint: x\npoints: []\ncircuits: {}\n", encoding="utf-8")
    (tmp_path / "good.yaml").write_bytes((MACHINES / "loader.yaml").read_bytes())
    assert advisor("machine", "list", tmp_path, "--json") == 0
    rows = {Path(r["file"]).name: r for r in json.loads(capsys.readouterr().out)["machines"]}
    assert set(rows) == {"bad.yaml", "good.yaml"}
    assert rows["bad.yaml"]["trouble"]
    assert rows["good.yaml"]["title"].startswith("Articulated loader")


def test_the_ending_of_a_file_is_its_format(begun: Path, tmp_path: Path) -> None:
    """A file named .html holds a page, one named .json an object."""
    shared = ("--data-dir", begun, "--knowledge", SMALL)
    assert advisor("record", "--out", tmp_path / "a.html", *shared) == 0
    assert advisor("record", "--out", tmp_path / "a.json", *shared) == 0
    assert (tmp_path / "a.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert json.loads((tmp_path / "a.json").read_text(encoding="utf-8"))["format"] == 1


def test_without_a_browser_a_pdf_is_refused(
    begun: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The message says what is missing and what to do, and no file is left."""
    monkeypatch.setattr(printing, "BROWSERS", ())
    assert advisor("record", "--format", "pdf", "--data-dir", begun, "--knowledge", SMALL) == 2
    assert "print that" in capsys.readouterr().err
    assert not list(begun.parent.glob("*.pdf"))


def test_a_pdf_is_printed_on_the_paper_set(begun: Path, tmp_path: Path) -> None:
    """With a browser here, the record comes as a PDF of Letter pages."""
    pypdf: Any = pytest.importorskip("pypdf", reason="pypdf is not installed")
    if not any(map(printing.shutil.which, printing.BROWSERS)):
        pytest.skip("no Chromium here")
    advisor("config", "paper", "Letter")
    assert advisor("record", "--out", tmp_path / "r.pdf", "--data-dir", begun, "--knowledge", SMALL) == 0
    box = pypdf.PdfReader(tmp_path / "r.pdf").pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((612, 792), abs=1.5)  # ANSI/ASME Y14.1


def test_a_record_is_opened_when_asked(begun: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`--open` writes a page named after the case and hands it to the browser."""
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", lambda url: bool(opened.append(url)) or True)
    assert advisor("record", "--open", "--data-dir", begun, "--knowledge", SMALL) == 0
    assert [Path(url).suffix for url in opened] == [".html"]
