"""Judging load-test readings: refusals, verdicts, closure, stale references, siblings."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.electrical.drop import Load
from advisor.model.case import Reading
from advisor.model.machine import Element, LoadTest, Machine
from advisor.reasoning.readings import (
    Judged,
    all_equally_high,
    closure,
    judge,
    limit_of,
    load_of,
    outliers,
    refusal,
    sound_of,
    stale_reference,
)


def circuit(name: str, *, sized: bool = True) -> tuple[Element, ...]:
    """One circuit over cab, frame and valve."""
    size = {"mm2": 1.5, "metres": 2.2} if sized else {}
    return (
        Element(terminal=f"cab:{name}"),
        Element(wire=f"{name}-fore", **size),
        Element(terminal=f"frame:{name}"),
        Element(wire=f"{name}-aft", **size),
        Element(terminal=f"valve:{name}"),
    )


MACHINE = Machine(
    points=("cab", "frame", "valve"),
    load_test=LoadTest(load_ohms=6.0, limit_volts_per_section=0.25, limit_volts={"c4": 0.42}),
    circuits={**{f"c{i}": circuit(f"c{i}") for i in range(1, 6)}, "bare": circuit("bare", sized=False)},
)


def reading(name: str = "c1", drop: float = 0.3, start: str = "cab", end: str = "valve", **more: Any) -> Reading:
    reference = more.pop("reference", 12.21)
    loaded = more.pop("loaded", round(reference - drop, 3))
    return Reading(circuit=name, start=start, end=end, reference=reference, loaded=loaded, **more)


def test_a_plain_reading_is_not_refused() -> None:
    """A reading as most are passes."""
    assert refusal(MACHINE, reading()) is None


@pytest.mark.parametrize(
    ("bad", "what", "hint"),
    [
        (reading("c11"), "no circuit called c11", "Did you mean c1"),
        (reading("pump"), "no circuit called pump", "The circuits are"),
        (reading(end="roof"), "no run from cab to roof", "cab, frame, valve"),
        (reading(end="cab"), "no run from cab to cab", "two different"),
        (reading(reference=-12.2), "negative", "leads"),
        (reading(reference=0.0, loaded=0.0), "reference is zero", "leads"),
        (reading(loaded=-0.2), "negative", "leads"),
        (reading(reference=math.nan, loaded=1.0), "not a number", "volts"),
        (reading(reference=11.87, loaded=12.19), "higher than the reference", "swapped"),
        (reading(reference=12210.0, loaded=11900.0), "more than a 12 V source", "millivolts"),
        (reading(loaded=11900.0), "more than a 12 V source", "millivolts"),
        (reading(reference=4.9), "less than half of 12 V", "source"),
        (reading(load_ohms=0.25), "49 A", "larger resistance"),
        (reading(load_amps=45.0), "45 A", "larger resistance"),
        (reading(load_ohms=6.0, load_amps=2.0), "in ohms and in amperes", "Give ohms"),
        (reading(load_ohms=-6.0), "zero or less", "own value"),
    ],
)
def test_a_reading_that_cannot_be_is_refused_with_what_to_do(bad: Reading, what: str, hint: str) -> None:
    """Every refusal says in plain words what is wrong and what to do about it."""
    found = refusal(MACHINE, bad)
    assert found is not None
    assert what in found.what
    assert hint in found.hint


def test_a_reading_above_the_reference_by_what_the_meter_explains_passes() -> None:
    """Two counts are no reason to refuse a sound circuit."""
    assert refusal(MACHINE, reading(reference=12.21, loaded=12.23)) is None


@settings(max_examples=200)
@given(
    st.floats(allow_nan=True, allow_infinity=True),
    st.floats(allow_nan=True, allow_infinity=True),
    st.none() | st.floats(allow_nan=True, allow_infinity=True),
    st.none() | st.floats(allow_nan=True, allow_infinity=True),
)
def test_whatever_is_typed_is_refused_or_can_be_judged(
    reference: float, loaded: float, ohms: float | None, amps: float | None
) -> None:
    """No number breaks the program: it is refused, or its judgement is made of numbers."""
    one = reading(reference=reference, loaded=loaded, load_ohms=ohms, load_amps=amps)
    if refusal(MACHINE, one) is None:
        judged = judge(MACHINE, one)
        assert 0 <= judged.probability_over <= 1
        assert 0 <= judged.excess_low <= judged.excess_ohms <= judged.excess_high


def test_the_limit_is_the_circuits_own_only_for_the_whole_of_it() -> None:
    """A figure given for the circuit counts end to end; for a part, and without one, each section has its share."""
    assert judge(MACHINE, reading("c4")).limit_volts == 0.42
    assert judge(MACHINE, reading("c4", end="frame")).limit_volts == 0.25
    assert judge(MACHINE, reading("c1")).limit_volts == 0.5
    section = MACHINE.section("c4", "valve", "cab")
    assert section is not None
    assert limit_of(MACHINE, section, Load(ohms=6.0), 12.0) == 0.42


def test_no_limit_is_below_what_sound_wire_drops() -> None:
    """Where the sound run may drop more than the table's figure, it is allowed; a lighter load is allowed less."""
    section = MACHINE.section("c1", "cab", "valve")
    assert section is not None
    heavy, light = (limit_of(MACHINE, section, Load(ohms=ohms), 12.0) for ohms in (0.5, 60.0))
    sound = sound_of(MACHINE, section, None)
    assert sound is not None
    assert heavy == pytest.approx(12.0 * sound[2] / (0.5 + sound[2]))
    assert light == 0.5 < heavy


def test_a_run_named_backwards_is_the_same_run() -> None:
    """From valve to cab and from cab to valve are one run."""
    one, other = judge(MACHINE, reading()), judge(MACHINE, reading(start="valve", end="cab"))
    assert one == other
    assert (other.start, other.end) == ("cab", "valve")


def test_the_expected_drop_needs_every_wires_size() -> None:
    """Without size or length there is no expectation, and the limit stands for what a sound run drops."""
    sized, bare = judge(MACHINE, reading("c1", 0.8)), judge(MACHINE, reading("bare", 0.8))
    assert sized.expected_volts is not None
    assert 0.05 < sized.expected_volts < 0.2
    assert bare.expected_volts is None
    assert 0 < bare.excess_ohms < sized.excess_ohms


def test_hot_copper_is_expected_to_drop_more() -> None:
    """The copper's temperature is used when it is known."""
    cold, hot = (judge(MACHINE, reading(copper_celsius=t)).expected_volts for t in (-10.0, 80.0))
    assert cold is not None
    assert hot is not None
    assert hot > cold * 1.2


def test_a_readings_own_load_comes_before_the_machines() -> None:
    """The ohms behind a drop are those of the load that was used."""
    assert load_of(MACHINE, reading()) == Load(ohms=6.0)
    assert load_of(MACHINE, reading(load_amps=2.0)) == Load(amps=2.0)
    assert judge(MACHINE, reading(drop=0.9, load_ohms=3.0)).excess_ohms < judge(MACHINE, reading(drop=0.9)).excess_ohms


def test_a_reading_too_close_to_call_says_how_to_make_it_decisive() -> None:
    """Only an unsure verdict carries advice."""
    unsure = judge(MACHINE, reading(drop=0.51))
    assert unsure.verdict == "unsure"
    assert "lowest range" in unsure.advice
    assert judge(MACHINE, reading(drop=0.7)).advice == ""


def test_a_load_too_heavy_for_the_run_accuses_no_joint() -> None:
    """Where the sound wire alone drops more than the table allows, the limit is what it drops at most; more than that is bad."""
    heavy = judge(MACHINE, reading(drop=0.9, load_ohms=0.5))
    assert heavy.expected_volts is not None
    assert 0.5 < heavy.expected_volts < heavy.limit_volts
    assert (heavy.verdict, heavy.excess_ohms) == ("within", 0.0)
    bad = judge(MACHINE, reading(drop=6.0, load_ohms=0.5))
    assert bad.verdict == "over"
    assert bad.excess_low > 0


def test_a_better_meter_decides_what_a_worse_one_leaves_open() -> None:
    """The verdict depends on the meter that was used."""
    assert judge(MACHINE, reading(drop=0.51)).verdict == "unsure"
    assert judge(MACHINE, reading(drop=0.51, meter="0.1 % + 1 @ 1 mV")).verdict == "over"


def test_judging_a_run_that_is_not_there_is_a_mistake_of_the_caller() -> None:
    """Readings are to be refused before they are judged."""
    with pytest.raises(ValueError, match="no run"):
        judge(MACHINE, reading(end="roof"))


def judged(*readings: Reading) -> list[Judged]:
    return [judge(MACHINE, r) for r in readings]


def test_sections_that_add_up_close() -> None:
    """Two sections and the whole agree within a named uncertainty."""
    (found,) = closure(judged(reading(drop=0.61), reading(drop=0.33, end="frame"), reading(drop=0.26, start="frame")))
    assert found.closes
    assert found.repeat is None
    assert found.difference_volts == pytest.approx(-0.02)
    assert "0.5 % of reading + 2 counts" in found.says
    assert f"{found.uncertainty:.2f} V" in found.says


@pytest.mark.parametrize(
    ("whole", "fore", "aft", "repeat"),
    [
        (0.93, 0.17, 0.19, ("cab", "valve")),
        (0.37, 0.61, 0.19, ("cab", "frame")),
        (0.37, 0.16, 0.58, ("frame", "valve")),
        (0.05, 0.61, 0.11, ("cab", "valve")),
    ],
)
def test_sections_that_do_not_add_up_name_the_reading_to_repeat(
    whole: float, fore: float, aft: float, repeat: tuple[str, str]
) -> None:
    """The one reading is named whose error alone would leave the fewest runs over their limit."""
    (found,) = closure(judged(reading(drop=whole), reading(drop=fore, end="frame"), reading(drop=aft, start="frame")))
    assert not found.closes
    assert found.repeat is not None
    assert (found.repeat.start, found.repeat.end) == repeat
    assert f"Repeat the reading of c1 from {repeat[0]} to {repeat[1]}" in found.says


def test_only_the_latest_reading_of_a_run_counts_for_closure() -> None:
    """A repeated reading replaces the one before it."""
    (found,) = closure(
        judged(reading(drop=0.93), reading(drop=0.17, end="frame"), reading(drop=0.19, start="frame"), reading(drop=0.37))
    )
    assert found.closes


def test_nothing_closes_without_all_sections() -> None:
    """One section and the whole say nothing about each other's sum, nor do sections of another circuit."""
    assert closure(judged(reading(drop=0.6), reading(drop=0.3, end="frame"))) == ()
    assert closure(judged(reading(), reading(end="frame"), reading("c2", start="frame"))) == ()


def test_a_reference_from_before_a_change_is_stale() -> None:
    """The very number taken with another adapter or load is not a reference for this reading."""
    first = reading(adapter="pins")
    changed = stale_reference(MACHINE, [first, reading("c2", adapter="clips")])
    assert changed is not None
    assert "adapter" in changed.what
    assert "again" in changed.hint
    other = stale_reference(MACHINE, [first, reading("c2", adapter="pins", load_ohms=3.0)])
    assert other is not None
    assert "load" in other.what


def test_a_reference_taken_again_is_not_stale() -> None:
    """Another number, the same fittings, or fittings put back on are all right; so is the first reading."""
    first = reading(adapter="pins")
    assert stale_reference(MACHINE, [first]) is None
    assert stale_reference(MACHINE, [first, reading("c2", adapter="pins", load_ohms=6.0)]) is None
    assert stale_reference(MACHINE, [first, reading("c2", adapter="clips", reference=12.16)]) is None
    assert stale_reference(MACHINE, [first, reading(adapter="clips", reference=12.16), reading(adapter="pins")]) is None


def test_a_reference_said_to_be_fresh_is_taken_at_its_word() -> None:
    """The meter may show the same number again with other fittings."""
    assert stale_reference(MACHINE, [reading(adapter="pins"), reading("c2", adapter="clips", fresh=True)]) is None


def test_a_meter_that_is_none_is_refused() -> None:
    """What was typed is named, and how to write it."""
    refused = refusal(MACHINE, reading(meter="the yellow one"))
    assert refused is not None
    assert "the yellow one" in refused.what
    assert "0.5%+2" in refused.hint


def test_the_circuit_unlike_its_siblings_stands_out() -> None:
    """By median and MAD one high circuit is found among five, and none when all differ by what a meter explains."""
    drops = {"c1": 0.31, "c2": 0.33, "c3": 0.86, "c4": 0.30, "c5": 0.32}
    (found,) = outliers(judged(*(reading(n, d) for n, d in drops.items())))
    assert found.judged.circuit == "c3"
    assert found.median_volts == pytest.approx(0.32)
    assert found.score > 10
    assert outliers(judged(*(reading(n, min(d, 0.35)) for n, d in drops.items()))) == ()


def test_siblings_that_agree_to_the_last_digit_make_no_outlier_of_the_next() -> None:
    """A spread of nothing is an accident; the reading's own uncertainty is the least that is taken."""
    assert outliers(judged(*(reading(f"c{i}", 0.33) for i in range(1, 5)), reading("c5", 0.36))) == ()


def test_few_siblings_prove_nothing() -> None:
    """Three circuits have no outlier."""
    assert outliers(judged(reading("c1", 0.3), reading("c2", 0.3), reading("c3", 2.0))) == ()


def test_all_circuits_equally_high_point_at_the_test_itself() -> None:
    """Reference, leads or load, not the harness, when circuits that share nothing are high alike."""
    high = judged(*(reading(f"c{i}", 0.9 + i / 100) for i in range(1, 5)))
    found = all_equally_high(MACHINE, high)
    assert found is not None
    assert "4 circuits" in found.what
    assert "reference" in found.hint
    assert all_equally_high(MACHINE, [*high, judge(MACHINE, reading("c5", 0.3))]) is None
    assert all_equally_high(MACHINE, [*high[:3], judge(MACHINE, reading("c5", 2.9))]) is None
    assert all_equally_high(MACHINE, high[:2]) is None


def test_circuits_that_share_an_element_may_all_be_high_for_a_reason() -> None:
    """What they share explains it, so the test is not blamed."""
    shared = Element(wire="trunk", mm2=1.5, metres=1.0)
    machine = MACHINE.model_copy(update={"circuits": {n: (p[0], shared, *p[1:]) for n, p in MACHINE.circuits.items()}})
    fresh = Machine.model_validate(machine.model_dump())
    assert all_equally_high(fresh, [judge(fresh, reading(f"c{i}", 0.9)) for i in range(1, 5)]) is None
