"""The geometry of the record's three pictures."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from builders import MACHINE
from hypothesis import given, settings
from hypothesis import strategies as st
from record.tales import FINISHED, FOUND, START, load, record

from advisor.model.machine import Machine
from advisor.record import charts
from advisor.record.material import per_cent
from advisor.record.view import RecordView


def drawn(view: RecordView) -> charts.HarnessPath:
    assert view.harness is not None
    return view.harness


def test_lines_differ_without_colour() -> None:
    """No two lines share a dash pattern, a mark or a number."""
    lines = record(*FINISHED).moves.lines
    assert len({line.dash for line in lines}) == len(lines) == 5
    assert len({line.sample.split("m", 1)[-1] for line in lines}) == 5
    assert [line.number for line in lines] == [1, 2, 3, 4, 5]
    assert all(line.label.removesuffix(per_cent(line.shares[-1])).rstrip().removesuffix("..") in line.title for line in lines)


def test_labels_never_cover_each_other() -> None:
    """Labels of lines that end close together are moved apart and stay inside the drawing."""
    moves = record(*FINISHED).moves
    ys = sorted(line.label_y for line in moves.lines)
    assert min(b - a for a, b in itertools.pairwise(ys)) >= charts.LABEL_GAP - 1e-9
    assert moves.top <= ys[0] <= ys[-1] <= moves.height


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=charts.LINES))
def test_labels_find_room_wherever_lines_end(shares: list[float]) -> None:
    """Whatever the shares, five labels fit without touching."""
    lines = [charts.MoveLine("", "", "", "", "", (0.0, charts._y(s)), charts._y(s), (s,)) for s in shares]
    ys = sorted(line.label_y for line in charts.spread(lines))
    assert all(b - a >= charts.LABEL_GAP - 1e-9 for a, b in itertools.pairwise(ys))
    assert ys[0] >= charts.TOP
    assert ys[-1] <= charts.HEIGHT


def test_a_full_share_is_at_the_top_and_none_at_the_bottom() -> None:
    """The axis runs from nothing at the bottom to everything at the top."""
    moves = record(*FOUND).moves
    level = {per_cent: y for y, per_cent in moves.levels}
    assert (level[100], level[0]) == (moves.top, moves.bottom)


def test_steps_that_moved_nothing_are_left_out_of_the_picture() -> None:
    """The note in step 4 moves nothing; the wrong answer in step 2 does."""
    numbers = record(*FOUND).moves.numbers
    assert 4 not in numbers
    assert {0, 2, 3} <= set(numbers)


def test_only_circuits_that_were_read_or_share_with_them_are_drawn() -> None:
    """Reading one of two circuits that share a splice draws both; the ground circuit has no part in it."""
    path = drawn(record(load("supply-a", "sensor", 24.61, 23.78)))
    assert [row.name for row in path.rows] == ["supply-a", "supply-b"]
    assert dict(path.shared) == dict.fromkeys(["controller:21", "feed", "splice-7"], "supply-a, supply-b")


def test_points_stand_under_each_other() -> None:
    """The same point is at the same place on every circuit, whatever lies between."""
    rows = drawn(record(*FOUND)).rows
    for point in ("controller:", "bulkhead:", "sensor:"):
        assert len({round(m.x, 6) for row in rows for m in row.marks if m.name.startswith(point)}) == 1


def test_a_bracket_spans_its_run_and_says_its_verdict() -> None:
    """The reading to the bulkhead ends at the bulkhead's terminal and is marked as over its limit."""
    row = drawn(record(*FOUND)).rows[0]
    where = {m.name: m.x for m in row.marks}
    bracket = next(b for b in row.brackets if "step 8" in b.text)
    assert (bracket.x1, bracket.x2) == (where["controller:21"], where["bulkhead:2"])
    assert bracket.over
    assert bracket.text == "step 8: 0.76 V of 0.15 V, over the limit"


def test_the_repaired_place_is_marked() -> None:
    """Only the splice that was repaired is filled, on every circuit that runs through it."""
    rows = drawn(record(*FINISHED)).rows
    assert [(row.name, m.name) for row in rows for m in row.marks if m.repaired] == [
        ("supply-a", "splice-7"),
        ("supply-b", "splice-7"),
    ]


def ground_beyond() -> dict[str, Any]:
    """The small machine with a ground circuit that goes on past the sensor to a ground point."""
    path = [*MACHINE["circuits"]["ground-a"], {"wire": "strap", "mm2": 4, "metres": 0.4}, {"ground": "frame-stud"}]
    return {**MACHINE, "circuits": {**MACHINE["circuits"], "ground-a": path}}


def test_what_lies_beyond_the_last_point_fits_in() -> None:
    """Elements stand in path order inside the drawing, also those behind the last point."""
    path = drawn(record(load("ground-a", "sensor", 24.61, 24.40), machine=ground_beyond(), **START))
    xs = [m.x for m in path.rows[0].marks]
    assert xs == sorted(xs)
    assert len(set(xs)) == len(xs)
    assert xs[-1] <= charts.LINE_RIGHT


@pytest.mark.parametrize("circuit", list(MACHINE["circuits"]))
def test_a_circuit_that_visits_points_in_another_order_is_spread_evenly(circuit: str) -> None:
    """When the machine lists its points in another order than the circuit visits them, the elements keep equal distances."""
    machine = Machine.model_validate({**MACHINE, "points": ["bulkhead", "controller", "sensor"]})
    xs = list(charts._positions(machine, circuit, charts._room(machine, [circuit])).values())
    gaps = [b - a for a, b in itertools.pairwise(xs)]
    assert gaps == pytest.approx([gaps[0]] * len(gaps))


def test_long_names_are_shortened_before_they_touch() -> None:
    """With forty elements on a circuit every label fits into the room it has; the full name stays."""
    path: list[dict[str, Any]] = [{"terminal": "controller:1"}]
    for i in range(19):
        path += [{"wire": f"a-wire-with-a-long-name-{i}", "mm2": 1, "metres": 1}, {"splice": f"a-splice-with-a-long-name-{i}"}]
    path.append({"terminal": "sensor:1"})
    machine = {**MACHINE, "points": ["controller", "sensor"], "circuits": {"supply-a": path}}
    row = drawn(record(load("supply-a", "sensor", 24.61, 23.0), machine=machine, **START)).rows[0]
    above = [m for m in row.marks if m.kind != "wire"]
    assert all(len(a.label) * charts.LETTER <= b.x - a.x for a, b in itertools.pairwise(above))
    assert above[1].name == "a-splice-with-a-long-name-0"


def test_a_telephone_gets_numbers_for_names() -> None:
    """The narrow drawing is half as wide, its labels are numbers, and the key names each of them."""
    narrow = record(*FINISHED).narrow_harness
    assert narrow is not None
    assert narrow.width == charts.WIDTH
    key = dict(narrow.key)
    assert all(key[int(m.label)] == m.name for row in narrow.rows for m in row.marks if m.label)


def test_the_words_of_a_bracket_stay_inside_the_drawing() -> None:
    """A run at the edge of a drawing has its words moved inwards, on a page as on a telephone."""
    for path in (drawn(record(*FINISHED)), record(*FINISHED).narrow_harness):
        assert path is not None
        for bracket in (b for row in path.rows for b in row.brackets):
            half = charts.BRACKET_LETTER * len(bracket.text) / 2
            assert bracket.middle - half >= 0
            assert bracket.middle + half <= path.width


def test_a_drawing_too_high_for_the_first_page_keeps_what_tells() -> None:
    """With more circuits than find room, those within their limits and without a repair are left out, and it says so."""
    path = drawn(record(*FINISHED))
    assert not path.whole
    assert [row.name for row in path.rows] == ["supply-a", "supply-b"]
    assert drawn(record(load("supply-a", "sensor", 24.61, 23.78))).whole
