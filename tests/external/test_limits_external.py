"""The limits that the knowledge shows to the technician, each against the published figure.

The figures are read out of the texts of the checks, rules and repairs, so that a slip of the pen is found.
"""

from __future__ import annotations

import math
import re

import pytest
from folders import real_knowledge

from advisor.consultation.this_machine import for_machine
from advisor.model.knowledge import Check
from advisor.model.machine import generic_machine

INCH = 25.4  # mm
NEWTON = 4.4482216  # a pound-force
K = for_machine(real_knowledge(), generic_machine())  # as told for a sensor on 5 V, like that of the data sheet below


def step_of(check: Check, words: str) -> str:
    """The one step of a check that holds these words."""
    (found,) = [s for s in check.steps if words in s]
    return found


def steps_of(check: Check) -> list[str]:
    """The steps of all parts of a check."""
    return [step for part in check.sequence for step in part.steps]


def every_text() -> list[str]:
    """All that is said to a person about causes, checks and rules."""
    found = [t for c in K.checks.values() for t in (*steps_of(c), *c.mistakes, *(r.says for r in c.results))]
    found += [t for c in K.causes.values() for t in (*c.repair.steps, *c.repair.workmanship, *c.tell_tales)]
    return found + [t for r in K.rules.values() for t in (r.because, *(a.advice for a in r.then if a.advice))]


# 49 CFR 570.7 table 1 (to 10 000 lb) and 570.60 table 2 (above): wheel diameter and greatest free play at the rim, inches.
FREE_PLAY = [(16, 2.0), (18, 2.25), (20, 2.5), (22, 2.75)]


@pytest.mark.parametrize(("diameter", "play"), FREE_PLAY)
def test_free_play_at_the_steering_wheel(diameter: int, play: float) -> None:
    """Each row of the table is shown in whole millimetres and is one eighth of the diameter: 14.32 degrees of turn."""
    check = K.checks["steering-wheel-free-play"]
    shown = dict(re.findall(r"(\d+) in (\d+) mm", step_of(check, "Road vehicle limit")))
    assert len(shown) == len(FREE_PLAY)
    assert float(shown[str(diameter)]) == pytest.approx(play * INCH, abs=0.5)
    assert play / diameter == 1 / 8
    assert math.degrees(play / (diameter / 2)) == pytest.approx(14.32, abs=0.005)
    assert "14.3 degrees" in step_of(check, "Road vehicle limit")
    assert "the diameter divided by 8" in step_of(check, "Road vehicle limit")
    assert check.source == "cfr-570"


def test_play_at_the_tread_by_rim_size() -> None:
    """49 CFR 570.7(b), 570.60 table 3: 1/4 in for rims to 16 in, 3/8 in to 18 in, 1/2 in above."""
    check = K.checks["shake-steered-wheels"]
    shown = step_of(check, "Road vehicle limit")
    assert re.findall(r"([\d.]+) mm (?:to (\d+) in|(above))", shown) == [
        ("6.4", "16", ""), ("9.5", "18", ""), ("12.7", "", "above"),
    ]  # fmt: skip
    assert [pytest.approx(inches * INCH, abs=0.051) for inches in (1 / 4, 3 / 8, 1 / 2)] == [6.4, 9.5, 12.7]
    assert check.source == "cfr-570"


# UL 486A, least pull-out force in pounds by AWG, as tabulated in application sheet 114-2157, figure 7.
PULL_OUT = {24: 5, 22: 8, 20: 13, 18: 20, 16: 30, 14: 50, 12: 70, 10: 80}


def test_pull_out_forces() -> None:
    """Wherever a pull-out force stands, it is the published one in newtons, rounded up so that it is never less."""
    texts = [text for text in every_text() if "(80 % of UL 486A)" not in text]
    found = [(int(awg), int(newton)) for text in texts for newton, awg in re.findall(r"(\d+) N AWG (\d+)", text)]
    assert {awg for awg, _ in found} == {22, 20, 18, 16, 14}
    assert len(found) > 30
    for awg, newton in found:
        assert newton == math.ceil(PULL_OUT[awg] * NEWTON)
    assert K.checks["open-splice-and-pull"].source == "ul-486a"


def test_a_joint_that_stays_is_pulled_to_four_fifths() -> None:
    """NASA-STD-8739.4, 13.7.4 to 13.8.2: a pull on the product is never above 80 % of the crimp's minimum."""
    assert "stop at 80 % of UL 486A" in step_of(K.checks["open-splice-and-pull"], "36 N AWG 22")
    shown = step_of(K.checks["terminal-crimp-look"], "(80 % of UL 486A)")
    found = re.findall(r"(\d+) N AWG (\d+)", shown)
    assert len(found) == 4
    for newton, awg in found:
        assert int(newton) == math.floor(0.8 * PULL_OUT[int(awg)] * NEWTON)


# FAA AC 43.13-1B table 11-13: sizes, strands, nicked and broken ones allowed.
STRANDS = [("24 to 14", 19, 2, 0), ("12 and 10", 37, 4, 0)]


def test_strand_damage() -> None:
    """The two rows for sizes that a sensor or its feed has are shown in the check that bares the wires, and in no other way."""
    shown = step_of(K.checks["open-conduit-section"], "count strands")
    assert re.findall(r"(\d+) nicked of (\d+) \(AWG ([^)]*)\)", shown) == [(str(n), str(s), a) for a, s, n, _ in STRANDS]
    assert "none broken" in shown
    assert all(broken == 0 for *_, broken in STRANDS)
    counted = [t for t in every_text() if "nicked" in t and re.search(r"\d", t) and t != shown]
    assert len(counted) >= 2
    for text in counted:
        assert re.search(r"\b2 nicked\b", text)
        assert "19" in text
        assert "AC 43.13-1B" in text


def test_clamp_distance() -> None:
    """AC 43.13-1B, 11-96 and 11-118: supports at most 24 in apart; 600 mm is inside that, and no other figure is shown."""
    spans = {int(mm) for t in every_text() if re.search("clamp", t, re.IGNORECASE) for mm in re.findall(r"(\d{3,4}) mm", t)}
    assert spans == {600}
    assert 24 * INCH >= 600


def test_gap_between_insulation_and_barrel() -> None:
    """NASA-STD-8739.4, 10.1: at least 0.25 mm; at most 0.75 mm to AWG 20 and finer, 1.25 mm for AWG 18 and larger."""
    (shown,) = [t for t in every_text() if "gap to the barrel" in t]
    assert re.findall(r"[\d.]+ mm", shown) == ["0.25 mm", "1.25 mm", "0.75 mm"]
    assert "at most 0.75 mm at AWG 20 and finer (NASA-STD-8739.4)" in shown


# Public data sheet DSH000178 (2016) of a linear Hall sensor, 4.8.2: output in volts with a wire open, by load.
OPEN_SUPPLY = [(0.0, 0.15), (0.0, 0.20)]  # 10 to 200 kohm; 5 to 10 kohm
OPEN_GROUND = [(4.85, 5.0), (4.8, 5.0), (4.75, 5.0)]  # 10 to 200 kohm; 5 to 10 kohm; 4.5 to 10 kohm


LOW = max(top for _, top in OPEN_SUPPLY)
HIGH = min(bottom for bottom, _ in OPEN_GROUND)


def test_open_wire_bands_at_the_controller() -> None:
    """The limits shown for an open supply and an open ground enclose every published band, and no more."""
    check = K.checks["output-at-controller-pins"]
    assert f"below {LOW:g} V" in step_of(check, "supply wire open")
    assert f"above {HIGH:g} V" in step_of(check, "ground wire open")


@pytest.mark.parametrize(
    ("rule", "limit"),
    [
        ("near-zero-look-for-open-supply", f"below about {LOW:g} V"),
        ("near-supply-look-for-open-ground", f"above about {HIGH:g} V"),
    ],
)
def test_open_wire_bands_of_the_rules(rule: str, limit: str) -> None:
    """The rules for a reading at one end show the same limits, and name the sheet."""
    entry = K.rules[rule]
    assert limit in str(entry.then[0].advice)
    assert entry.source == "hall-datasheet"


def test_a_low_supply_may_show_as_high() -> None:
    """The same sheet: the sensor trips at 4.2 V, 4.5 V at the most, and its output then stands near the top."""
    rule = K.rules["low-supply-shows-as-high"]
    assert "4.2 V" in rule.because
    assert rule.source == "hall-datasheet"
    low = next(r for r in K.checks["supply-at-sensor-loaded"].results if r.id == "low")
    assert low.below is not None
    assert low.below > 4.5  # a supply that makes it trip is called low


# Open training text T-4, voltage drop testing, under load: ground 0.1 V, switch 0.3 V, a whole heavy feed 0.5 V.
@pytest.mark.parametrize(("check", "volts"), [("relay-contact-drop", 0.3), ("controller-feed-drop", 0.5)])
def test_drops_that_are_measured(check: str, volts: float) -> None:
    """The limit that parts good from bad is the published one."""
    entry = K.checks[check]
    assert entry.measure is not None
    scale = {"V": 1.0, "mV": 1000.0}[entry.measure.unit]
    assert {r.below for r in entry.results if r.below is not None} == {volts * scale}
    assert entry.source == "t4-voltage-drop"


@pytest.mark.parametrize("check", ["ground-point-drop", "frame-strap-drop"])
def test_drops_that_are_judged_in_words(check: str) -> None:
    """The same text gives 0.1 V for the ground side."""
    entry = K.checks[check]
    assert set(re.findall(r"([\d.]+) V", " ".join((entry.question, *(r.says for r in entry.results))))) == {"0.1"}
    assert entry.source == "t4-voltage-drop"


# SAE J1939-73, failure mode identifiers: what each means, in key words of our own (two public lists agree on 0 to 21 and 31).
FAULT_MODES = {
    0: ("above normal", "worst"), 1: ("below normal", "worst"), 2: ("jumps", "comes and goes"),
    3: ("voltage was too high", "higher voltage"), 4: ("voltage was too low", "joined to ground"),
    5: ("current was too low", "circuit open"), 6: ("current was too high", "joined to ground"),
    7: ("mechanism", "out of adjustment"), 8: ("Frequency", "pulse width", "period"), 9: ("message", "too seldom"),
    10: ("changed faster or slower",), 11: ("cannot say what",), 12: ("device itself bad",), 13: ("Out of calibration",),
    14: ("Special instructions",), 15: ("above normal", "mildest"), 16: ("above normal", "middle"),
    17: ("below normal", "mildest"), 18: ("below normal", "middle"), 19: ("over the bus", "error"), 20: ("drifted high",),
    21: ("drifted low",), **dict.fromkeys(range(22, 31), ("Reserved",)), 31: ("condition", "is there"),
}  # fmt: skip


def test_every_fault_mode_identifier_is_there() -> None:
    """All 32 of the five bits, and none besides."""
    assert K.fault_modes.keys() == FAULT_MODES.keys() == set(range(32))


@pytest.mark.parametrize("fmi", FAULT_MODES)
def test_fault_mode_identifiers(fmi: int) -> None:
    """Each says what it means; one public list prints 4 as joined to a higher voltage, which is wrong."""
    said = K.fault_modes[fmi].says
    assert [word for word in FAULT_MODES[fmi] if word not in said] == []
    if 22 <= fmi <= 30:
        assert K.fault_modes[fmi].suggests == {}


# Sources whose figures were seen on a public page; a further one must be looked up before it stands here.
SEEN = {
    "cfr-570", "cfr-1910-147", "cfr-56-14105", "injection-2006",
    "cfr-56-14206", "cfr-1926-600", "msha-ppm", "j1939-73", "icd-203", "ac-43-13", "ul-486a",
    "nasa-8739-4", "navpers-93500", "it0338", "hall-datasheet", "t4-voltage-drop",
}  # fmt: skip
# Figures that nobody has looked up: hand forces, cable and pull-out standards, drop by load circuit.
FROM_MEMORY_ONLY = ("R79", "J1128", "ISO 6722", "ISO 19642", "IEC 60352", "table 11-6")


def test_only_sources_that_were_seen_are_called_published() -> None:
    """Every other figure is tagged as practice or as from memory."""
    assert {s.id for s in K.sources.values() if s.kind == "published"} == SEEN
    assert {s.id: s.kind for s in K.sources.values() if s.id not in SEEN} == {
        "common-practice": "practice",
        "from-memory": "memory",
    }


def test_nothing_from_memory_is_cited_as_a_source() -> None:
    """No text and no source names a standard of which only a memory is at hand."""
    texts = [*every_text(), *(f"{s.title} {s.where}" for s in K.sources.values())]
    assert [t for t in texts if any(name in t for name in FROM_MEMORY_ONLY)] == []


@pytest.mark.parametrize(
    "check", ["battery-and-charging", "alternator-ripple", "ripple-at-sensor-supply", "stall-pressure-left-right"]
)
def test_figures_from_memory_say_so_and_give_way(check: str) -> None:
    """A check whose figures are from memory is tagged so and puts the maker's figure first."""
    entry = K.checks[check]
    assert entry.source == "from-memory"
    assert any("maker's figure" in step for step in steps_of(entry))
