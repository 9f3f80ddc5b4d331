"""A trial is the same for any number of processes, comes again from its seed, and keeps its JSON."""

from __future__ import annotations

import json
from functools import cache

import pytest
from builders import SMALL, small_knowledge, small_machine
from hypothesis import given
from hypothesis import strategies as st

from advisor.cli import run as command
from advisor.practice import figures
from advisor.practice.trial import Bench, Trial, run

NAMES = ["fixed-order", "cheapest-first", "repair-by-odds", "information-rate", "lookahead-1", "lookahead-2"]


@cache
def trial() -> Trial:
    return run(Bench(small_knowledge(), small_machine()), 4, 2, 12, 1)


def test_more_processes_give_the_same_result() -> None:
    """Two processes find just what one finds."""
    assert run(Bench(small_knowledge(), small_machine()), 4, 2, 12, 2) == trial()


def test_another_seed_gives_other_machines_and_more_cases_the_same_first_ones() -> None:
    """A case depends on the seed and its own number alone."""
    bench = Bench(small_knowledge(), small_machine())
    assert bench.case(12, 3) == trial().outcomes[3]
    assert bench.case(13, 3) != trial().outcomes[3]


def test_worlds_that_are_off_differ_from_the_knowledge() -> None:
    """With words off the same case meets another machine."""
    assert Bench(small_knowledge(), small_machine(), 1.0).case(12, 0) != trial().outcomes[0]


def test_the_json_keeps_its_names(capsys: pytest.CaptureFixture[str]) -> None:
    """Other programs read these keys and policy names."""
    assert command(["trial", "--cases", "2", "--problems", "1", "--json", "--knowledge", str(SMALL)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["format"] == 1
    assert found["cases"] == 2
    assert sorted(found["policies"]) == sorted(NAMES)
    for policy in found["policies"].values():
        assert {"mean_minutes", "mean_checks", "right_cause", "brier"} <= set(policy)
    assert {"problems", "ratio_mean", "ratio_p95", "policy"} <= set(found["optimum"])
    assert found["optimum"]["policy"] == "lookahead-2"
    assert all(p["ratio_mean"] >= 1 - 1e-9 for p in found["optimum"]["policies"].values())


def test_the_table_fits_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Every policy has its line, what the columns mean is said, and no line passes 80 columns."""
    assert command(["trial", "--cases", "2", "--problems", "1", "--off-words", "0.5", "--knowledge", str(SMALL)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert all(any(line.startswith(name) for line in lines) for name in NAMES)
    assert any("Right cause:" in line for line in lines)


@given(st.lists(st.tuples(st.floats(0, 1), st.booleans()), min_size=1))
def test_reliability_counts_every_case_once(said: list[tuple[float, bool]]) -> None:
    """The tenths hold all cases, each mean share lies in its tenth, and the hits add up."""
    rows = figures.reliability(said)
    assert sum(r["cases"] for r in rows) == len(said)
    assert sum(r["cases"] * r["true"] for r in rows) == pytest.approx(sum(true for _, true in said))
    for r in rows:
        assert r["from"] - 1e-9 <= r["said"] <= r["to"] + 1e-9
