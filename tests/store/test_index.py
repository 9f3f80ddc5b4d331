"""The index of closed cases: the same answers as reading every case, quickly; it is made again whenever it has to be."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from builders import MORNING

from advisor.errors import StoreError
from advisor.experience.alike import likeness
from advisor.model.case import Closed, Noted, Opened, Reopened
from advisor.model.summary import Summary
from advisor.store.folder import CaseStore
from advisor.store.index import NAME, ClosedIndex
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
