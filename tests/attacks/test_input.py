"""Whatever comes in is taken or refused in words: a bounded part of the benchmark `fuzz`, by changes to what is right."""

from __future__ import annotations

import html
import io
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from attacks.targets import clear, refused_or_taken, targets
from builders import MACHINE, MORNING, SMALL, small_knowledge
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from terminal.talk import talk

from advisor.cli import run
from advisor.errors import InputError
from advisor.library.reader import parse
from advisor.model.case import Event, Noted, Opened
from advisor.plain import plain
from advisor.session.said import plain as plain_said
from advisor.session.session import Session
from advisor.store.folder import CaseStore
from advisor.store.lines import event_line, scan

NASTY = (
    "", " ", "\n", "\t", "\x00", "\x1b[2J", "\u202e", "\ufeff", "\U0001f69c", "\u00b2", "9" * 400, "-1", "1e308", "nan", "1_000",
    "0x10", "0o7", "1:30",
    "yes", "~", "null", "[]", "{}", "- ", ": ", "&a", "*a", "!!python/object:os.system", "<<: ", "---", "...",
    "!!python/object/apply:os.system [id]", "|", ">", "%", "@", "`", "'", '"', "\\", "#", "%YAML 9.9\n", "A" * 3000,
)  # fmt: skip


@pytest.fixture(scope="module", autouse=True)
def _folder() -> Iterator[None]:
    yield
    clear()


@st.composite
def changed(draw: st.DrawFn, examples: tuple[bytes, ...]) -> bytes:
    """What is right, with a few places cut out, doubled, or with something nasty in them."""
    data = draw(st.sampled_from(examples))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(data)))
        end = min(len(data), at + draw(st.sampled_from((0, 1, 2, 7, 40))))
        filling = draw(st.one_of(st.sampled_from(NASTY).map(str.encode), st.binary(max_size=6), st.just(data[at:end] * 2)))
        data = data[:at] + filling + data[end:]
    return data


@pytest.mark.parametrize("name", list(targets()))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_a_changed_input_is_taken_or_refused_in_words(name: str, data: st.DataObject) -> None:
    """Each reader: nothing else than a refusal comes out of it."""
    assert refused_or_taken(name, data.draw(changed(targets()[name].examples))) in (True, False)


@pytest.mark.parametrize("name", list(targets()))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.one_of(st.binary(max_size=300), st.text(max_size=200).map(lambda t: t.encode("utf-8", "replace"))))
def test_any_bytes_are_taken_or_refused_in_words(name: str, data: bytes) -> None:
    """What has nothing to do with the format too."""
    assert refused_or_taken(name, data) in (True, False)


NAMES = st.sampled_from(["tight", "splice-7", "sensor"])
VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=12), NAMES),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=6), inner, max_size=3)),
    max_leaves=6,
)


@pytest.mark.parametrize("name", ["machine", "scenario", "field", "knowledge"])
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_another_value_anywhere_in_a_file_is_refused_in_words(name: str, data: st.DataObject) -> None:
    """A list for a name, a mapping for a number, a number without end, nothing at all."""
    document: Any = parse(targets()[name].examples[0].decode(), "x").data
    at, path = document, []
    while isinstance(at, dict | list) and at and (not path or data.draw(st.booleans())):
        key = data.draw(st.sampled_from(sorted(at) if isinstance(at, dict) else list(range(len(at)))))
        path.append((at, key))
        at = at[key]
    if path:
        path[-1][0][path[-1][1]] = data.draw(VALUES)
    assert refused_or_taken(name, json.dumps(document).encode()) in (True, False)


@pytest.mark.parametrize("name", list(targets()))
def test_the_examples_are_taken_and_rubbish_is_not(name: str) -> None:
    """Otherwise the tests above would show nothing."""
    assert all(refused_or_taken(name, example) for example in targets()[name].examples)
    if name not in (
        "dialogue",
        "quantity",
        "lines",
        "verify",
        "case",
        "words",
    ):  # these answer to each line, or name what is wrong in it
        assert not refused_or_taken(name, b"\x00[[[")


# ---- markup stays text

MARKUP = (
    "<script>alert(1)</script>", "</pre><img src=x onerror=alert(1)>", "{{ 700*7 }}{% include 'x' %}", "a | b | c", "# heading",
    "[x](javascript:alert(1))", "`code` **bold** _it_", '","injected":true,"x":"', "\\u001b[2J", "&lt;b&gt; &amp;",
    "-- \n---\n| a |", "\x1b]8;;http://x\x07link\x1b]8;;\x07", "\u202egnp.exe", "=1+1", "$(id) `id` ; id",
)  # fmt: skip


@pytest.mark.parametrize("text", MARKUP)
def test_markup_in_notes_and_names_is_text_in_every_output(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Page, table, data and terminal show it as it was typed; none of them obeys it."""
    machine = {**MACHINE, "title": f"Loader {text}"}
    with CaseStore(tmp_path).create(
        Opened(complaint="motion-without-steering", machine=machine), small_knowledge().digest, MORNING
    ) as case:
        case.append(Noted(text=text), MORNING)
        name = case.stored.case_id
    own = (name, "--data-dir", str(tmp_path), "--knowledge", str(SMALL))

    def out(*command: str) -> str:
        assert run([command[0], *own, *command[1:]]) == 0
        return capsys.readouterr().out

    kept = " ".join(plain(text).split())
    page = out("record", "--format", "html")
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    assert kept in " ".join(plain(html.unescape(re.sub(r"<[^<>]*>", "", page))).split())
    assert "4900" not in page
    table = out("record", "--format", "md")
    assert "\n# heading" not in table
    assert re.search(r"(?<!\\)<(script|img)", table) is None
    for data in (out("record", "--format", "json"), out("show", "--json")):
        assert "injected" not in json.loads(data)
        assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202e]", data)
    assert kept[:12] in " ".join(out("show").split())


@pytest.mark.parametrize("size", [100_000, 1_000_000])
def test_an_answer_of_a_million_letters_is_one_answer(size: int) -> None:
    """At a choice it is refused in one short line; as a note it is kept whole, and no later line suffers."""
    found = talk("x" * size, "note " + "y" * size, "pause")
    assert [len(e.text) for e in found.stored if isinstance(e, Noted)] == [size]
    refusals = [line for line in found.printed.splitlines() if line.startswith("Not taken")]
    assert refusals
    assert all(len(line) <= 80 for line in refusals)


@pytest.mark.parametrize("text", ["x" * 10**6, "it drifts left " * 66_000, "other " + "a " * 400_000, "1/" * 500_000])
def test_a_file_pasted_at_any_question_is_refused_and_the_question_stays(text: str) -> None:
    """It is looked through at none of them, for that took minutes; nothing is stored and the next answer is taken."""
    events: list[Event] = []

    def begin(name: str) -> tuple[Opened, Callable[..., None]]:
        return Opened(complaint=name, asks=True), lambda *new: events.extend(new)

    session = Session.fresh(small_knowledge(), begin)
    asked = set()
    for fits in (
        "motion-without-steering",
        "it jumps",
        "522990/10",
        *("",) * 6,
        "other coupling-grip",
        "tight",
        "correct 1",
        "back",
    ):
        question, before = session.question, list(events)
        assert question is not None
        asked.add(question.kind)
        session.take()
        session.answer(text)
        assert session.question == question
        assert events == before
        said = next(t for item in session.take() for t in plain_said(item))
        assert said.startswith(f"Not taken: {len(text.strip())} letters are too long")
        session.answer(fits)
    assert {"complaint", "operator-words", "code", "occurrences", "step"} <= asked


NO_NUMBERS = ("\u00b2", "\u2460", "\uff11", "\u0661", "9" * 5000, "1" + "0" * 400, "-1", "1e5", "0x1", "+1", "1_0")


@pytest.mark.parametrize("text", NO_NUMBERS)
def test_a_number_that_is_none_of_the_choices_is_refused_at_each_of_them(text: str) -> None:
    """Signs that look like digits and numbers without end: nothing is stored, and the same is asked again."""
    events: list[Event] = []

    def begin(name: str) -> tuple[Opened, Callable[..., None]]:
        return Opened(complaint=name, asks=True), lambda *new: events.extend(new)

    session = Session.fresh(small_knowledge(), begin)
    asked = set()
    steps = (
        "other",
        "coupling-grip",
        "tight",
        "correct",
        "1",
        "slips",
        "skip",
        "missing",
        "load-resistor",
        "stands",
        "yes",
        "repair",
    )
    for fits in ("motion-without-steering", "", "", *("",) * 5, *steps):
        question, before = session.question, list(events)
        assert question is not None
        if question.choices and not question.free:
            asked.add(question.kind)
            session.answer(text)
            assert session.question is not None
            assert session.question.kind == question.kind
            assert events == before
            assert any(t.startswith("Not taken: ") for item in session.take() for t in plain_said(item))
        session.answer(fits)
        session.take()
    assert len(asked) > 5, asked


# ---- files and archives


@pytest.mark.parametrize(
    "tag", ["!!python/object/apply:os.system [id]", "!!python/name:os.system", "!x y", "!!timestamp 2020-01-01"]
)
def test_no_tag_of_a_file_makes_an_object(tag: str) -> None:
    """A tag is refused as what it is, or the value stays a plain text, number or list."""
    document = parse(f"a: {tag}\n", "x")
    assert document.problems or isinstance(document.data["a"], str | int | float | list)


def test_a_name_in_a_case_reaches_no_file_outside_the_folder(tmp_path: Path) -> None:
    """A case whose header says that it lies elsewhere is refused, and nothing is read or written there."""
    folder = tmp_path / "cases"
    with CaseStore(folder).create(Opened(complaint="motion-without-steering"), "d" * 64, MORNING) as case:
        name, data = case.stored.case_id, case.data
    for evil in ("../../evil", "/etc/passwd", "..", "a/b", "con", "x\x00y"):
        forged = data.replace(f'"case":"{name}"'.encode(), f'"case":{json.dumps(evil)}'.encode())
        case.stored.path.write_bytes(forged)
        for command in ("show", "record", "verify", "resume"):
            assert run([command, name, "--data-dir", str(folder), "--knowledge", str(SMALL)]) in (1, 3)
            assert run([command, evil.replace("\x00", ""), "--data-dir", str(folder), "--knowledge", str(SMALL)]) in (1, 2, 3)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["cases"]


OUTSIDE = (
    "../x.jsonl", "/tmp/x.jsonl", "a/20310304-k2.jsonl", "20310304-k2.jsonl/", "C:\\x.jsonl", "manifest.json.exe", "x\x1b[2J",
)  # fmt: skip


@pytest.mark.parametrize("inside", OUTSIDE)
def test_an_archive_writes_nowhere_else_and_replaces_nothing(inside: str, tmp_path: Path) -> None:
    """A name that leads out of the folder is refused before anything is written."""
    store = CaseStore(tmp_path / "cases")
    with store.create(Opened(complaint="motion-without-steering"), "d" * 64, MORNING) as case:
        before, data = case.stored.path.read_bytes(), case.data
    archive = tmp_path / "in.zip"
    with zipfile.ZipFile(archive, "w") as packed:
        packed.writestr("manifest.json", json.dumps({"format": 1, "cases": [{"file": inside, "sha256": "0" * 64}]}))
        packed.writestr(inside, data)
    assert run(["cases", "--import", str(archive), "--data-dir", str(store.folder)]) == 1
    assert case.stored.path.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["cases", "in.zip"]


def test_a_bomb_in_an_archive_is_refused_while_it_is_small(tmp_path: Path) -> None:
    """A thousand to one: it is not unpacked further than a case may be long."""
    archive = tmp_path / "in.zip"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("20310304-k2.jsonl", bytes(40 * 2**20))
    assert archive.stat().st_size < 100_000
    assert run(["cases", "--import", str(archive), "--data-dir", str(tmp_path / "cases")]) == 1


def test_a_note_that_no_file_can_hold_is_refused_and_nothing_else_is() -> None:
    """Half a character is no text; every whole one is, wherever it comes from."""
    with pytest.raises(InputError):
        event_line(1, Noted(text="\ud800"), MORNING, b"")
    line, kept = event_line(1, Noted(text="\U0001f69c \u0416 \N{SNOWMAN}\x00\u2028"), MORNING, b"")
    assert kept.model_dump()["text"] == "\U0001f69c \u0416 \N{SNOWMAN}\x00\u2028"
    assert b"\n" not in line
    assert io.BytesIO(line).readline() == line


def test_a_link_in_an_archive_is_no_case(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An entry that is a link on the system it came from is refused, whatever it holds."""
    with CaseStore(tmp_path / "cases").create(Opened(complaint="motion-without-steering"), "d" * 64, MORNING) as case:
        name, data = f"{case.stored.case_id}.jsonl", case.data
    archive = tmp_path / "in.zip"
    entry = zipfile.ZipInfo(name)
    entry.create_system, entry.external_attr = 3, 0o120777 << 16
    with zipfile.ZipFile(archive, "w") as packed:
        listed = {"format": 1, "cases": [{"file": name, "sha256": sha256(data).hexdigest()}]}
        packed.writestr("manifest.json", json.dumps(listed))
        packed.writestr(entry, data)
    assert run(["cases", "--import", str(archive), "--data-dir", str(tmp_path / "other")]) == 1
    assert "no case file" in capsys.readouterr().err


def test_a_line_that_is_json_and_no_event_is_told_apart_from_one_that_is_no_json(tmp_path: Path) -> None:
    """Somebody who looks for the damage knows what to look for."""
    with CaseStore(tmp_path).create(Opened(complaint="motion-without-steering"), "d" * 64, MORNING) as case:
        name, data = case.stored.case_id, case.data
    for line, says in ((data.split(b"\n")[1][:-1] + b',"more":1}', "holds no event"), (b"{", "not JSON")):
        found = scan("x", name, data.split(b"\n")[0] + b"\n" + line + b"\n")
        assert found.problem is not None
        assert says in found.problem.what
