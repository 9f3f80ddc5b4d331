"""Words to chances: what each result of a check says of each suspect, and how the suspects come about."""

from __future__ import annotations

import numpy as np
import pytest
from builders import small_machine
from hypothesis import given, settings
from hypothesis import strategies as st
from worlds import COMPLAINT, USED, cause, check, spaces, world

from advisor.evidence.rows import OTHERWISE, row
from advisor.model.finding import NOT_LISTED, Suspect
from advisor.reasoning.likelihoods import Space, beside, check_places, place_for, places

THREE = ("bad", "odd", "good")


@settings(max_examples=60, deadline=None)
@given(spaces())
def test_every_row_is_a_set_of_chances(found: Space) -> None:
    """For every check and every suspect the chances of the results are above zero and sum to one."""
    for entry in found.knowledge.checks.values():
        for place in check_places(entry, found.machine):
            table = found.table(entry.id, place)
            assert table.shape == (len(entry.results), len(found.suspects))
            assert table.sum(axis=0) == pytest.approx(np.ones(len(found.suspects)), abs=1e-12)
            assert table.min() > 0


def test_a_named_result_has_the_value_of_its_word() -> None:
    """A word is worth its value, and a check of two results gives what is left to the other."""
    entry = check("tap", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}})
    assert row(entry, "gear", USED) == pytest.approx((0.72, 0.28))
    assert row(entry, OTHERWISE, USED) == pytest.approx((0.14, 0.86))


def test_a_cause_that_is_not_named_is_as_likely_as_otherwise() -> None:
    """A check says nothing of its own about a cause that it does not name."""
    entry = check("tap", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}})
    assert row(entry, "spring", USED) == pytest.approx(row(entry, OTHERWISE, USED))


def test_what_a_row_leaves_open_is_shared_as_otherwise_shares_it() -> None:
    """Results that a cause's row does not name stand to each other as they do for every other cause."""
    entry = check("tap", {"gear": {"bad": "roughly-even"}, OTHERWISE: {"bad": "almost-no-chance", "odd": "unlikely"}}, THREE)
    bad, odd, good = row(entry, "gear", USED)
    assert bad == pytest.approx(0.51)
    assert odd / good == pytest.approx(0.36 / 0.62)
    assert odd + good == pytest.approx(0.49)


def test_what_otherwise_leaves_open_is_shared_equally() -> None:
    """Nothing is known of the results that `otherwise` does not name, so each gets the same."""
    entry = check("tap", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "unlikely"}}, THREE)
    assert row(entry, OTHERWISE, USED) == pytest.approx((0.36, 0.32, 0.32))


def test_a_row_that_names_every_result_is_scaled_to_one() -> None:
    """Words that do not quite add up to one keep their proportions."""
    entry = check("tap", {"gear": {"bad": "unlikely", "good": "likely"}, OTHERWISE: {"bad": "very-unlikely"}})
    assert row(entry, "gear", USED) == pytest.approx((0.36 / 1.08, 0.72 / 1.08))


def test_a_cause_at_places_has_one_suspect_a_place() -> None:
    """A cause that sits at splices is suspected at each splice of the layout, one without a place once."""
    machine = small_machine()
    assert places(cause("crimp", place="splice"), machine) == ("splice-7",)
    assert places(cause("worn"), machine) == (None,)
    at_sensor = places(cause("spread", place="terminal", point="sensor"), machine)
    assert set(at_sensor) == {"sensor:1", "sensor:2", "sensor:3", "sensor:4"}


def test_a_cause_whose_place_the_layout_lacks_stays_a_suspect() -> None:
    """A layout file that names no ground point does not exonerate the ground point."""
    assert places(cause("rust", place="ground-point"), small_machine()) == (None,)


def test_places_of_a_cause_share_its_prior_equally() -> None:
    """More cavities do not make a cause more likely than its frequency says."""
    found = world([cause("spread", place="terminal"), cause("worn")], [])
    spread = [p for s, p in zip(found.suspects, found.prior, strict=True) if s.cause == "spread"]
    worn = found.prior[found.suspects.index(Suspect("worn"))]
    assert len(spread) > 4
    assert spread == pytest.approx([worn / len(spread)] * len(spread))


def test_prior_is_frequency_times_chance_of_being_reported_so() -> None:
    """Two causes stand to each other as how often each is met times how likely each is to be reported this way."""
    often = cause("often", frequency="common", complaints={COMPLAINT: "very-unlikely"})
    seldom = cause("seldom", frequency="rare", complaints={COMPLAINT: "very-likely"})
    elsewhere = cause("elsewhere", complaints={"other-complaint": "very-likely"})
    found = world([often, seldom, elsewhere], [])
    assert [s.cause for s in found.suspects] == ["often", "seldom", NOT_LISTED]
    assert found.prior[0] / found.prior[1] == pytest.approx(6.0 * 0.14 / (1.1 * 0.86))
    assert found.prior[2] == pytest.approx(0.05)
    assert found.prior.sum() == pytest.approx(1.0)


def test_a_complaint_without_causes_leaves_what_is_not_listed() -> None:
    """When no cause explains the complaint, all of the share is with something not on this list."""
    found = world([cause("elsewhere", complaints={"other-complaint": "likely"})], [])
    assert found.suspects == (Suspect(NOT_LISTED),)
    assert found.prior.tolist() == [1.0]


@settings(max_examples=40, deadline=None)
@given(spaces(), st.data())
def test_a_check_at_a_place_speaks_only_of_its_place(found: Space, data: st.DataObject) -> None:
    """For suspects at other places, a check at one place is as likely to come out as for any other cause."""
    for entry in found.knowledge.checks.values():
        spots = [p for p in check_places(entry, found.machine) if p is not None]
        if not spots or entry.at == "point":
            continue
        here = data.draw(st.sampled_from(spots))
        table = found.table(entry.id, here)
        for i, suspect in enumerate(found.suspects):
            elsewhere = suspect.place not in (here, None)
            wanted = OTHERWISE if elsewhere else suspect.cause
            assert table[:, i].tolist() == pytest.approx(list(row(entry, wanted, found.used)))


def test_a_check_is_open_at_every_place_of_its_kind() -> None:
    """A check at terminals can be done at each; one at a section, at no place or at a place the layout lacks is listed once."""
    rows = {"worn": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}}
    machine = small_machine()
    terminals = {e.name for e in machine.elements.values() if e.kind == "terminal"}
    assert set(check_places(check("drag", rows, at="terminal"), machine)) == terminals
    assert check_places(check("load", rows, at="section"), machine) == (None,)
    assert check_places(check("look", rows), machine) == (None,)
    assert check_places(check("scrape", rows, at="ground-point"), machine) == (None,)


ROCKED = {"worn": {"bad": "likely"}, "spread": {"bad": "likely"}, "broken": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}}


def rocked_world() -> Space:
    causes = [cause("worn"), cause("spread", place="terminal"), cause("broken", place="wire"), cause("crimp", place="splice")]
    return world(causes, [check("rock", {**ROCKED, "crimp": {"bad": "likely"}}, at="point")])


def test_a_check_at_a_point_is_open_at_every_plug() -> None:
    """It can be done at each point of the layout that has terminals, or at the one it names, or once where that is lacking."""
    machine = small_machine()
    assert check_places(check("rock", ROCKED, at="point"), machine) == ("controller", "bulkhead", "sensor")
    assert check_places(check("rock", ROCKED, at="point", point="bulkhead"), machine) == ("bulkhead",)
    assert check_places(check("rock", ROCKED, at="point", point="cab"), machine) == (None,)


def test_a_plug_is_its_terminals_and_the_wires_that_end_there() -> None:
    """Wires on both sides of the plug belong to it; a splice and a wire further on do not."""
    near = beside(small_machine(), "bulkhead")
    assert {"bulkhead:2", "bulkhead:6", "supply-a-upper", "supply-a-lower"} <= near
    assert near.isdisjoint({"feed", "splice-7", "sensor:1", "controller:21"})


def test_a_check_at_a_point_speaks_of_the_causes_there() -> None:
    """Causes at the plug have their row, those elsewhere that of any other cause."""
    found = rocked_world()
    likely, other = row(found.knowledge.checks["rock"], "spread", USED)[0], row(found.knowledge.checks["rock"], "x", USED)[0]
    reacts = dict(zip(found.suspects, found.table("rock", "bulkhead")[0].tolist(), strict=True))
    for name in ("bulkhead:2", "bulkhead:5"):
        assert reacts[Suspect("spread", name)] == pytest.approx(likely)
    assert reacts[Suspect("broken", "supply-a-lower")] == pytest.approx(likely)
    for far in (Suspect("spread", "sensor:1"), Suspect("broken", "feed"), Suspect("crimp", "splice-7"), Suspect(NOT_LISTED)):
        assert reacts[far] == pytest.approx(other)


def test_a_cause_without_a_place_may_sit_at_any_plug() -> None:
    """One of three plugs speaks for a third of it; asked at no plug in particular, the check speaks for all of it."""
    found = rocked_world()
    likely, other = row(found.knowledge.checks["rock"], "worn", USED)[0], row(found.knowledge.checks["rock"], "x", USED)[0]
    at = found.suspects.index(Suspect("worn"))
    assert found.table("rock", "sensor")[0, at] == pytest.approx(likely / 3 + other * 2 / 3)
    assert found.table("rock", None)[0, at] == pytest.approx(likely)


def test_quiet_plugs_all_together_say_no_more_than_the_check_done_at_once() -> None:
    """A cause somewhere at the plugs is not cleared three times over by asking plug by plug."""
    found = rocked_world()
    at = found.suspects.index(Suspect("worn"))
    each = [found.table("rock", p)[1] for p in ("controller", "bulkhead", "sensor")]
    once = found.table("rock", None)[1]
    plug_by_plug = float(np.prod([quiet[at] / quiet[-1] for quiet in each]))
    assert once[at] / once[-1] < plug_by_plug < 1


def test_the_place_of_a_check_for_a_suspect() -> None:
    """A check at a point that concerns a terminal is done at its plug, one at terminals at the terminal itself."""
    machine = small_machine()
    assert place_for(check("rock", ROCKED, at="point"), machine, "bulkhead:2") == "bulkhead"
    assert place_for(check("rock", ROCKED, at="point"), machine, "sensor") == "sensor"
    assert place_for(check("drag", ROCKED, at="terminal"), machine, "bulkhead:2") == "bulkhead:2"
    assert place_for(check("look", ROCKED), machine, "bulkhead:2") is None
