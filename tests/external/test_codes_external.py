"""Trouble codes against published examples and an independent decoder.

Published rows: SAE J1939-73 worked examples (5.7.1.11, 5.7.1.14) as shown in public test suites, public test vectors,
and a public bus log in a conformance-test report. The decoder is the open-source library can-j1939.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from j1939.diagnostic_messages import DTC

from advisor.errors import InputError
from advisor.model.trouble_code import decode, encode, parse_code


@pytest.mark.parametrize(
    ("data", "spn", "fmi", "count"),
    [
        ("B8 04 03 0A", 1208, 3, 10),  # J1939-73 5.7.1.11, worked example
        ("00 F0 E1 01", 520192, 1, 1),  # public test vector
        ("00 00 30 40", 65536, 16, 64),  # public test vector
        ("00 00 E0 00", 458752, 0, 0),  # public test vectors, one field alone
        ("00 00 1F 00", 0, 31, 0),
        ("00 00 00 7F", 0, 0, None),  # 127 in the bytes: count not available
        ("FF FF FF 7F", 524287, 31, None),  # all ones except the conversion method
        ("34 04 05 01", 1076, 5, 1),  # public bus log
        ("30 02 13 01", 560, 19, 1),  # public bus log
    ],
)
def test_published_codes(data: str, spn: int, fmi: int, count: int | None) -> None:
    """Published byte examples give the published fields, and the fields give the bytes."""
    code = parse_code(data)
    assert (code.spn, code.fmi, code.occurrences, code.ambiguous) == (spn, fmi, count, False)
    assert encode(code) == bytes.fromhex(data)
    theirs = DTC(dtc=int.from_bytes(bytes.fromhex(data), "little"))
    assert (theirs.spn, theirs.fmi, theirs.oc, theirs.cm) == (spn, fmi, 127 if count is None else count, 0)


@pytest.mark.parametrize(("data", "fmi", "count"), [("B8 04 03 8A", 3, 10), ("00 97 03 80", 3, 0)])
def test_older_layouts(data: str, fmi: int, count: int) -> None:
    """J1939-73 5.7.1.14: with the conversion method at 1 the same bytes mean other SPNs by version; none is shown."""
    code = parse_code(data)
    assert (code.spn, code.fmi, code.occurrences, code.ambiguous, code.raw) == (None, fmi, count, True, data)


@pytest.mark.parametrize("data", ["FF FF FF FF", "00 00 00 00"])
def test_fillers_are_no_faults(data: str) -> None:
    """Padding, and the zeros of a message that reports no fault (00 FF 00 00 00 00 FF FF), are not codes."""
    with pytest.raises(InputError):
        parse_code(data)


def test_a_published_message_shows_where_its_code_is() -> None:
    """The one-code message 04 FF B8 04 03 0A FF FF is refused with its four code bytes named."""
    with pytest.raises(InputError) as caught:
        parse_code("04 FF B8 04 03 0A FF FF")
    assert "B8 04 03 0A" in caught.value.hint


@settings(max_examples=300, deadline=None)
@given(st.binary(min_size=4, max_size=4).filter(lambda data: data not in (b"\xff" * 4, bytes(4))))
def test_random_bytes_agree_with_can_j1939(data: bytes) -> None:
    """Any four bytes give the fields that can-j1939 gives; only its guess at an older layout's SPN is not shared."""
    theirs = DTC(dtc=int.from_bytes(data, "little"))
    ours = decode(data)
    assert ours.ambiguous == bool(theirs.cm)
    assert ours.spn == (None if theirs.cm else theirs.spn)
    assert ours.fmi == theirs.fmi
    assert (127 if ours.occurrences is None else ours.occurrences) == theirs.oc


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 524287), st.integers(0, 31), st.integers(0, 126))
def test_random_fields_agree_with_can_j1939(spn: int, fmi: int, count: int) -> None:
    """Any fields give the bytes that can-j1939 gives."""
    ours = encode(parse_code(f"SPN {spn} FMI {fmi} OC {count}"))
    assert ours == DTC(spn=spn, fmi=fmi, oc=count).dtc.to_bytes(4, "little")
