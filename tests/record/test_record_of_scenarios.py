"""The record of every scenario, told live into a case file and read back from it, held to what any record must be."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from builders import trade_knowledge

from advisor.consultation.consultation import Consultation
from advisor.consultation.intake_told import laid_out
from advisor.consultation.scenario import events_of, opening
from advisor.consultation.this_machine import for_machine
from advisor.library.files import read_scenario
from advisor.model.case import Case, Moved, SetupChanged, intake_events
from advisor.record.render import as_json, html, markdown
from advisor.record.view import RecordView, build
from advisor.store.folder import CaseStore

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))
MORNING, EVENING = datetime(2031, 3, 4, 7, 30, tzinfo=UTC), datetime(2031, 3, 4, 18, tzinfo=UTC)


@dataclass
class Told:
    """A scenario that was told: the case, its record from the consultation it was told to, and one from its file alone."""

    case: Case
    live: RecordView
    read: RecordView
    fresh: Consultation


@pytest.fixture(scope="module", params=SCENARIOS, ids=lambda f: f.stem)
def told(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Told:
    """Each line is a minute's work: written, then assessed, as in a dialogue. Moves stand before the last and after it."""
    scenario = read_scenario(request.param)
    machine = scenario.machine or laid_out(scenario.layout)
    knowledge = for_machine(trade_knowledge(), machine)
    lived, fresh = (Consultation(knowledge, machine) for _ in range(2))
    store = CaseStore(tmp_path_factory.mktemp(request.param.stem))
    with store.create(opening(knowledge, scenario), knowledge.digest, MORNING) as case:
        lines = [event for _, event, _ in events_of(knowledge, scenario)]
        moves = [Moved(move=name) for name in sorted(knowledge.moves)[:3]]
        for number, event in enumerate([*lines[:-1], *moves[:2], lines[-1], moves[2]]):
            case.append(event, MORNING + timedelta(minutes=number + 1))
            lived.assess(case.case, plan=False)
        live, name = case.case, case.stored.case_id
    read = store.read(name).case
    return Told(read, build(lived, live, name, EVENING), build(fresh, read, name, EVENING), fresh)


def test_a_record_from_the_file_is_that_of_the_live_case(told: Told) -> None:
    """In each format the text made from the file alone is the text made where the case was told."""
    for text in (markdown, html, as_json):
        assert text(told.read) == text(told.live)


def test_every_event_stands_in_the_trail_once(told: Told) -> None:
    """A row for each step in order, with the moves made for it inside; moves that no step follows are the last row."""
    first = intake_events(told.case) + 1
    numbers = range(first, len(told.case.events))
    moves = [
        n for n in numbers if isinstance(told.case.events[n], Moved | SetupChanged) and not told.read.steps[n - first].replaced
    ]
    rows = [row.number for row in told.read.trail]
    steps = [n for n in numbers if n not in moves]
    assert [s.number for s in told.read.steps] == list(numbers)
    assert rows == (steps + moves[-1:] if moves and moves[-1] > max(steps, default=0) else steps)
    assert sum(len(row.prepared) for row in told.read.trail) == len(moves)


def test_each_text_shows_every_row_of_the_trail(told: Told) -> None:
    """Markdown and the page show the trail's rows by their numbers, in order; JSON has every event."""
    rows = [row.number for row in told.read.trail]
    text, page, record = markdown(told.read), html(told.read), json.loads(as_json(told.read))
    written = text.partition("\n## Trail\n")[2].partition("\n## ")[0]
    drawn = page.partition('<table class="steps">')[2].partition("</table>")[0]
    assert [int(n) for n in re.findall(r"^- (\d+)\. ", written, re.MULTILINE)] == rows
    assert [int(n) for n in re.findall(r'<tr><td class="n">(\d+)</td>', drawn)] == rows
    assert [s["number"] for s in record["steps"]] == [s.number for s in told.read.steps]


def test_what_comes_later_changes_no_step_before_it(told: Told) -> None:
    """The steps of half a case are the first steps of the whole, but for what became of them since."""
    half = Case(told.case.events[: max(intake_events(told.case) + 2, len(told.case.events) // 2)])
    steps = build(told.fresh, half, told.read.case_id, EVENING).steps
    assert steps
    assert [replace(s, replaced="") for s in steps] == [replace(s, replaced="") for s in told.read.steps[: len(steps)]]
