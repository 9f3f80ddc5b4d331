"""Field case files: results of an older, wider sense."""

from __future__ import annotations

from pathlib import Path

import pytest
from folders import real_knowledge

from advisor.library.field_cases import read_field_case

CASE = """
title: Bog roller whose reading jumps
story: Nothing to tell.
complaint: motion-without-steering
fault: {{cause: {cause}}}
found: {{fretting-dust-look: {dust}}}
master: [{{repair: {cause}}}]
"""


def dust(folder: Path, cause: str, said: str) -> dict[str, float]:
    file = folder / "case.yaml"
    file.write_text(CASE.format(cause=cause, dust=said), encoding="utf-8")
    return dict(read_field_case(file, real_knowledge()).found["fretting-dust-look"])


def test_what_once_meant_more_is_shared_out_as_the_fault_makes_it_likely(tmp_path: Path) -> None:
    """Dust was one result. A bracket leaves it at the drive, a ball joint at a joint; together they are as likely as it was."""
    at_bracket = dust(tmp_path, "sensor-bracket-loose", "{fresh-dust: 0.6, clean: 0.4}")
    at_joint = dust(tmp_path, "ball-joint-play", "{fresh-dust: 0.6, clean: 0.4}")
    assert at_bracket["dust-at-drive"] > at_bracket["fresh-dust"]
    assert at_joint["dust-at-drive"] < at_joint["fresh-dust"]
    for found in (at_bracket, at_joint):
        assert found["dust-at-drive"] + found["fresh-dust"] == pytest.approx(0.6)
        assert found["clean"] == 0.4


def test_a_case_that_names_a_newer_result_stays_as_written(tmp_path: Path) -> None:
    """Its author could choose."""
    written = "{fresh-dust: 0.5, dust-at-drive: 0.1, clean: 0.4}"
    assert dust(tmp_path, "sensor-bracket-loose", written) == {"fresh-dust": 0.5, "dust-at-drive": 0.1, "clean": 0.4}
