"""Where on the harness it reacted, and on which side, as evidence."""

from __future__ import annotations

import numpy as np
import pytest
from builders import small_machine
from worlds import cause, check, words, world

from advisor.evidence.rows import OTHERWISE
from advisor.evidence.spots import spot_of, spots
from advisor.model.place_words import place_says, plug_says
from advisor.reasoning.likelihoods import Space
from advisor.reasoning.located import located
from advisor.reasoning.ranking import Ranking, rank
from advisor.reasoning.witnesses import Witness

WRONG = 0.12
ROWS = {
    "dull-joint": {"bad": "likely"},
    "green-pin": {"bad": "likely"},
    "hot-oil": {"bad": "likely"},
    OTHERWISE: {"bad": "unlikely"},
}
SIDES = {"green-pin": "very-likely", "hot-oil": "very-unlikely"}
CAUSES = (
    cause("dull-joint", place="splice", system="harness"),
    cause("green-pin", place="terminal", system="connector"),
    cause("hot-oil", system="hydraulics"),
    cause("tired-coil", system="sensor"),
)


def moved() -> Space:
    """A check that asks where and on which side, on a harness of two plugs between controller and sensor."""
    looked = check("tug", ROWS, where="anywhere", sides=True, one_sided=SIDES)
    return world(CAUSES, [looked], words(wrong_place=WRONG))


def after(**told: str) -> Ranking:
    return rank(moved(), [Witness("tug", "bad", **told)])


def share(found: Ranking, name: str, place: str | None = None) -> float:
    return float(
        sum(w for h, w in zip(found.hypotheses, found.weights, strict=True) if len(h) == 1 and named(found, h[0], name, place))
    )


def named(found: Ranking, index: int, name: str, place: str | None) -> bool:
    suspect = found.space.suspects[index]
    return suspect.cause == name and place in (None, suspect.place)


def test_a_place_that_reacts_raises_what_sits_there() -> None:
    """Of the same cause the place named gains on every other, and none falls to nothing: a place can be named wrongly."""
    here, there = share(after(where="sensor"), "green-pin", "sensor:2"), share(after(where="sensor"), "green-pin", "bulkhead:5")
    assert share(after(), "green-pin", "sensor:2") == pytest.approx(share(after(), "green-pin", "bulkhead:5"))
    offered = len(spots(small_machine(), "anywhere"))
    assert here / there == pytest.approx((1 - WRONG + WRONG / offered) / (WRONG / offered))


def test_what_has_no_place_keeps_its_share_against_those_that_have_one() -> None:
    """A place says nothing of oil: the causes with a place share anew what they held together."""
    plain, told = after(), after(where="splice-7")

    def odds(found: Ranking) -> float:
        rest = sum(share(found, c.id) for c in CAUSES if c.id != "hot-oil")
        return share(found, "hot-oil") / rest

    assert odds(told) == pytest.approx(odds(plain), rel=1e-6)
    assert share(told, "dull-joint") > share(plain, "dull-joint")


def test_a_part_at_the_end_of_the_harness_can_be_named_itself() -> None:
    """The sensor itself is a place for what is wrong inside it."""
    assert share(after(where="sensor-itself"), "tired-coil") > share(after(), "tired-coil")
    assert share(after(where="controller"), "tired-coil") < share(after(), "tired-coil")


def test_one_side_fits_what_is_one_sided() -> None:
    """Left and right say the same of a cause, and both sides the other way round."""
    for name, better in (("green-pin", "left"), ("hot-oil", "both")):
        worse = "both" if better == "left" else "left"
        assert share(after(side=better), name) > share(after(), name) > share(after(side=worse), name)
    assert share(after(side="left"), "green-pin") == pytest.approx(share(after(side="right"), "green-pin"))


def test_a_second_look_at_another_place_says_the_same_in_any_order() -> None:
    """Two reactions at two places count alike whichever came first."""
    one, other = Witness("tug", "bad", where="sensor"), Witness("tug", "bad", where="controller")
    assert rank(moved(), [one, other]).shares == pytest.approx(rank(moved(), [other, one]).shares)


def test_two_faults_together_react_where_either_sits() -> None:
    """For a pair the place fits when one of the two sits there."""
    found = after(where="splice-7")
    weights = {frozenset(found.space.suspects[i].place for i in h): w for h, w in zip(found.hypotheses, found.weights, strict=True)}
    assert weights[frozenset({"splice-7", "sensor:2"})] > 3 * weights[frozenset({"bulkhead:2", "sensor:2"})]


def test_without_a_place_or_a_side_an_answer_is_what_it_was() -> None:
    """Not sure adds nothing."""
    space = moved()
    assert located(space, space.knowledge.checks["tug"], "bad", 1.0, None, None) is None


def test_every_element_of_the_harness_can_be_named() -> None:
    """Some spot holds each element, and a terminal is found at its plug, a splice by itself, a wire in its run."""
    machine = small_machine()
    held = set().union(*(s.elements for s in spots(machine, "anywhere")))
    assert held == set(machine.elements)
    assert [spot_of(machine, "anywhere", p, "harness") for p in ("sensor:2", "splice-7", "signal-a-lower")] == [
        "sensor", "splice-7", "bulkhead..sensor"
    ]  # fmt: skip
    assert spot_of(machine, "anywhere", None, "hydraulics") is None
    assert spot_of(machine, "wire", "signal-a-lower", "harness") == "signal-a"


def test_places_are_said_with_what_the_wire_does() -> None:
    """A cavity is named with its plug and its function, a shared splice with both."""
    machine = small_machine()
    assert place_says(machine, "sensor:3") == "sensor plug, cavity 3, ground A"
    assert plug_says("axle-plug") == "axle-plug"
    assert place_says(machine, "splice-7") == "splice-7, supply A and B"
    assert place_says(machine, "bulkhead..sensor") == "run from bulkhead to sensor"
    assert place_says(machine, "signal-a") == "signal A"
    assert place_says(machine, "no-such-thing") == "no-such-thing"


def test_the_chances_of_all_places_come_to_one() -> None:
    """For a suspect that sits on the harness the places that can be named are all that can be said."""
    space = moved()
    tug = space.knowledge.checks["tug"]
    told = [located(space, tug, "bad", 1.0, s.id, None) for s in spots(space.machine, "anywhere")]
    sums = np.sum([t for t in told if t is not None], axis=0)
    assert sums == pytest.approx(np.ones(len(space.suspects)))
