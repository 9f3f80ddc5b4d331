"""The knowledge as data for others: what `knowledge check --json` gives."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

import pytest
from folders import real_knowledge

from advisor.commands.knowledge_check import knowledge_check
from advisor.commands.shared import Layers
from advisor.evidence.rows import OTHERWISE, row, row_for, word_values
from advisor.library.coverage import counts, coverage
from advisor.library.lints.readability import grade, sentences, words
from advisor.model.knowledge import NotSeparated


@pytest.fixture(scope="module")
def whole() -> dict[str, Any]:
    return coverage(real_knowledge())


def test_every_pair_names_a_check_that_separates_it(whole: dict[str, Any]) -> None:
    """The named result is as many decibans likelier for the cause it speaks for as is said, and at least 6 dB."""
    k = real_knowledge()
    used = word_values(k)
    for complaint in whole["complaints"].values():
        for pair in complaint["pairs"][::41]:
            check = k.checks[pair["check"]]
            at = [r.id for r in check.results].index(pair["result"])
            other = next(c for c in pair["causes"] if c != pair["speaks_for"])
            own, its = (row(check, row_for(check, k.causes[c]) or OTHERWISE, used)[at] for c in (pair["speaks_for"], other))
            ratio = own / its
            assert ratio == pytest.approx(10 ** (pair["decibans"] / 10), rel=2e-3)
            assert ratio >= 3.999


def test_every_cause_is_reached_under_each_of_its_complaints(whole: dict[str, Any]) -> None:
    """Each cause of a complaint has at least one check that raises it, or a load test shows it."""
    k = real_knowledge()
    for name, complaint in whole["complaints"].items():
        assert set(complaint["causes"]) == {c.id for c in k.causes.values() if name in c.complaints}
        assert all(c["raised_by"] or c["shown_by_load_test"] for c in complaint["causes"].values())


def test_rules_cautions_and_causes_are_all_there(whole: dict[str, Any]) -> None:
    """Every rule has cases both ways, every caution is shown, every cause says what is calibrated again or `none`."""
    assert all(rule["fires"] and rule["does_not_fire"] for rule in whole["rules"].values())
    assert all(any(shown.values()) for shown in whole["cautions"].values())
    said = Counter(c["recalibrate"] == "none" for c in whole["causes"].values())
    assert said[True] + said[False] == len(real_knowledge().causes)
    assert min(said.values()) > 0


def test_an_exception_is_shown_with_its_pair() -> None:
    """The pair carries the id of its exception, and the exception says that it is used."""
    k = real_knowledge()
    entry = NotSeparated(id="either", causes=("ball-joint-play", "kingpin-play"), reason="Made up.")
    found = coverage(k.model_copy(update={"pairs_not_separated": {"either": entry}}))
    assert found["exceptions"] == [
        {"id": "either", "causes": ["ball-joint-play", "kingpin-play"], "reason": "Made up.", "used": True}
    ]
    marked = {tuple(p["causes"]) for c in found["complaints"].values() for p in c["pairs"] if p["exception"] == "either"}
    assert marked == {("ball-joint-play", "kingpin-play")}


def test_the_counts_hold_the_floor() -> None:
    """As many entries as the trade needs at the least."""
    found = counts(real_knowledge())
    floor = {"complaints": 13, "causes": 72, "checks": 95, "rules": 80, "cautions": 30, "moves": 20, "safety": 12}
    assert {kind: found[kind] >= least for kind, least in floor.items()} == dict.fromkeys(floor, True)


def test_the_command_prints_it_all(capsys: pytest.CaptureFixture[str], whole: dict[str, Any]) -> None:
    """`knowledge check --json` holds counts, findings and the whole coverage."""
    assert knowledge_check(Layers(), as_json=True, afresh=True) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["format"] == 1
    assert (said["problems"], said["findings"]) == ([], [])
    assert {key: said[key] for key in whole} == whole
    assert said["counts"]["pairs"] == sum(len(c["pairs"]) for c in whole["complaints"].values())


def test_the_reading_grade_is_the_published_formula() -> None:
    """4.71 characters a word plus half the words a sentence less 21.43, over all texts together."""
    assert words("Read 0.25 mm at the tie-rod.") == ["Read", "0.25", "mm", "at", "the", "tie-rod."]
    assert sentences("Stop. Is it hot? Yes: go on.") == ["Stop.", "Is it hot?", "Yes:", "go on."]
    assert grade("Turn it off.", "Wait ten minutes.") == pytest.approx(4.71 * 23 / 6 + 0.5 * 6 / 2 - 21.43)
    assert grade("", "- -") == 0.0
