"""Two cases side by side: what differs, and what differed first."""

from __future__ import annotations

import json
from typing import Any

from builders import told
from record.tales import FINISHED, FOUND, NOW, REPAIRED, START, record

from advisor.record.compare import NOT_DONE, Comparison, compare
from advisor.record.render import compared_html, compared_json, compared_markdown
from advisor.record.view import build

HOSTILE = "<script>alert(1)</script> | a `code` [x](y)"


def beside(left: tuple[dict[str, Any], ...], right: tuple[dict[str, Any], ...]) -> Comparison:
    return compare(record(*left), record(*right))


def row(c: Comparison, name: str) -> tuple[str, str, bool]:
    found = next(r for r in c.rows if r.name == name)
    return found.left, found.right, found.differs


def test_a_case_beside_itself_does_not_differ() -> None:
    """Nothing differs and no test parted the two."""
    found = beside(FINISHED, FINISHED)
    assert found.parting is None
    assert [r.name for r in (*found.rows, *found.checks) if r.differs] == []


def test_the_first_test_that_came_out_otherwise_is_named() -> None:
    """The wiggle test is alike up to its result; what followed is no longer the first difference."""
    other = tuple({**x, "result": "jumps-at-one-spot"} if x.get("check") == "wiggle-harness" else x for x in FOUND)
    found = beside(FOUND, other).parting
    assert found is not None
    assert found.says == "The same check had another result."
    assert found.alike == 2  # the complaint, and the wheel against the reading as corrected
    assert found.left == "step 5, Move the harness and watch the reading: It stays quiet"
    assert found.right.endswith("It jumps at one spot")


def test_the_first_other_check_is_named() -> None:
    """Where one went on with another check, both are named; a correction stands for the answer it replaced."""
    other = (*FOUND[:3], {"check": "coupling-grip", "result": "tight"}, *FOUND[4:])
    found = beside(FOUND, other).parting
    assert found is not None
    assert found.says == "They went on with different checks."
    assert "Grip of the coupling" in found.right


def test_a_case_that_went_on_longer_is_said_to() -> None:
    """When one case ends where the other goes on, that is the difference."""
    found = beside(FOUND[:2], FOUND[:1]).parting
    assert found is not None
    assert (found.says, found.right) == ("One case went on, the other did not.", "no further test")


def test_proof_before_and_after_stand_side_by_side() -> None:
    """One retested and one not: the figures of the one, and NOT PROVEN for the other."""
    found = beside(FINISHED, REPAIRED)
    assert row(found, "Before the repair")[0].startswith("drop 0.83 \N{PLUS-MINUS SIGN}")
    assert row(found, "After the repair")[1] == "NOT PROVEN: no retest"
    assert row(found, "Place") == ("splice-7", "splice-7", False)
    assert row(found, "Hours run") == ("4.5 h, came back 0 times", "none", True)


def test_checks_of_only_one_case_are_marked() -> None:
    """A test that only one case holds stands with what it gave there, and as not done in the other."""
    found = beside((*FOUND, {"check": "coupling-grip", "result": "tight"}), FOUND)
    grip = next(r for r in found.checks if r.name == "Grip of the coupling on the sensor stem")
    assert (grip.left.split(" (step")[0], grip.right) == ("It is tight", NOT_DONE)


def test_questions_answered_otherwise_are_shown() -> None:
    """Only those questions of the intake stand there whose answers differ."""
    cold = compare(record(*FOUND), record(*FOUND, **{**START, "intake": {**START["intake"], "temperature": "cold"}}))
    plain = beside(FOUND, FOUND)
    more = {r.name for r in cold.rows} - {r.name for r in plain.rows}
    assert len(more) == 1


def test_hostile_texts_stay_texts_side_by_side() -> None:
    """What comes from outside breaks out of neither form."""
    consultation, case = told({"close": None, "reason": HOSTILE}, **START)
    view = build(consultation, case, HOSTILE, NOW)
    found = compare(view, record(*FOUND))
    assert "<script>" not in compared_html(found)
    assert "](y)" not in compared_markdown(found).replace("\\](y)", "")


def test_the_comparison_is_json() -> None:
    """Format, both cases, where they parted, and every row with whether it differs."""
    found = json.loads(compared_json(beside(FOUND, FINISHED)))
    assert found["format"] == 1
    assert set(found) == {"format", "cases", "parting", "rows", "checks"}
    assert all(x["differs"] == (x["left"] != x["right"]) for x in found["rows"])
