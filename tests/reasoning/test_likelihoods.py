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
from advisor.reasoning.likelihoods import Space, check_places, places

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
        if not spots:
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
