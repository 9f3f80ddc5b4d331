"""Words to chances: what each result of a check says of each suspect, and how the suspects come about."""

from __future__ import annotations

import numpy as np
import pytest
from builders import small_machine
from hypothesis import given, settings
from hypothesis import strategies as st
from worlds import COMPLAINT, USED, cause, check, spaces, words, world

from advisor.evidence.rows import OTHERWISE, row
from advisor.evidence.spots import beside
from advisor.model.finding import NOT_LISTED, Suspect
from advisor.reasoning.likelihoods import Space, check_places, place_for, places

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
    found = world([often, seldom], [])
    assert [s.cause for s in found.suspects] == ["often", "seldom", NOT_LISTED]
    assert found.prior[0] / found.prior[1] == pytest.approx(6.0 * 0.14 / (1.1 * 0.86))
    assert found.prior[2] == pytest.approx(0.05)
    assert found.prior.sum() == pytest.approx(1.0)


def test_a_cause_that_is_reported_otherwise_stays_possible() -> None:
    """People choose the complaint: a cause that is expected under another keeps a small chance of its own."""
    here, elsewhere = cause("here"), cause("elsewhere", complaints={"other-complaint": "likely"})
    found = world([here, elsewhere], [], words(other_complaint=0.01))
    assert found.prior[1] / found.prior[0] == pytest.approx(0.01 / USED["likely"])


def test_without_causes_there_is_only_what_is_not_listed() -> None:
    """When the knowledge holds no cause, all of the share is with something not on this list."""
    found = world([], [])
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
            part = 1 / 3 if suspect.place is None else float(suspect.place == here)  # it may sit at any of three plugs
            own, other = np.array(row(entry, suspect.cause, found.used)), np.array(row(entry, OTHERWISE, found.used))
            assert table[:, i] == pytest.approx(part * own + (1 - part) * other)


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


def test_a_further_cavity_of_a_plug_says_nothing_new_of_a_cause_without_a_place() -> None:
    """Water somewhere in a plug is looked for in its first cavity; the next one speaks only of itself."""
    drag = check(
        "drag", {"worn": {"bad": "likely"}, "spread": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}}, at="terminal"
    )
    found = world([cause("worn"), cause("spread", place="terminal")], [drag])
    worn, spread = found.suspects.index(Suspect("worn")), found.suspects.index(Suspect("spread", "sensor:1"))
    first, next_one = (found.table("drag", "sensor:1", further=further)[0] for further in (False, True))
    assert first[worn] == pytest.approx(0.72 / 3 + 0.14 * 2 / 3)
    assert next_one[worn] == pytest.approx(0.14)
    assert next_one[spread] == first[spread] == pytest.approx(0.72)


def test_what_reaches_a_whole_plug_is_half_found_at_its_other_cavities() -> None:
    """Water corrodes the cavities of one plug together; those of the next plug it does not touch."""
    row_of = {"crust": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}}
    look = check("look", row_of, at="terminal", whole_plug={"crust": "roughly-even"})
    found = world([cause("crust", place="terminal")], [look])
    bad = dict(zip(found.suspects, found.table("look", "sensor:1")[0].tolist(), strict=True))
    even = USED["roughly-even"]
    assert bad[Suspect("crust", "sensor:1")] == pytest.approx(0.72)
    assert bad[Suspect("crust", "sensor:2")] == pytest.approx(even * 0.72 + (1 - even) * 0.14)
    assert bad[Suspect("crust", "bulkhead:2")] == pytest.approx(0.14)


def test_the_place_of_a_check_for_a_suspect() -> None:
    """A check at a point that concerns a terminal is done at its plug, one at terminals at the terminal itself."""
    machine = small_machine()
    assert place_for(check("rock", ROCKED, at="point"), machine, "bulkhead:2") == "bulkhead"
    assert place_for(check("rock", ROCKED, at="point"), machine, "sensor") == "sensor"
    assert place_for(check("drag", ROCKED, at="terminal"), machine, "bulkhead:2") == "bulkhead:2"
    assert place_for(check("look", ROCKED), machine, "bulkhead:2") is None


LOOSE = cause("gear", kind="loose"), cause("spring", kind="loose"), cause("wire", kind="cut")


def chances(found: Space, showing: float = 1.0) -> dict[str, float]:
    """The chance of the first result of the check `tap`, by cause."""
    return dict(zip([s.cause for s in found.suspects], found.table("tap", None, showing)[0].tolist(), strict=True))


def test_evidence_may_name_a_kind_of_cause() -> None:
    """A row of a kind speaks of every cause of it; a row of the cause itself counts before that."""
    rows = {"gear": {"bad": "very-likely"}, "loose": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}}
    found = chances(world(LOOSE, [check("tap", rows)]))
    assert found == pytest.approx({"gear": 0.86, "spring": 0.72, "wire": 0.14, NOT_LISTED: 0.14})


def test_a_check_without_an_opinion_leaves_a_cause_alone() -> None:
    """A cause whose kind the check does not cover keeps its share of the whole, whatever comes out."""
    rows = {"loose": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}}
    found = world(LOOSE, [check("tap", rows, covers=["loose"])])
    table = found.table("tap", None)
    at = [s.cause for s in found.suspects].index("wire")
    for row_ in table:
        after = found.prior * row_ / (found.prior @ row_)
        assert after[at] == pytest.approx(found.prior[at])


def test_what_only_shows_with_the_fault_says_less_while_it_is_quiet() -> None:
    """With the chance q that the fault shows, a result is q times as with the fault and 1 - q times as otherwise."""
    rows = {"gear": {"bad": "very-likely"}, OTHERWISE: {"bad": "very-unlikely"}}
    found = world(LOOSE, [check("tap", rows, lasts=False)])
    assert chances(found, 0.25)["gear"] == pytest.approx(0.25 * 0.86 + 0.75 * 0.14)
    assert chances(found, 0.25)["wire"] == pytest.approx(0.14)


def test_what_lasts_is_found_though_the_fault_does_not_show() -> None:
    """Wear and a loose screw are there at any time: a check that looks for them counts in full."""
    rows = {"loose": {"bad": "very-likely"}, "cut": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}}
    lasting = chances(world(LOOSE, [check("tap", rows, lasts=["loose"])]), 0.0)
    assert (lasting["gear"], lasting["wire"]) == pytest.approx((0.86, 0.14))
    assert chances(world(LOOSE, [check("tap", rows)]), 0.0)["wire"] == pytest.approx(0.72)


@settings(max_examples=30, deadline=None)
@given(spaces(), st.floats(0, 1))
def test_the_less_the_fault_shows_the_less_an_answer_says(found: Space, showing: float) -> None:
    """No result separates a suspect from the rest more than it does while the fault shows."""
    for entry in found.knowledge.checks.values():
        entry = entry.model_copy(update={"lasts": False})
        quiet = world(list(found.knowledge.causes.values()), [entry])
        full, some = quiet.table(entry.id, None), quiet.table(entry.id, None, showing)
        assert (np.abs(some - some[:, [-1]]) <= np.abs(full - full[:, [-1]]) + 1e-12).all()


def test_any_answer_may_be_wrong() -> None:
    """With the chance that a result is misread, no answer is worth more than that chance allows."""
    rows = {"gear": {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}}
    found = chances(world(LOOSE, [check("tap", rows)], words(wrong_answer=0.04)))
    assert found["gear"] == pytest.approx(0.02 + 0.96 * 0.96)
    assert found["wire"] == pytest.approx(0.02 + 0.96 * 0.02)
