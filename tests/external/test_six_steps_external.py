"""Every scenario's record read as the six steps of fault finding.

NAVPERS 93500 (1965), taken up by NEETS module 19, NAVEDTRA 14191: notice the fault; draw out every symptom; list the
functions that could be guilty; find the guilty function; find the bad part in it; explain why it failed and confirm the
repair. The wording is ours; seen at second hand, tech-service.net, "six step troubleshooting process".
"""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import pytest
from builders import trade_knowledge, whole_case

from advisor.model.case import Case
from advisor.model.stage import ASK
from advisor.record.render import markdown
from advisor.record.view import RecordView, build

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))
TESTS = ("answered", "reading", "corrected")


@cache
def record(file: Path) -> RecordView:
    return build(*whole_case(file), file.stem, datetime(2031, 3, 4, tzinfo=UTC))


def systems(r: RecordView, step: int) -> list[str]:
    """The systems of the leading causes after a step, 0 for the opening: the functions that could be guilty."""
    lines = r.known.ranking if step == 0 else next(s for s in r.steps if s.number == step).ranking
    causes = trade_knowledge().causes
    return [causes[p.cause].system for p in lines if p.cause in causes]


def six_steps(r: RecordView) -> list[int]:
    """The step of the record at which each of the six is reached, in their order; fewer when the case did not come so far."""
    asked = {c.title for c in trade_knowledge().checks.values() if c.stage == ASK}
    tests = [s for s in r.steps if s.kind in TESTS and not s.replaced and s.title not in asked]
    found: list[int] = []
    if r.outcome.complaint:
        found.append(0)  # noticed: the complaint stands at the head
    if tests and r.known.intake and tests[0].title == trade_knowledge().checks["confirm-complaint"].title:
        found.append(0)  # every symptom drawn out: the operator asked, and the complaint seen before anything is touched
    if len(set(systems(r, 0))) > 1:
        found.append(0)  # listed: causes of more than one system stand with their shares
    cause = r.outcome.cause
    if cause is None:
        return found
    guilty = trade_knowledge().causes[cause].system
    settled = [s.number for s in tests if systems(r, s.number)[:1] == [guilty]]
    if settled:
        found.append(settled[0])  # the guilty function leads
    if r.outcome.proof:
        found.append(max(int(p.rsplit("step ", 1)[1].rstrip(")")) for p in r.outcome.proof))  # the part, shown directly
    if r.outcome.mechanism and r.pairs and r.pairs[-1].passed:
        found.append(r.pairs[-1].after_step)  # why it fails, and the repair confirmed by the same test
    return found


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda f: f.stem)
def test_a_record_reads_as_the_six_steps(file: Path) -> None:
    """The six are all there and follow each other; a case closed without a cause has the first three and says what is missing."""
    r = record(file)
    found = six_steps(r)
    assert found == sorted(found)
    if r.outcome.cause is not None:
        assert len(found) == 6
        assert found[-1] > max(x.number for x in r.outcome.repairs)
    else:
        assert len(found) == 3
        assert r.outcome.alarm == "NO CAUSE FOUND"
        assert r.outcome.open_points


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda f: f.stem)
def test_the_page_tells_the_six_in_words(file: Path) -> None:
    """Each of the six has its own heading in the record, so that it can be read without this program."""
    text = markdown(record(file))
    headings = [line.lstrip("# ") for line in text.splitlines() if line.startswith("##")]
    for heading in ("Complaint", "Known at the start", "Trail", "What each answer says", "Cause", "Correction"):
        assert heading in headings
    assert ("Proof" in headings) == (record(file).outcome.cause is not None)


def test_a_repair_without_its_retest_lacks_the_sixth() -> None:
    """Confirmation is not taken for granted: the same case cut off before its retest ends with the fifth step."""
    consultation, case = whole_case(next(s for s in SCENARIOS if s.stem == "sprayer-coupling"))
    retest = next(n for n, e in enumerate(case.events) if e.event == "retested")
    short = build(consultation, Case(case.events[:retest]), "short", datetime(2031, 3, 4, tzinfo=UTC))
    assert len(six_steps(short)) == 5
