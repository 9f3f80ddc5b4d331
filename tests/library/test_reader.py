"""The strict part of YAML that is read, and how everything else is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import NotFound
from advisor.library.reader import DEEPEST, LARGEST_FILE, Document, parse, read


def refused(text: str) -> str:
    """The one problem of a text that must not be read at all."""
    document = parse(text, "f.yaml")
    assert document.data is None
    (problem,) = document.problems
    return str(problem)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("yes", "yes"),
        ("no", "no"),
        ("on", "on"),
        ("off", "off"),
        ("Yes", "Yes"),
        ("y", "y"),
        ("N", "N"),
        ("true", True),
        ("False", False),
        ("TRUE", True),
        ("tRUE", "tRUE"),
        ("null", None),
        ("~", None),
        ("NULL", None),
        ("010", 10),
        ("-7", -7),
        ("+7", 7),
        ("0x1F", "0x1F"),
        ("0o17", "0o17"),
        ("1_000", "1_000"),
        ("1:30", "1:30"),
        ("190:20:30", "190:20:30"),
        ("2031-03-04", "2031-03-04"),
        ("2031-03-04 07:30:00", "2031-03-04 07:30:00"),
        ("0.25", 0.25),
        (".5", 0.5),
        ("5.", 5.0),
        ("-1e3", -1000.0),
        ("1.5E-2", 0.015),
        (".inf", ".inf"),
        (".nan", ".nan"),
        ("4.7V", "4.7V"),
        ("1.2.3", "1.2.3"),
        ("1e", "1e"),
        (".", "."),
        ("+", "+"),
        ("<<", "<<"),
        ("=", "="),
        ("'7'", "7"),
        ('"true"', "true"),
        ("''", ""),
        ("grün", "grün"),
        ("24 V", "24 V"),
    ],
)
def test_plain_words_stay_words(written: str, meant: Any) -> None:
    """Only true, false, null and decimal numbers are more than text: no yes and no, octal, base 60 or dates."""
    data = parse(f"a: {written}", "f.yaml").data
    assert data == {"a": meant}
    assert type(data["a"]) is type(meant)


def test_a_key_without_a_value_is_null() -> None:
    """Nothing after the colon is nothing, not an empty text."""
    assert parse("a:\nb: 1", "f.yaml").data == {"a": None, "b": 1}


def test_keys_are_always_texts() -> None:
    """A key that looks like a number or a truth value is still a text."""
    assert parse("{1: a, true: b, null: c}", "f.yaml").data == {"1": "a", "true": "b", "null": "c"}


def test_a_number_of_thousands_of_digits_is_no_crash() -> None:
    """Digits without end are read as something, or refused, but never break the reader."""
    document = parse("a: " + "9" * 5000, "f.yaml")
    assert document.problems or not isinstance(document.data["a"], int)


def test_every_key_given_twice_is_named() -> None:
    """Each second and third appearance of a key is a problem of its own, at any depth."""
    document = parse("a: 1\nb: {c: 1, c: 2}\na: 2\nd:\n  - {e: 1}\n  - {e: 1, e: 2}\na: 3", "f.yaml")
    assert [str(p.location) for p in document.problems] == ["f.yaml:2:11", "f.yaml:3:1", "f.yaml:6:12", "f.yaml:7:1"]
    assert all("a second time; keep one" in str(p) for p in document.problems)


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("a: &x 1", "1:4"),
        ("a: 1\nb: *x", "2:4"),
        ("&x a: 1", "1:1"),
        ("- 1\n- &x [1]", "2:3"),
        ("a: &x\n  b: 1", "1:4"),
        ("a: {b: &x {c: 1}, <<: *x}", "1:8"),
    ],
)
def test_anchors_and_aliases_are_refused(text: str, where: str) -> None:
    """An anchor or an alias is refused where it stands, on values and on keys."""
    assert refused(text).startswith(f"f.yaml:{where}: anchors (&) and aliases (*) are not read here")


def test_an_alias_as_a_key_is_refused() -> None:
    """A key cannot be an alias."""
    assert refused("*x : 1").startswith("f.yaml:1:1: ")


def test_a_bomb_of_aliases_is_refused_at_its_first_anchor(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nested aliases that would unfold to 10^30 values are refused before a second event is taken."""
    lines = ["a0: &a0 [x]"] + [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, 31)]
    taken = []

    def counted(text: str, **keys: Any) -> Any:
        for event in real(text, **keys):
            taken.append(event)
            yield event

    real = yaml.parse
    monkeypatch.setattr("advisor.library.reader.yaml.parse", counted)
    assert refused("\n".join(lines)).startswith("f.yaml:1:5: anchors (&) and aliases (*)")
    assert len(taken) == 5  # stream, document, mapping, key, the anchored list


@pytest.mark.parametrize(
    "text", ["a: !!str 5", "a: !x 5", "a: !!python/object/apply:os.system [ls]", "- !!set {a, b}", "!!map {a: 1}", "!!str a: 1"]
)
def test_tags_are_refused(text: str) -> None:
    """No tag is read, on a value or on a key."""
    assert "are not read here; leave the tag out" in refused(text)


def test_a_second_document_is_refused_where_it_starts() -> None:
    """One document a file."""
    assert refused("a: 1\n---\nb: 2") == "f.yaml:2:1: a second document starts here; keep one document a file"


def test_a_marker_for_start_and_end_does_no_harm() -> None:
    """A single document may say where it starts and ends."""
    assert parse("---\na: 1\n...\n", "f.yaml").data == {"a": 1}


def test_a_list_as_a_key_is_refused() -> None:
    """A key is a single word."""
    assert refused("? [a, b]\n: 1").startswith("f.yaml:1:3: a key must be a single word")


@pytest.mark.parametrize("text", ["[" * 400, "- " * 400, "{a: " * 400, "".join(" " * i + "a:\n" for i in range(400))])
def test_nesting_too_deep_is_refused(text: str) -> None:
    """Brackets or indentation without end do not exhaust the stack; the place is named."""
    assert f"nested more than {DEEPEST} levels deep" in refused(text)


def test_nesting_as_deep_as_allowed_is_read() -> None:
    """The limit itself is still allowed."""
    data = parse("[" * DEEPEST + "x" + "]" * DEEPEST, "f.yaml").data
    for _ in range(DEEPEST):
        (data,) = data
    assert data == "x"


@pytest.mark.parametrize(
    ("text", "at", "began"),
    [
        ("a: [1, 2\nb: 3", "2:2", "line 1, column 4"),
        ('a: "open\nb: 2\n', "3:1", "line 1, column 4"),
        ("a:\n  - 1\n - 2\n", "3:2", "line 1, column 1"),
    ],
)
def test_a_syntax_error_names_both_ends(text: str, at: str, began: str) -> None:
    """Where the reader stumbled, and where what is not finished began."""
    problem = refused(text)
    assert problem.startswith(f"f.yaml:{at}: not readable as YAML: ")
    assert problem.endswith(f"; what is wrong began at {began}")


@pytest.mark.parametrize("text", ["a: b: c", "\ta: 1", "a: 1\n b: 2", "a: @x", "a: `x`", "}"])
def test_a_syntax_error_is_one_problem_in_its_line(text: str) -> None:
    """Text that is no YAML gives one problem that says where, and what to look at."""
    assert "check quotes, brackets and indentation" in refused(text)


def test_control_characters_are_refused() -> None:
    """A bell in the text is no text."""
    assert "save the file as plain UTF-8 text" in refused("a: \a")


def test_positions_are_those_of_keys_and_items() -> None:
    """Every value can be found again: a mapping's by its key, a list's by its item, both counted from 1."""
    text = "a: 1\nb:\n  - x\n  - {c: 2, d: [3, 4]}\n😀: {e: 5}\n"
    document = parse(text, "f.yaml")
    spots = {
        ("a",): "1:1",
        ("b",): "2:1",
        ("b", 0): "3:5",
        ("b", 1): "4:5",
        ("b", 1, "d"): "4:12",
        ("b", 1, "d", 1): "4:19",
        ("😀", "e"): "5:5",
    }
    for path, spot in spots.items():
        assert str(document.locate(path)) == f"f.yaml:{spot}"


def test_a_missing_value_is_located_at_what_encloses_it() -> None:
    """A path that leads nowhere is shown at the last part of it that exists."""
    document = parse("a: 1\nb: {c: 2}", "f.yaml")
    assert str(document.locate(("b", "zzz", 3))) == "f.yaml:2:1"
    assert str(document.locate(())) == "f.yaml:1:1"
    assert str(Document("g.yaml", None, {}).locate(("a",))) == "g.yaml:1:1"


def test_a_missing_file_is_said_to_be_missing(tmp_path: Path) -> None:
    """No file, or a file where a folder should be: both are 'no such file'."""
    (tmp_path / "file").write_text("a: 1")
    for name in ("nothing.yaml", "file/inner.yaml"):
        with pytest.raises(NotFound, match="no such file"):
            read(tmp_path / name)


def test_a_name_with_a_zero_byte_is_said_to_be_missing() -> None:
    """A file name that no system can hold comes from a scenario, and is no crash."""
    with pytest.raises(NotFound, match="no such file"):
        read(Path("a\0b.yaml"))


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", ":1:1: is empty"),
        (b"# only a remark\n", ":1:1: is empty"),
        (b"\n\n", ":1:1: is empty"),
        (b"null\n", ":1:1: is empty"),
        (b"a: 1\0", ":1:1: is not a text file"),
        ("a: grün".encode("utf-16"), ":1:1: is not a text file"),
        (b"a: 1\nb: 2\nc: gr\xfcn\n", ":3:1: is not UTF-8 text"),
        (b"\x89PNG\r\n\x1a\n\0\0", ":1:1: is not a text file"),
        (b"\xff\xfe\xfd", ":1:1: is not UTF-8 text"),
        (b"#" * (LARGEST_FILE + 1), f":1:1: is larger than {LARGEST_FILE} bytes"),
    ],
)
def test_what_is_no_text_file_is_refused(tmp_path: Path, content: bytes, what: str) -> None:
    """Empty, binary, wrongly encoded and huge files are refused with the file's name and what to do."""
    file = tmp_path / "f.yaml"
    file.write_bytes(content)
    document = read(file, "shown.yaml")
    assert document.data is None
    (problem,) = document.problems
    assert f"{problem.location}: {problem.what}" == f"shown.yaml{what}"
    assert problem.hint


def test_a_folder_in_place_of_a_file_is_refused(tmp_path: Path) -> None:
    """A folder cannot be read as a file, and the system's reason is shown."""
    (problem,) = read(tmp_path).problems
    assert "cannot be read (Is a directory)" in str(problem)


@pytest.mark.parametrize("content", [b"\xef\xbb\xbfa: 1\nb: 2\n", b"a: 1\r\nb: 2\r\n", b"a: 1\rb: 2\r"])
def test_marks_and_line_ends_of_other_systems_are_read(tmp_path: Path, content: bytes) -> None:
    """A byte order mark and any line end leave data and positions the same."""
    file = tmp_path / "f.yaml"
    file.write_bytes(content)
    document = read(file)
    assert document.data == {"a": 1, "b": 2}
    assert document.locate(("b",)).line == 2


@given(st.text(max_size=60) | st.text(alphabet="ab:-[]{}&*!#'\"|>?,% \n\t0.~", max_size=40))
@settings(max_examples=150, deadline=None)
def test_no_text_breaks_the_reader(text: str) -> None:
    """Whatever is typed is read or gives problems that name a place in it; nothing else comes out."""
    document = parse(text, "f.yaml")
    for problem in document.problems:
        assert problem.location.path == "f.yaml"
        assert problem.location.line >= 1
        assert problem.location.column >= 1
        assert "\n" not in str(problem)


# Beyond the basic plane JSON writes a character as two halves, which YAML refuses.
texts = st.text(st.characters(max_codepoint=0xFFFF, exclude_categories=["Cs"]), max_size=12)
plain = st.none() | st.booleans() | st.integers(-(10**15), 10**15) | st.floats(allow_nan=False, allow_infinity=False) | texts
trees = st.recursive(plain, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3), max_leaves=8)


@given(trees)
@settings(max_examples=100, deadline=None)
def test_what_json_writes_is_read_as_it_was(tree: Any) -> None:
    """JSON is YAML: data written as JSON comes back the same, values and types."""
    written = json.dumps(tree)
    document = parse(written, "f.yaml")
    assert document.problems == ()
    assert json.dumps(document.data) == written
