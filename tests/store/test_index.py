"""The index of closed cases: the same answers as reading every case, quickly; it is made again whenever it has to be."""

from __future__ import annotations

import math
import os
import random
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from builders import MORNING

from advisor.errors import StoreError
from advisor.experience.alike import likeness
from advisor.model.case import Closed, Noted, Opened, Reopened
from advisor.model.summary import Lesson, Shown, Spent, Summary
from advisor.store.folder import CaseStore
from advisor.store.index import NAME, ClosedIndex
from advisor.store.index_tables import forget
from advisor.store.open_case import StoredCase

GIVEN = [(f"check-{n}", r) for n in range(9) for r in ("x", "y", "z")]
WORTH = {g: 1.0 + 3 * n for n, g in enumerate(GIVEN[:-3])}


def brief(case_id: str, answers: frozenset[tuple[str, str]], complaint: str = "reads-low", words: str = "") -> Summary:
    return Summary(case_id, complaint, "", "chafe-to-ground", None, True, 40.0, MORNING.isoformat(), answers, words)


def filled(folder: Path, cases: list[Summary]) -> ClosedIndex:
    folder.mkdir(exist_ok=True)
    index = ClosedIndex(CaseStore(folder), lambda stored: None, "k1")
    with index._open() as db:
        for one in cases:
            index.add(db, one)
    return index


def test_the_nearest_are_those_that_reading_every_case_finds(tmp_path: Path) -> None:
    """Same likeness and same order as the plain measure over all cases of the complaint, and none of another."""
    dice = random.Random(3)

    def draw() -> frozenset[tuple[str, str]]:
        return frozenset((f"check-{n}", dice.choice("xyz")) for n in dice.sample(range(9), 5))

    cases = [brief(f"203103{n:02d}-h4", draw(), dice.choice(["reads-low", "hunting"])) for n in range(80)]
    index = filled(tmp_path / "a", cases)
    for _ in range(10):
        mine = draw()
        wanted = [(likeness(mine, c.answers, WORTH), c.case_id) for c in cases if c.complaint == "reads-low"]
        wanted = sorted((w for w in wanted if w[0] > 0), key=lambda w: (-round(w[0], 9), w[1]))
        found = index.nearest("reads-low", mine, WORTH, most=200)
        assert [f.case_id for f in found] == [case_id for _, case_id in wanted]
        assert [f.likeness for f in found] == pytest.approx([like for like, _ in wanted])


def test_other_weights_give_other_likeness(tmp_path: Path) -> None:
    """After the knowledge has changed, lengths are computed anew; the case in hand is left out."""
    one = frozenset({("check-0", "x"), ("check-1", "x")})
    index = filled(tmp_path / "a", [brief("20310301-h4", one), brief("20310302-h4", one)])
    mine = {("check-0", "x")}
    for worth in ({("check-0", "x"): 3.0, ("check-1", "x"): 4.0}, {("check-0", "x"): 4.0, ("check-1", "x"): 3.0}):
        (found,) = index.nearest("reads-low", mine, worth, most=9, but="20310301-h4")
        assert found.likeness == pytest.approx(worth["check-0", "x"] / 5)


def test_words_are_found_in_notes(tmp_path: Path) -> None:
    """Every word has to be there; marks that the search itself would read mean nothing."""
    index = filled(
        tmp_path / "a",
        [brief("20310301-h4", frozenset(), words="Splice behind the seat, hot"), brief("20310302-h4", frozenset(), words="Splice")],
    )
    assert [f.case_id for f in index.holding("splice seat", most=9)] == ["20310301-h4"]
    assert len(index.holding("SPLICE", most=9)) == 2
    for odd in ('"', "AND OR NOT", "splice*", "(", "text:splice NEAR/2", ""):
        index.holding(odd, most=9)


def closing(stored: StoredCase) -> Summary | None:
    """A stand-in for the summary: closed or not, and the notes."""
    if not isinstance(stored.case.events[-1], Closed):
        return None
    return brief(stored.case_id, frozenset(), words=" ".join(e.text for e in stored.case.events if isinstance(e, Noted)))


def test_it_follows_the_folder(tmp_path: Path) -> None:
    """A case is in it when it is closed, out when it is opened again or gone; a damaged one is named and left out."""
    store = CaseStore(tmp_path / "a")
    index = ClosedIndex(store, closing, "k1")
    assert index.refresh() == ()
    assert index.count() == 0
    with store.create(Opened(complaint="reads-low"), "d1" * 32, MORNING) as case:
        case.append(Noted(text="copper green"), MORNING)
        name = case.stored.case_id
        assert (index.refresh(), index.count()) == ((), 0)
        case.append(Closed(cause=None), MORNING)
        assert (index.refresh(), index.count()) == ((), 1)
        assert (index.refresh(), index.count()) == ((), 1)
        assert [f.case_id for f in index.holding("green", most=9)] == [name]
        case.append(Reopened(reason="came back"), MORNING)
        assert (index.refresh(), index.count()) == ((), 0)
        assert index.holding("green", most=9) == []
        case.append(Closed(cause=None), MORNING)
    index.refresh()
    path = store.path(name)
    path.write_bytes(path.read_bytes().replace(b"copper", b"c0pper"))
    (trouble,) = index.refresh()
    assert trouble.startswith(f"{name}: ")
    assert index.count() == 0
    path.unlink()
    assert (index.refresh(), index.count()) == ((), 0)


@pytest.mark.parametrize("spoil", [b"", b"no database, but a text that is long enough to be taken for one" * 30])
def test_a_spoilt_index_is_made_again(tmp_path: Path, spoil: bytes) -> None:
    """It holds nothing that is not in the cases, so nobody is bothered with it; other knowledge makes it anew as well."""
    store = CaseStore(tmp_path / "a")
    with store.create(Opened(complaint="reads-low"), "d1" * 32, MORNING) as case:
        case.append(Closed(cause=None), MORNING)
    ClosedIndex(store, closing, "k1").refresh()
    (tmp_path / "a" / NAME).write_bytes(spoil)
    for knowledge in ("k1", "k2"):
        index = ClosedIndex(store, closing, knowledge)
        assert index.refresh() == ()
        assert index.count() == 1


def test_an_index_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    """A folder in its place: one line, and what to do."""
    (tmp_path / NAME).mkdir()
    with pytest.raises(StoreError, match="cannot be used") as failure:
        ClosedIndex(CaseStore(tmp_path), closing, "k1").refresh()
    assert failure.value.hint == "Delete it: it is made again from the cases."


def test_a_case_is_not_like_its_own_continuations(tmp_path: Path) -> None:
    """A case that was kept as two is not told as another one; one whose id only begins alike is."""
    one = frozenset({("check-0", "x")})
    index = filled(tmp_path / "a", [brief(name, one) for name in ("20310301-h4", "20310301-h4.2", "20310301-h4k")])
    for mine in ("20310301-h4", "20310301-h4.2"):
        assert [f.case_id for f in index.nearest("reads-low", one, WORTH, most=9, but=mine)] == ["20310301-h4k"]


def learned(number: int, dice: random.Random) -> Summary:
    """A closed case with a lesson, of a month drawn from three."""
    made = [Spent("check", dice.choice(["check-0", "check-1"]), dice.uniform(0, 60)) for _ in range(dice.randint(0, 4))]
    shown = [Shown("check-0", dice.choice(["one", "other"]), dice.choice("xyz"), dice.choice([0.3, 1.0])) for _ in range(2)]
    lesson = Lesson(
        dice.choice(["", "", "opened again"]), (("control", dice.choice(["wheel", "lever"])),), tuple(shown), tuple(made),
        (("check-0", dice.random() < 0.5),), dice.randint(1, 2), dice.random() < 0.5,
    )  # fmt: skip
    return Summary(
        f"2031{number:04d}-h4", dice.choice(["reads-low", "hunting"]), dice.choice(["", "Loader"]), dice.choice(["a", "b"]), None,
        dice.random() < 0.5, dice.uniform(10, 90), f"2031-0{dice.randint(1, 3)}-04T07:30:00+00:00", frozenset(), "", lesson,
    )  # fmt: skip


PLANNED = {("check", "check-0"): 10.0, ("check", "check-1"): 25.0}


def test_what_changed_is_counted_as_if_all_were_counted_anew(tmp_path: Path) -> None:
    """Cases come, go and come again, with a count between and with other planned minutes: the same as a fresh index gives."""
    dice = random.Random(8)
    index, cases = filled(tmp_path / "a", []), {}
    for turn in range(12):
        with index._open() as db:
            for case_id in dice.sample(sorted(cases), min(len(cases), 3)):
                forget(db, case_id)
                del cases[case_id]
            for number in range(8):
                one = learned(10 * turn + number, dice)
                cases[one.case_id] = one
                index.add(db, one)
        planned = PLANNED if turn < 9 else {**PLANNED, ("check", "check-1"): 40.0}
        found, shop = index.tally(planned), index.shop(planned)
        fresh = filled(tmp_path / f"fresh{turn}", list(cases.values()))
        again, shop_again = fresh.tally(planned), fresh.shop(planned)
        assert (found.closed, found.fit, found.until, found.unfit) == (again.closed, again.fit, again.until, again.unfit)
        assert (found.causes, found.features, found.shown) == (again.causes, again.features, again.shown)
        assert {k: t.times for k, t in found.took.items()} == {k: t.times for k, t in again.took.items()}
        for key, took in found.took.items():
            assert (took.total, took.squares) == pytest.approx((again.took[key].total, again.took[key].squares))
        assert (shop.causes, shop.machines, shop.checks) == (shop_again.causes, shop_again.machines, shop_again.checks)
        assert [m.month for m in shop.months] == [m.month for m in shop_again.months]
        for one, other in zip(shop.months, shop_again.months, strict=True):
            assert list(vars(one).values())[1:] == pytest.approx(list(vars(other).values())[1:])


def test_the_sums_are_those_of_reading_every_case(tmp_path: Path) -> None:
    """Counted in Python from the same cases: causes, months, rows of checks, and minutes with their bounds."""
    dice = random.Random(3)
    cases = [learned(n, dice) for n in range(60)]
    index = filled(tmp_path / "a", cases)
    found, shop = index.tally(PLANNED), index.shop(PLANNED)
    fit = [c for c in cases if not c.lesson.unfit]
    assert (found.closed, found.fit) == (60, len(fit))
    assert {(c, k): n for c, by in found.causes.items() for k, n in by.items()} == Counter((c.complaint, c.cause) for c in fit)
    rows = Counter((s.check, s.row, s.result, s.showing) for c in cases for s in c.lesson.shown)
    assert {(*key, *rest[:2]): rest[2] for key, many in found.shown.items() for rest in many} == rows
    for key, took in found.took.items():
        paces = []
        for c in cases:
            mine = [s.minutes / PLANNED[key] for s in c.lesson.spent if (s.kind, s.what) == key]
            paces += [sum(math.log(max(0.25, min(4.0, m))) for m in mine) / len(mine)] if mine else []
        assert took.times == len(paces)
        assert took.total == pytest.approx(sum(paces))
        assert took.squares == pytest.approx(sum(p * p for p in paces))
    for month in shop.months:
        mine_ = [c for c in cases if c.closed[:7] == month.month]
        assert (month.closed, month.proven) == (len(mine_), sum(c.proven for c in mine_))
        assert month.first_right == sum(c.proven and c.lesson.repairs == 1 for c in mine_)
        assert month.came_back == sum(c.lesson.came_back for c in mine_)
        assert month.minutes == pytest.approx(sum(c.minutes for c in mine_))
        assert month.timed == pytest.approx(sum(s.minutes for c in mine_ for s in c.lesson.spent))


def test_a_case_more_weighs_no_other_again(tmp_path: Path) -> None:
    """A case that comes in is found at its own likeness, and those before it keep theirs."""
    one, two = frozenset({("check-0", "x"), ("check-1", "x")}), frozenset({("check-0", "x")})
    index, mine = filled(tmp_path / "a", [brief("20310301-h4", one)]), {("check-0", "x")}
    (before,) = index.nearest("reads-low", mine, WORTH, most=9)
    with index._open() as db:
        index.add(db, brief("20310302-h4", two))
        unweighed = [name for (name,) in db.execute("SELECT case_id FROM closed WHERE norm IS NULL")]
    assert unweighed == ["20310302-h4"]
    found = {f.case_id: f.likeness for f in index.nearest("reads-low", mine, WORTH, most=9)}
    assert found == {"20310302-h4": pytest.approx(1.0), "20310301-h4": before.likeness}


def test_a_like_case_tells_its_place_only_where_it_has_one(tmp_path: Path) -> None:
    """The place of the cause comes out as it went in, and none stays none."""
    one = frozenset({("check-0", "x")})
    index = filled(tmp_path / "a", [replace(brief("20310301-h4", one), place="splice-7"), brief("20310302-h4", one)])
    assert {a.case_id: a.place for a in index.nearest("reads-low", one, WORTH, most=9)} == {
        "20310301-h4": "splice-7", "20310302-h4": None
    }  # fmt: skip


@pytest.mark.skipif(os.name == "nt", reason="Windows has no mode bits")
def test_the_index_is_its_owners_alone(tmp_path: Path) -> None:
    """It holds notes, so nobody else may read it."""
    assert filled(tmp_path / "a", []).path.stat().st_mode & 0o777 == 0o600


def test_minutes_under_one_keep_their_own_logarithm(tmp_path: Path) -> None:
    """Half a minute is not counted as a whole one; none at all counts as next to none."""
    quick = Lesson(spent=(Spent("check", "check-0", 0.5), Spent("check", "check-1", 0.0)))
    index = filled(tmp_path / "a", [replace(brief("20310301-h4", frozenset()), lesson=quick)])
    with index._open() as db:
        half, none = (log for (log,) in db.execute("SELECT log FROM spent ORDER BY n"))
    assert half == math.log(0.5)
    assert none < -10
