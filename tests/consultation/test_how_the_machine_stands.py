"""How the machine stands before, during and after each step, on a machine with a hinge, with steered wheels, and on tracks."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

import pytest
from folders import real_knowledge

from advisor.consultation.again import first_unfit
from advisor.consultation.consultation import Consultation
from advisor.consultation.safety import cautions_of
from advisor.consultation.situation import Situation
from advisor.consultation.steps import back_to_work, moved, prepared, work_of
from advisor.model.case import Answered, Case, Event, Moved, Opened, Reading, Undone, fold
from advisor.model.finding import Step
from advisor.model.knowledge import Part
from advisor.model.machine import Machine, generic_machine
from advisor.model.stage import ASK
from advisor.model.undo import taken_back

K = real_knowledge()
HINGE = {"steering": ("hinge",)}
WHEELS = {"steering": ("front-wheels",)}
TRACKS = {"steering": ("tracks-or-skid",)}


@cache
def consultation() -> Consultation:
    return Consultation(K)


def at(intake: dict[str, tuple[str, ...]], *events: Event, **stand: str) -> Situation:
    """A case on a machine that stands as given, everything else as at work."""
    found = (Moved(to={n.replace("_", "-"): v for n, v in stand.items()}, found=True),) if stand else ()
    return consultation().situation(Case((Opened(complaint="motion-without-steering", intake=intake), *events, *found)))


def check(s: Situation, name: str, place: str | None = None, *, kind: str = "check") -> Step:
    """A check, with the way to it."""
    return prepared(s, Step(kind, name, K.checks[name].title, place, minutes=K.checks[name].minutes))


def repair(s: Situation, cause: str, place: str | None = None) -> Step:
    """A repair, with the way to it."""
    return prepared(s, Step("repair", cause, K.causes[cause].title, place))


def moves(step: Step) -> list[str]:
    """The moves on the way, in their order."""
    return [m.move for leg in step.legs for m in leg.moves]


class Moment(NamedTuple):
    """A part of a step, and how the machine stands then."""

    part: Part
    stand: dict[str, str]


def moments(s: Situation, step: Step) -> Iterator[Moment]:
    """Every part of a step with how the machine stands while it is done."""
    for leg, part in zip(step.legs, work_of(s, step).sequence, strict=True):
        yield Moment(part, dict(leg.stand))


def after(step: Step) -> dict[str, str]:
    """How the machine stands when a step is done."""
    return {**dict(step.legs[-1].stand), **dict(step.legs[-1].leaves)}


def left(intake: dict[str, tuple[str, ...]], step: Step) -> Situation:
    """A case on the machine as a step leaves it."""
    changed = {n: v for n, v in after(step).items() if v != dict(zip(*work(intake), strict=True))[n]}
    return consultation().situation(
        Case((Opened(complaint="motion-without-steering", intake=intake), Moved(to=changed, found=True)))
    )


def work(intake: dict[str, tuple[str, ...]]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The names of what can change on a machine, and how it is at work."""
    s = at(intake)
    return s.ground.names, s.ground.value_names(s.ground.work)


def cautions(s: Situation, step: Step) -> set[str]:
    """The cautions before a step."""
    return set(cautions_of(K, s.machine, step, work_of(s, step)))


# ---- steering, lock and blocks


@pytest.mark.parametrize(
    "cause", ["steering-valve-leak", "guidance-valve-leak", "crossport-valve-leak", "metering-unit-worn", "cylinder-internal-leak"]
)
def test_a_retest_of_a_steering_repair_frees_the_hinge_before_anything_steers(cause: str) -> None:
    """A locked frame cannot creep, so "stands still" would prove nothing."""
    mended = repair(at(HINGE), cause)
    s = left(HINGE, mended)
    for name in K.causes[cause].retest:
        again = check(s, name, kind="retest")
        for part, stand in moments(s, again):
            needs_oil = part.steers or "live" in part.needs.get("pressure", ())
            if needs_oil or name in ("creep-engine-running", "steering-wheel-at-stop", "lock-stops-reached"):
                assert stand["hinge"] == "free", name


@pytest.mark.parametrize("name", ["creep-engine-running", "lock-stops-reached", "steering-wheel-at-stop", "turns-lock-to-lock"])
def test_the_lock_is_out_before_a_check_that_moves_the_frame(name: str) -> None:
    """With the lock fitted the way to such a check begins by taking it out."""
    s = at(HINGE, hinge="locked", position="straight")
    step = check(s, name)
    assert "unlock-hinge" in moves(step)
    moving = [stand for part, stand in moments(s, step) if part.steers]
    assert moving
    assert all(stand["hinge"] == "free" for stand in moving)


@pytest.mark.parametrize("intake", [HINGE, WHEELS, TRACKS], ids=["hinge", "wheels", "tracks"])
def test_nobody_ever_steers_against_a_lock_or_with_the_sensor_off(intake: dict[str, tuple[str, ...]]) -> None:
    """Every part of every check that steers, from a machine that is locked, blocked and has its sensor off."""
    locked = {"stand": "blocked", "position": "straight", "sensor": "off", "cover": "off"}
    locked |= {"hinge": "locked"} if intake is HINGE else {"wheels": "blocked"} if intake is WHEELS else {}
    s = at(intake, **locked)
    for name in (n for n, c in K.checks.items() if c.stage != ASK and c.at is None):
        for part, stand in moments(s, check(s, name)):
            if part.steers:
                assert stand.get("hinge") != "locked", name
                assert stand.get("wheels") != "blocked", name
                assert stand["sensor"] == "on", name


def test_a_machine_without_a_hinge_is_never_asked_for_a_lock_bar() -> None:
    """Steered wheels are blocked instead, and nothing in a step speaks of the lock."""
    for intake in (WHEELS, TRACKS):
        s = at(intake)
        for name in (n for n, c in K.checks.items() if c.stage != ASK and c.at is None):
            step = check(s, name)
            assert "lock-hinge" not in moves(step)
            assert "hinge" not in dict(step.legs[0].stand)
            assert "fit-articulation-lock" not in cautions(s, step), name
    assert "block-wheels" in moves(check(at(WHEELS), "coupling-grip"))


def test_the_machine_file_says_what_steers_though_nobody_was_asked() -> None:
    """A file that is given later, or an intake that was passed over, brings no lock bar to a machine without a hinge."""
    whole = generic_machine().model_dump(by_alias=True, exclude_none=True) | {"steering": "front-wheels"}
    opened = Opened(complaint="motion-without-steering", machine=whole)
    s = Consultation(K, Machine.model_validate(whole)).situation(Case((opened,)))
    assert "hinge" not in s.ground.names
    assert "wheels" in s.ground.names


@pytest.mark.parametrize("name", ["sensor-bracket-push", "sensor-rod-ends", "coupling-grip"])
def test_hands_at_the_sensor_drive_wait_for_the_lock_and_the_key(name: str) -> None:
    """On a machine with a hinge the lock is in and the key is out, and its caution stands before the step."""
    s = at(HINGE, engine="running", key="on", pressure="live")
    step = check(s, name)
    for part, stand in moments(s, step):
        if part.hands in ("hinge", "drive"):
            assert (stand["hinge"], stand["key"], stand["engine"], stand["stand"]) == ("locked", "out", "off", "blocked")
    assert "fit-articulation-lock" in cautions(s, step)


def test_a_repair_at_the_coupling_waits_for_the_lock_too() -> None:
    """Fingers are at the drive in a repair as in a check."""
    s = at(HINGE)
    step = repair(s, "sensor-coupling-loose")
    assert all(m.stand["hinge"] == "locked" for m in moments(s, step) if m.part.hands == "drive")
    assert "fit-articulation-lock" in cautions(s, step)


def test_what_is_steered_is_steered_before_the_machine_is_locked_and_blocked() -> None:
    """A lock bar fits only with the machine straight, and chocked wheels hold a frame that must turn: straighten first."""
    order = moves(check(at(HINGE), "coupling-grip"))
    assert order.index("steer-straight") < order.index("take-key-out") < order.index("block-machine") < order.index("lock-hinge")


# ---- engine, pressure and gauge


def test_the_engine_is_off_and_the_gauge_at_zero_before_hands_go_in() -> None:
    """The gauge check runs the engine. Afterwards the coupling is not touched before engine, key and pressure are right."""
    s = at(HINGE)
    gauge = check(s, "stall-pressure-left-right")
    now = left(HINGE, gauge)
    for part, stand in moments(now, check(now, "coupling-grip")):
        if part.hands == "drive":
            assert (stand["engine"], stand["key"]) == ("off", "out")
            assert stand["gauge"] == "none" or stand["pressure"] != "live"


def test_a_gauge_goes_on_and_off_only_without_pressure() -> None:
    """The pressure is let down before the gauge is fitted, and once more after the engine ran with it."""
    step = check(at(HINGE), "stall-pressure-left-right")
    order = moves(step)
    assert order.index("relieve-pressure") < order.index("fit-gauge") < len(order) - 1 - order[::-1].index("start-engine")
    home = back_to_work(left(HINGE, step), Step("run", "run", "Run"))
    back = moves(home)
    assert back.index("stop-engine") < back.index("relieve-pressure") < back.index("take-gauge-off")


@pytest.mark.parametrize(("relief", "by"), [("by-release", "relieve-pressure"), ("by-wheel", "relieve-pressure-by-wheel")])
def test_pressure_is_let_down_as_this_machine_allows(relief: str, by: str) -> None:
    """Turning the wheel lets nothing down where an electric valve steers; both ways end with zero on a gauge."""
    machine = generic_machine().model_copy(update={"relief": relief})
    whole = machine.model_dump(by_alias=True, exclude_none=True)
    opened = Opened(complaint="motion-without-steering", intake=HINGE, machine=whole)
    s = Consultation(K, machine).situation(Case((opened,)))
    assert by in moves(check(s, "stall-pressure-left-right"))
    assert any("zero" in text.lower() or "0 bar" in text for text in K.moves[by].steps)


def test_pressure_that_the_engine_brought_back_is_not_believed_away() -> None:
    """After the engine has run, a line is opened only when the pressure was let down anew."""
    s = at(HINGE, pressure="relieved")
    ran = check(s, "creep-engine-running")
    assert after(ran)["pressure"] != "relieved"
    assert "relieve-pressure" in moves(repair(left(HINGE, ran), "steering-valve-leak"))


# ---- battery and plugs


@pytest.mark.parametrize("intake", [HINGE, WHEELS, TRACKS], ids=["hinge", "wheels", "tracks"])
def test_plugs_are_home_before_the_battery_is_connected(intake: dict[str, tuple[str, ...]]) -> None:
    """After a load test the way back to work refits every plug first, connects once, and takes the chocks away last."""
    s = at(
        intake,
        battery="off",
        panel="off",
        stand="blocked",
        position="straight",
        **{"plug:controller": "apart", "plug:sensor": "apart"},
    )
    order = moves(back_to_work(s, Step("run", "run", "Run")))
    assert max(i for i, m in enumerate(order) if m.startswith("close-")) < order.index("connect-battery")
    assert order.index("connect-battery") < order.index("take-chocks-away")
    assert order.count("connect-battery") == order.count("close-controller-plug") == 1


def test_the_battery_is_disconnected_once_for_work_that_follows_on_work() -> None:
    """It was taken off for the plugs; the conduit that is opened next does not order it again."""
    s = at(HINGE, battery="off", panel="off", stand="blocked", hinge="locked", position="straight", **{"plug:controller": "apart"})
    assert "disconnect-battery" not in moves(check(s, "open-conduit-section"))


def test_battery_off_means_every_battery_off_and_no_voltage_at_the_feed() -> None:
    """A second battery or a charger keeps a circuit live."""
    text = " ".join(K.moves["disconnect-battery"].steps)
    assert "every" in text.lower()
    assert "0 V" in text


@pytest.mark.parametrize("name", ["terminal-drag", "reseat-effect", "contact-swab", "controller-plug-look"])
def test_the_controller_plug_is_opened_with_panel_and_battery_off_and_a_word_on_static(name: str) -> None:
    """Whoever opens it for whatever check."""
    s = at(HINGE)
    places = {None: None, "terminal": "controller:1", "point": "controller"}
    step = check(s, name, places[K.checks[name].at])
    opened = [m for m in moves(step) if m in ("open-controller-plug", "fit-controller-lead")]
    if opened:
        order = moves(step)
        assert order.index("take-panel-off") < order.index(opened[0])
        assert order.index("disconnect-battery") < order.index(opened[0])
        assert "static-discharge" in cautions(s, step)
    parts = [stand for part, stand in moments(s, step) if part.hands == "plug"]
    assert opened or all(stand["plug:controller"] == "home" for stand in parts)


def test_a_load_test_opens_both_ends_with_the_battery_off() -> None:
    """The load is never on a circuit that is plugged in."""
    s = at(HINGE)
    circuit = next(iter(s.machine.circuits))
    first, last = s.machine.circuit_points(circuit)[0], s.machine.circuit_points(circuit)[-1]
    step = prepared(s, Step("reading", "load-test", "Load test", circuit=circuit, start=first, end=last))
    loaded = [stand for part, stand in moments(s, step) if part.loads]
    assert loaded
    assert all(x["plug:controller"] == x["plug:sensor"] == "apart" and x["battery"] == "off" for x in loaded)
    told = cautions(s, step)
    assert {"unplug-both-ends", "battery-disconnect", "static-discharge", "load-gets-hot", "battery-gas"} <= told


def test_the_lead_is_fitted_with_the_key_out_and_its_plug_is_put_together_again() -> None:
    """A breakout lead opens the plug as unplugging does; what the plug showed before is worth less then."""
    for name in ("fit-lead", "fit-controller-lead"):
        assert set(K.moves[name].when["key"]) == {"out"}
        assert K.moves[name].hands == "plug"
        assert K.moves[name].disturbs
    s = at(HINGE, engine="running", key="on", pressure="live")
    order = moves(check(s, "output-sweep"))
    assert order.index("take-key-out") < order.index("fit-lead") < order.index("turn-key-on")


# ---- what hangs on a key that is on


@pytest.mark.parametrize("intake", [HINGE, WHEELS, TRACKS], ids=["hinge", "wheels", "tracks"])
def test_no_caution_contradicts_how_the_machine_stands(intake: dict[str, tuple[str, ...]]) -> None:
    """Where every part of a check has the key on or the engine running, no caution of the check itself says key out."""
    s = at(intake, key="on")
    for name in (n for n, c in K.checks.items() if c.stage != ASK and c.at is None):
        step = check(s, name)
        if not moves(step) and all(stand["key"] == "on" for _, stand in moments(s, step)):
            assert not {"block-the-machine", "key-in-your-pocket", "engine-off-for-hands"} & cautions(s, step), name


def test_hands_leave_the_harness_before_the_engine_runs() -> None:
    """With uncommanded steering as the complaint a harness is moved by hand only with the engine off."""
    s = at(HINGE)
    for name in (n for n, c in K.checks.items() if c.stage != ASK and c.at is None):
        for part, stand in moments(s, check(s, name)):
            if part.hands != "none":
                assert stand["engine"] == "off", name


def test_with_the_key_on_somebody_is_told_that_the_steering_can_move() -> None:
    """An electric pump or an accumulator moves it without the engine."""
    s = at(HINGE)
    assert "key-on-can-move" in cautions(s, check(s, "wiggle-harness"))


# ---- after interruptions


def test_taking_an_answer_back_leaves_the_machine_as_it_was_before_the_way_to_it() -> None:
    """The moves that belong to a step go with its answer."""
    s = at(HINGE)
    step = check(s, "coupling-grip")
    before = moved(step)[0]
    case = Case(
        (Opened(complaint="motion-without-steering", intake=HINGE), *before, Answered(check="coupling-grip", result="tight"))
    )
    assert fold(case).stand["hinge"] == "locked"
    back = Case((*case.events, *(Undone(number=n) for n in taken_back(case))))
    assert fold(back).stand == {}
    assert first_unfit(K, back) is None


def test_the_sensor_is_on_for_every_retest_that_moves_it_and_for_every_run() -> None:
    """A repair that fits it leaves it on; one that leaves it off has it fitted on the way."""
    assert after(repair(at(HINGE), "sensor-coupling-loose"))["sensor"] == "on"
    for cause, entry in K.causes.items():
        if entry.place == "none":
            s = left(HINGE, repair(at(HINGE), cause))
            for name in (n for n in entry.retest if K.checks[n].at is None):
                assert all(x["sensor"] == "on" for part, x in moments(s, check(s, name, kind="retest")) if part.steers), cause
            assert after(back_to_work(s, Step("run", "run", "Run")))["sensor"] == "on", cause


def test_lines_are_capped_only_where_the_machine_was_seen_to_drift() -> None:
    """The forty minutes of capping tell nothing where the drift test held."""
    wanted = {f.check: f.is_ for f in K.checks["valve-lines-capped"].needs_first}
    assert wanted["drift-engine-off"] == ("drifts",)


def test_a_splice_is_not_opened_before_its_circuit_was_loaded() -> None:
    """An opened splice is another splice: there is nothing left to compare a load test with."""
    s = at(HINGE)
    waits = [h.rule for h in s.held(K.checks["open-splice-and-pull"])]
    circuit = next(iter(s.machine.circuits))
    first, last = s.machine.circuit_points(circuit)[0], s.machine.circuit_points(circuit)[-1]
    read = Reading.model_validate({"circuit": circuit, "from": first, "to": last, "reference": 12.0, "loaded": 10.0})
    ended = set(waits) - {h.rule for h in at(HINGE, read).held(K.checks["open-splice-and-pull"])}
    assert len(ended) == 1
    assert K.rules[ended.pop()].then[0].hold.check == "open-splice-and-pull"
