"""The record and the report for other programs."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

import pytest
from builders import small_knowledge, told
from jsonschema import Draft202012Validator
from record.tales import FINISHED, FOUND, REPAIRED, START, load, record, record_of

from advisor.model.case import Answered, Closed, Overridden
from advisor.record.render import as_json
from advisor.record.report import report

SCHEMA = json.loads((files("advisor.record") / "record.schema.json").read_text(encoding="utf-8"))
# Top-level keys that programs outside this repository read; formats.md names them.
RELIED_ON = {"format", "suspects", "next", "steps", "readings", "holds", "cautions"}


def errors(document: Any) -> list[str]:
    return [f"{list(e.absolute_path)}: {e.message}" for e in Draft202012Validator(SCHEMA).iter_errors(document)]


def test_the_schema_is_a_schema() -> None:
    """The published schema is itself valid, and lets no unknown key into a record."""
    Draft202012Validator.check_schema(SCHEMA)
    assert errors({**json.loads(as_json(record())), "record": {"surprise": 1}})


@pytest.mark.parametrize(
    "lines", [(), FOUND[:4], FOUND, REPAIRED, FINISHED], ids=["opened", "begun", "found", "not-proven", "finished"]
)
def test_every_record_fits_the_schema(lines: tuple[dict[str, Any], ...]) -> None:
    """At every stage of a case the JSON record is what the schema says."""
    assert errors(json.loads(as_json(record(*lines)))) == []


def test_an_overridden_and_closed_case_fits_the_schema() -> None:
    """Holds that were overridden and a closing fit as well."""
    odd = (
        Overridden(check="terminal-drag", hold="x"),
        Answered(check="terminal-drag", result="loose", place="bulkhead:2"),
        Closed(),
    )
    assert errors(json.loads(as_json(record_of(FOUND[:1], *odd)))) == []


def test_a_circuit_through_which_nothing_comes_is_still_json() -> None:
    """With 0 V at the load the excess has no number: it is null, for JSON knows no infinity."""
    consultation, case = told(load("supply-a", "sensor", 24.61, 0.0), **START)
    document = json.loads(as_json(record(load("supply-a", "sensor", 24.61, 0.0))), parse_constant=pytest.fail)
    assert errors(document) == []
    assert document["readings"][0]["excess_ohms"] is None
    assert json.loads(json.dumps(report(consultation, case), allow_nan=False))["readings"][0]["excess_ohms"] is None


def test_the_record_begins_with_the_report() -> None:
    """The keys of `show --json` stand at the top of the JSON record with the same values."""
    consultation, case = told(*FINISHED, **START)
    document = json.loads(as_json(record(*FINISHED)))
    assert document.keys() - {"record"} == report(consultation, case).keys() >= RELIED_ON
    assert document["suspects"] == json.loads(json.dumps(report(consultation, case)["suspects"]))


def test_the_report_tells_each_answer_with_its_leader() -> None:
    """One step for each event after the opening, with the leading cause, its place and its share."""
    steps = report(*told(*FOUND, **START))["steps"]
    assert [s["number"] for s in steps] == list(range(1, len(FOUND) + 1))
    assert [s["leading"] for s in steps[:3]] == ["high-resistance-splice", "steering-valve-leak", "high-resistance-splice"]
    assert steps[-1]["leading_place"] == "splice-7"
    assert steps[6]["event"]["from"] == "controller"


def test_the_report_counts_only_readings_in_force() -> None:
    """A reading that was taken back is in the steps, not among the readings."""
    found = report(*told(*FOUND[:8], {"undo": True}, **START))
    assert [r["number"] for r in found["readings"]] == [7]
    assert found["steps"][7]["event"]["event"] == "reading"


def test_the_suspects_are_sorted_and_their_places_add_up() -> None:
    """Causes come greatest first; the shares of a cause's places are at least its own, for two of them can be bad at once."""
    found = report(*told(*FOUND[:5], **START))
    shares = [s["share"] for s in found["suspects"]]
    assert shares == sorted(shares, reverse=True)
    for suspect in found["suspects"]:
        assert sum(p["share"] for p in found["places"] if p["cause"] == suspect["cause"]) >= suspect["share"] - 1e-9


def test_cautions_of_the_next_step_come_before_it() -> None:
    """The report names the warnings of the step it proposes."""
    found = report(*told(complaint="motion-without-steering"))
    assert found["next"]["kind"] == "check"
    own = small_knowledge().checks[found["next"]["id"]].cautions
    assert own
    assert set(own) <= {c["id"] for c in found["cautions"]}


def test_the_json_is_sorted_and_the_same_each_time() -> None:
    """Two records of one case are equal byte for byte, with sorted keys."""
    text = as_json(record(*FOUND))
    assert text == as_json(record(*FOUND))
    assert list(json.loads(text)) == sorted(json.loads(text))
