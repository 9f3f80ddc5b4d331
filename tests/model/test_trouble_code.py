"""Trouble codes as people type them."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import InputError
from advisor.model.trouble_code import TroubleCode, decode, encode, parse_code

spns = st.integers(0, 524287)
fmis = st.integers(0, 31)
counts = st.none() | st.integers(0, 126)


def fields(text: str) -> tuple[int | None, int, int | None]:
    code = parse_code(text)
    return code.spn, code.fmi, code.occurrences


@pytest.mark.parametrize(
    "text",
    [
        "SPN 70123 FMI 9 OC 21", "spn70123fmi9oc21", "  SPN:70123, FMI:9; OC:21 ", "SPN=70123 FMI=09 OC=021",
        "FMI 9, OC 21, SPN 70123", "OC 21 SPN 70123 FMI 9", "Spn\t70123 / Fmi 9 / Oc 21.", "70123/9 OC 21",
        "70123.9, oc 21",
    ],
)  # fmt: skip
def test_labelled_codes_in_any_order_and_case(text: str) -> None:
    """Spacing, case, order, commas and semicolons do not matter."""
    assert fields(text) == (70123, 9, 21)
    assert parse_code(text).raw == text.strip()
    assert not parse_code(text).ambiguous


@pytest.mark.parametrize("text", ["SPN 70123 FMI 9", "70123/9", "70123.9", "70123 / 09", "70123,9", "70123:9"])
def test_the_count_may_be_missing(text: str) -> None:
    """Without a count the number of occurrences is unknown, not zero."""
    assert fields(text) == (70123, 9, None)


def test_a_pair_keeps_both_digits_after_the_point() -> None:
    """A point separates two whole numbers; it is no decimal point."""
    assert fields("70123.10") == (70123, 10, None)
    assert fields("70123.1") == (70123, 1, None)


@pytest.mark.parametrize(
    "text",
    ["EB 11 29 15", "eb112915", "0xEB112915", "0xEB 0x11 0x29 0x15", "EB,11,29,15", "EB-11-29-15", "eb; 11; 29; 15"],
)
def test_four_bytes_in_hex(text: str) -> None:
    """Four raw bytes are read with and without spaces, commas and 0x, and kept in one form."""
    assert parse_code(text) == TroubleCode(0x111EB, 9, 21, False, "EB 11 29 15")


def test_one_digit_bytes_are_bytes() -> None:
    """A tool that leaves out leading zeros is understood."""
    assert parse_code("EB 4 9 1").raw == "EB 04 09 01"


def test_digits_that_could_be_both_are_not_guessed() -> None:
    """Eight digits in a row may be bytes or a code without its slash, so both ways to write it are offered."""
    with pytest.raises(InputError, match="can be four bytes or") as caught:
        parse_code("70123409")
    assert "70 12 34 09" in caught.value.hint
    assert fields("70 12 34 09") == fields("0x70123409")


def test_an_older_layout_shows_no_spn() -> None:
    """With the conversion method bit set the SPN is unknown; failure mode, count and bytes are kept."""
    code = parse_code("EB 11 29 95")
    assert code == TroubleCode(None, 9, 21, True, "EB 11 29 95")
    assert encode(code) == bytes.fromhex("EB112995")


@pytest.mark.parametrize("text", ["EB 11 29 7F", "SPN 70123 FMI 9 OC 127"])
def test_a_count_of_127_is_unknown(text: str) -> None:
    """127 stands for a count that is not available and is never taken for 127 occurrences."""
    assert fields(text) == (70123, 9, None)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("FF FF FF FF", "padding, not a fault"),
        ("ffffffff", "padding, not a fault"),
        ("00 00 00 00", "no fault is active"),
        ("SPN 70123 FMI 32", "FMI 32 cannot be: FMI goes from 0 to 31"),
        ("SPN 524288 FMI 9", "SPN 524288 cannot be: SPN goes from 0 to 524287"),
        ("70123/9 OC 128", "OC 128 cannot be: OC goes from 0 to 127"),
        ("SPN 70123", "has no FMI"),
        ("FMI 9 OC 21", "has no SPN"),
        ("SPN 70123 FMI 9 FMI 8", "FMI is given twice"),
        ("SPN " + "9" * 6000 + " FMI 9", "cannot be"),
        ("EB 11 29", "four bytes; 3 were given"),
        ("EB 11 29 15 00", "four bytes; 5 were given"),
        ("", "no fault code"),
        ("left rear", "no fault code"),
        ("SPN -5 FMI 9", "no fault code"),
        ("70123 9", "no fault code"),
        ("70123/", "no fault code"),
        ("٧٠١٢٣/٩", "no fault code"),
        ("\x1b[2Jx" + "y" * 500, "no fault code"),
    ],
)
def test_wrong_codes_are_refused_in_one_line(text: str, says: str) -> None:
    """Each refusal says what is wrong and what would be right, short and without control characters."""
    with pytest.raises(InputError) as caught:
        parse_code(text)
    assert says in caught.value.what
    assert caught.value.hint
    assert len(caught.value.what) < 130
    assert caught.value.what.isprintable()


def test_a_whole_message_is_told_from_its_code() -> None:
    """Eight bytes are a message with its lamps; the refusal shows which four to give."""
    with pytest.raises(InputError) as caught:
        parse_code("04 FF EB 11 29 15 FF FF")
    assert "EB 11 29 15" in caught.value.hint


@settings(max_examples=200, deadline=None)
@given(spns, fmis, counts)
def test_typed_and_encoded_codes_come_back(spn: int, fmi: int, count: int | None) -> None:
    """What is typed in words, encoded to bytes and typed in again is the same code."""
    typed = f"SPN {spn} FMI {fmi}" + ("" if count is None else f" OC {count}")
    code = parse_code(typed)
    assert (code.spn, code.fmi, code.occurrences) == (spn, fmi, count)
    if (spn, fmi, count) != (0, 0, 0):
        assert fields(encode(code).hex(" ")) == (spn, fmi, count)


@settings(max_examples=200, deadline=None)
@given(st.binary(min_size=4, max_size=4).filter(lambda data: data not in (b"\xff" * 4, bytes(4))))
def test_any_four_bytes_are_kept(data: bytes) -> None:
    """Decoding and encoding gives back the bytes, whatever the layout."""
    assert encode(decode(data)) == data


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=30) | st.from_regex(r"[SPNFMIOC0-9a-fx ,;/.:-]{0,30}", fullmatch=True))
def test_any_text_is_a_code_or_refused(text: str) -> None:
    """Whatever is typed, the answer is a code within its limits or a refusal, never a failure."""
    code = None
    with suppress(InputError):
        code = parse_code(text)
    if code is not None:
        assert code.spn is None or 0 <= code.spn <= 524287
        assert 0 <= code.fmi <= 31
        assert (code.spn is None) == code.ambiguous
