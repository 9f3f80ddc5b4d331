"""`advisor experience` as a shell sees it, and what the file that it writes does."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from builders import MORNING, SMALL, scenario, small_knowledge, small_machine
from closed_cases import Maker, off

from advisor.cli import run
from advisor.consultation.scenario import events_of, opening
from advisor.errors import KnowledgeError
from advisor.evidence.rows import row, word_values
from advisor.experience.fit import FEWEST, Fit, fit, given_minutes
from advisor.library.experience import with_experience, written
from advisor.library.parser import load
from advisor.model.case import Closed, Event, Overridden, Reopened
from advisor.model.knowledge import Knowledge
from advisor.reasoning.likelihoods import space
from advisor.reasoning.ranking import Witness, lines, rank
from advisor.store.folder import CaseStore
from advisor.store.index import ClosedIndex
from advisor.workers import workers

SLIPS = {"check": "coupling-grip", "result": "slips"}
REPAIR = {"repair": "sensor-coupling-loose", "minutes": 30}
RETEST = {"retest": "coupling-grip", "result": "tight"}
CURED = (SLIPS, REPAIR, RETEST, {"run": 9})
COUPLING = "sensor-coupling-loose"
COMPLAINT = "motion-without-steering"


def case(folder: Path, *lines_: dict[str, Any], cause: str | None = COUPLING, also: tuple[Event, ...] = ()) -> None:
    """A case told by lines, twelve minutes apart, closed with a cause; `also` follows the closing."""
    knowledge, told = small_knowledge(), scenario(*lines_)
    events = [*(event for _, event, _ in events_of(knowledge, told)), Closed(cause=cause, by="Kim"), *also]
    with CaseStore(folder).create(opening(knowledge, told), knowledge.digest, MORNING) as opened:
        for n, event in enumerate(events, 1):
            opened.append(event, MORNING + n * timedelta(minutes=12))


def signed(shop: Path) -> None:
    """A person reads the numbers of a shop and signs for them."""
    path = shop / "experience.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace("reviewed_by:", "reviewed_by: Kim").replace("reviewed_on:", "reviewed_on: 2031-03-04"), encoding="utf-8"
    )


def told(capsys: pytest.CaptureFixture[str], folder: Path, *arguments: str, code: int = 0) -> str:
    capsys.readouterr()
    assert run(["experience", *arguments, "--data-dir", str(folder), "--knowledge", str(SMALL)]) == code
    return " ".join(capsys.readouterr().out.split())


def test_too_few_cases_say_how_few_and_change_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Neither file nor share; the exit code tells a script."""
    case(tmp_path / "a", *CURED)
    out = tmp_path / "experience.yaml"
    said = told(capsys, tmp_path / "a", "--out", str(out), code=1)
    assert "Closed cases: 1. Learned from: 1." in said
    assert f"Experience begins at {FEWEST} closed and proven cases. Nothing was changed." in said
    assert not out.exists()


def test_only_closed_and_proven_cases_teach(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Unproven, opened again, overridden or with another cause than the one repaired: each is counted, and why."""
    folder = tmp_path / "a"
    case(folder, *CURED)
    case(folder, SLIPS, REPAIR, RETEST)
    case(folder, *CURED, cause=None)
    case(folder, *CURED, cause="chafe-to-ground")
    case(folder, *CURED, also=(Reopened(reason="back"), Closed(cause=COUPLING)))
    case(folder, *CURED, also=(Reopened(reason="back"),))
    with CaseStore(folder).create(opening(small_knowledge(), scenario()), "d1" * 32, MORNING) as opened:
        opened.append(Overridden(check="coupling-grip", hold="look-first"), MORNING)
        for _, event, _ in events_of(small_knowledge(), scenario(*CURED)):
            opened.append(event, MORNING)
        opened.append(Closed(cause=COUPLING), MORNING)
    found = json.loads(told(capsys, folder, "--json", code=1))
    assert (found["closed_cases"], found["learned_from"]) == (6, 1)
    assert found["not_learned_from"] == {
        "no retest passed with hours run": 1, "no cause": 1, "not the cause that was repaired": 1, "opened again": 1,
        "done although a rule said to wait": 1,
    }  # fmt: skip


def test_what_was_learned_is_a_layer_of_the_shop(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Written, read as part of the shop's folder, it moves priors, rows and minutes; counting again changes nothing more."""
    for _ in range(FEWEST + 10):
        case(tmp_path / "a", *CURED)
    shop = tmp_path / "shop"
    shop.mkdir()
    said = told(capsys, tmp_path / "a", "--out", str(shop / "experience.yaml"))
    assert "Learned from: 40." in said
    assert "With what was learned:" in said
    with pytest.raises(KnowledgeError) as refusal:
        load(SMALL, shop)
    (problem,) = refusal.value.problems
    text = (shop / "experience.yaml").read_text(encoding="utf-8")
    assert text.splitlines()[problem.location.line - 1] == "reviewed_by:"
    assert problem.what == "no person has signed for these numbers"
    again = json.loads(told(capsys, tmp_path / "a", "--json", "--shop", str(shop)))["experience"]  # counts without using them
    signed(shop)
    before, after = load(SMALL), load(SMALL, shop)
    shares = [space(k, small_machine(), COMPLAINT) for k in (before, after)]
    first, second = (sum(s.prior[i] for i, x in enumerate(s.suspects) if x.cause == COUPLING) for s in shares)
    assert second > first + 0.2
    rows = [row(k.checks["coupling-grip"], COUPLING, word_values(k))[0] for k in (before, after)]
    assert rows[0] + 0.05 < rows[1] < 1
    assert before.checks["coupling-grip"].minutes < after.checks["coupling-grip"].minutes < 12
    assert text.startswith("# Numbers counted from closed and proven cases")
    assert "Kim" not in text
    assert written(load(SMALL, shop).experience).split("\nformat")[1] in text
    read = load(SMALL, shop).experience
    assert (read.reviewed_by, read.reviewed_on) == ("Kim", "2031-03-04")
    assert again == read.model_dump(mode="json", exclude_defaults=True, exclude={"reviewed_by", "reviewed_on"})


def counted(folder: Path, truth: Knowledge, cases: int, **options: Any) -> Fit:
    """What the small knowledge learns from so many cases of a truth."""
    folder.mkdir()
    knowledge = load(SMALL)
    index = ClosedIndex(CaseStore(folder), lambda stored: None, "x")
    with index._open() as db:
        for one in Maker(truth, **options).made(cases):
            index.add(db, one)
    return fit(knowledge, index.tally(given_minutes(knowledge)))


def test_more_cases_come_nearer_to_the_truth(tmp_path: Path) -> None:
    """A truth two words off: the shares before any answer come nearer with every tenfold of cases, and never lie further off."""
    shipped = load(SMALL)
    truth = off(shipped, 5, 2)

    def distance(knowledge: Knowledge) -> float:
        found = [space(k, small_machine(), COMPLAINT).prior for k in (knowledge, truth)]
        return float(abs(found[0] - found[1]).sum())

    distances = [distance(shipped)]
    for n in (30, 300, 3000):
        found = counted(tmp_path / str(n), truth, n)
        assert found.learned_score >= found.shipped_score
        distances.append(distance(with_experience(shipped, found.experience)))
    assert distances == sorted(distances, reverse=True)
    assert distances[-1] < 0.3 * distances[0]


def leader(knowledge: Knowledge, *given: tuple[str, str]) -> str:
    asked = space(knowledge, small_machine(), COMPLAINT)
    return lines(rank(asked, [Witness(check, result) for check, result in given]))[0].cause


@pytest.mark.parametrize("instead", [COUPLING, "chafe-to-ground"])
def test_one_case_in_ten_with_a_wrong_cause_takes_no_lead(tmp_path: Path, instead: str) -> None:
    """Every tenth case was closed with one and the same wrong cause: whatever a proof made lead, it still does."""
    shipped = load(SMALL)
    other = next(c for c in shipped.causes if c != instead)
    found = counted(tmp_path / "a", shipped, 3000, wrong=0.1, wrongly=lambda cause: other if cause == instead else instead)
    poisoned = with_experience(shipped, found.experience)
    proofs = [(c.id, proof) for c in shipped.causes.values() for proof in c.proof.items() if proof[0] != "load-test"]
    held = [(cause, proof) for cause, proof in proofs if leader(shipped, proof) == cause]
    assert len(held) >= 4
    assert [(cause, proof) for cause, proof in held if leader(poisoned, proof) != cause] == []


def test_what_is_true_already_is_left_as_shipped(tmp_path: Path) -> None:
    """Cases drawn from the shipped words: most rows are left, and what is taken moves the shares hardly at all."""
    shipped = load(SMALL)
    found = counted(tmp_path / "a", shipped, 600)
    assert len([p for p in found.left if p.kind == "row"]) > len([p for p in found.used if p.kind == "row"])
    before, after = (space(k, small_machine(), COMPLAINT).prior for k in (shipped, with_experience(shipped, found.experience)))
    assert abs(before - after).max() < 0.05


def test_the_workers_do_not_change_a_digit(tmp_path: Path) -> None:
    """The fit by other processes gives the very same numbers."""
    knowledge = load(SMALL)
    (tmp_path / "a").mkdir()
    index = ClosedIndex(CaseStore(tmp_path / "a"), lambda stored: None, "x")
    with index._open() as db:
        for one in Maker(off(knowledge, 2, 1)).made(200):
            index.add(db, one)
    tally = index.tally(given_minutes(knowledge))
    with workers(knowledge, 2) as each:
        assert fit(knowledge, tally, each) == fit(knowledge, tally)


def test_the_foreman_has_a_page_of_the_cases(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From the case files alone: what was right the first time, what is open, and nobody's name."""
    case(tmp_path / "a", *CURED)
    case(tmp_path / "a", SLIPS, REPAIR, RETEST, {"run": 2, "recurrences": 1}, *CURED[1:])
    with CaseStore(tmp_path / "a").create(opening(small_knowledge(), scenario()), "d1" * 32, MORNING):
        pass
    page = tmp_path / "shop.html"
    assert run(["shop", "--html", str(page), "--data-dir", str(tmp_path / "a"), "--knowledge", str(SMALL)]) == 0
    said = " ".join(page.read_text(encoding="utf-8").split())
    assert '<span class="big">2</span> closed' in said
    assert '<span class="big">50%</span> right the first time' in said
    assert '<span class="big">50%</span> came back' in said
    assert '<span class="big">1</span> open now' in said
    assert "Kim" not in said
