"""What is recommended next: rules over arithmetic, no repair on suspicion, and no step that cannot be begun."""

from __future__ import annotations

import random
from functools import cache
from typing import Any

import pytest
from builders import trade_knowledge
from worlds import COMPLAINT, cause, check, knowledge, words

from advisor.consultation.advice import advise
from advisor.consultation.answers import LOAD_TEST, normal_result
from advisor.consultation.consultation import Consultation
from advisor.consultation.situation import Situation
from advisor.electrical.wiring import wiring_parts
from advisor.model.case import Answered, Case, Event, Limited, Moved, Opened, Ran, Repaired, Retested, fold
from advisor.model.finding import Leg, Step
from advisor.model.knowledge import Knowledge
from advisor.model.stage import ASK
from advisor.reasoning.likelihoods import check_places

SLIPS = (("confirm-complaint", "seen"), ("watch-wheel-against-reading", "reading-moves-alone"), ("coupling-grip", "slips"))


@cache
def consultation() -> Consultation:
    return Consultation(trade_knowledge())


def case_of(complaint: str, *answers: tuple[str, str], behaviour: str = "comes-and-goes") -> Case:
    opened = Opened(complaint=complaint, intake={"behaviour": (behaviour,)})
    return Case((opened, *(Answered(check=c, result=r) for c, r in answers)))


def next_of(case: Case) -> Step:
    found = consultation().assess(case).next
    assert found is not None
    return found


def asked(case: Case) -> tuple[Case, Step]:
    """The case with every question answered that is recommended, each by what is told most often, and the step after them."""
    while trade_knowledge().checks.get((step := next_of(case)).id, None) and trade_knowledge().checks[step.id].stage == ASK:
        usual = max(trade_knowledge().checks[step.id].results, key=lambda r: r.usual or 0.0)
        case = case.then(Answered(check=step.id, result=usual.id))
    return case, step


def on_the_way(case: Case, most: int) -> tuple[Case, Step]:
    """The case after at most so many further looks, each with nothing found, and the step after them."""
    for _ in range(most + 1):
        case, step = asked(case)
        if step.kind != "check":
            break
        case = case.then(Answered(check=step.id, result=normal_result(trade_knowledge().checks[step.id]), place=step.place))
    return case, step


def stand(leg: Leg) -> dict[str, str]:
    return dict(leg.stand)


@pytest.mark.parametrize("complaint", sorted(trade_knowledge().complaints))
def test_nothing_is_touched_before_the_complaint_was_seen(complaint: str) -> None:
    """Whatever the complaint, questions come first, and then the look for the complaint itself."""
    _, step = asked(case_of(complaint))
    assert (step.kind, trade_knowledge().checks[step.id].stage) == ("check", "confirm")


def test_a_defect_that_was_shown_is_repaired() -> None:
    """A coupling that was felt to slip is repaired after one further look at most, and the reason names what showed it."""
    _, step = on_the_way(case_of("motion-without-steering", *SLIPS, ("coupling-stripe", "broken")), 1)
    assert (step.kind, step.id) == ("repair", "sensor-coupling-loose")
    assert "Shown by" in step.reason[0]


@pytest.mark.parametrize("seed", range(12))
def test_nothing_is_repaired_on_suspicion(seed: int) -> None:
    """A repair is recommended only when its cause was shown, or when each proof was tried or cannot be done here."""
    dice, k = random.Random(seed), trade_knowledge()
    case = case_of(dice.choice(sorted(k.complaints)))
    if seed % 3 == 0:
        case = case.then(Limited(what="load-tester"))
    for _ in range(8):
        s = consultation().situation(case)
        step = advise(s).next
        if step.kind == "repair":
            proof = [k.checks[name] for name in k.causes[step.id].proof]
            still = {c.id for c in proof if s.can(c) and not s.done(c.id, step.place if c.at not in (None, "section") else None)}
            shown = set(s.proofs_seen(step.id, step.place))
            reachable = {c for c in still if s.approach(s.errand(k.checks[c], step.place)) is not None and not s.held(k.checks[c])}
            assert shown - {LOAD_TEST} or reachable <= shown
            return
        if step.kind != "check":
            return
        entry = k.checks[step.id]
        place = step.places[0] if step.places else step.place
        assert place in check_places(entry, s.machine)
        case = case.then(Answered(check=step.id, result=dice.choice(entry.results).id, place=place))


def test_engine_and_key_are_off_before_hands_go_in() -> None:
    """However the check before it needed them, a repair at the drive of the sensor begins with the machine dead and locked."""
    case = case_of("motion-without-steering", *SLIPS, ("coupling-stripe", "broken"))
    _, step = on_the_way(case.then(Moved(to={"engine": "running", "key": "on"})), 1)
    assert (step.kind, step.id) == ("repair", "sensor-coupling-loose")
    before = stand(step.legs[0])
    assert (before["engine"], before["key"], before["hinge"]) == ("off", "out", "locked")


def test_the_machine_is_put_back_in_an_order_that_works() -> None:
    """Before the run the sensor goes back on before the lock comes away, and the key goes in last."""
    repaired = Repaired(cause="sensor-coupling-loose")
    case = case_of("position-erratic", ("coupling-grip", "slips"))
    case = case.then(Moved(to={"key": "out", "engine": "off", "hinge": "locked", "sensor": "off", "position": "straight"}))
    case = case.then(repaired).then(Retested(by=Answered(check="coupling-stripe", result="whole")))
    step = next_of(case)
    names = [m.move for leg in step.legs for m in leg.moves]
    assert step.kind == "run"
    assert names.index("put-sensor-on") < names.index("unlock-hinge")


# ---- with made-up knowledge


SHOWS = {"bad": "almost-certain"}, {"bad": "almost-no-chance"}


def made(*changes: dict[str, Any]) -> Knowledge:
    """Three causes, each with a check that shows it; `changes` are those of the checks."""
    names = ("gear", "spring", "wire")
    looks = [
        check(f"see-{n}", {n: SHOWS[0], "otherwise": SHOWS[1]}, **c) for n, c in zip(names, (*changes, {}, {}, {})[:3], strict=True)
    ]
    return knowledge([cause(n, proof={f"see-{n}": "bad"}, retest=f"see-{n}") for n in names], looks)


def situation(k: Knowledge, *events: Event, always: bool = True) -> Situation:
    behaviour = "always-there" if always else "comes-and-goes"
    opened = Opened(complaint=COMPLAINT, intake={"behaviour": (behaviour,)})
    return Consultation(k).situation(Case((opened, *events)))


def test_a_check_waits_for_the_result_that_gives_it_sense() -> None:
    """What must be known first is looked at first, and the check that waits is not on the list until it came out so."""
    k = made({}, {"needs_first": [{"check": "see-gear", "is": "good"}], "minutes": 0})
    before = advise(situation(k))
    assert ("see-spring", "") not in before.to_the_end
    assert ("see-spring", "") in advise(situation(k, Answered(check="see-gear", result="good"))).to_the_end
    assert ("see-spring", "") not in advise(situation(k, Answered(check="see-gear", result="bad"))).to_the_end


def test_what_cannot_change_what_is_done_next_is_not_asked() -> None:
    """A check that comes out alike for every suspect is not offered at all."""
    blind = check("blind", {"otherwise": {"bad": "roughly-even"}}, minutes=0)
    k = made()
    k = k.model_copy(update={"checks": {**k.checks, "blind": blind}})
    assert ("blind", "") not in advise(situation(k)).to_the_end


def test_after_a_repair_in_vain_another_suspect_leads() -> None:
    """The place is as good as new: what was shown and mended does not lead on, and its proof is no second witness."""
    seen = Answered(check="see-gear", result="bad")
    s = situation(
        made(), seen, Repaired(cause="gear"), Retested(by=Answered(check="see-gear", result="good")), Ran(hours=1, recurrences=1)
    )
    assert s.ranking.of("gear") < 0.2
    assert advise(s).next.id != "gear"


def test_a_retest_that_failed_says_that_the_repair_failed() -> None:
    """Seen again by the same test right after the repair, the suspect is not cleared: the repair itself may be bad."""
    seen = Answered(check="see-gear", result="bad")
    again = situation(made(), seen, Repaired(cause="gear"), Retested(by=seen))
    came_back = situation(
        made(), seen, Repaired(cause="gear"), Retested(by=Answered(check="see-gear", result="good")), Ran(hours=1, recurrences=1)
    )
    assert again.last is not None
    assert again.last.standing == "failed"
    assert again.ranking.of("gear") > came_back.ranking.of("gear")


def test_a_repair_in_vain_costs_a_visit_only_where_the_fault_comes_and_goes() -> None:
    """An always-there fault shows in the retest itself; one that comes and goes sends the machine out and back."""
    from advisor.consultation.tries import in_vain

    assert in_vain(situation(made())) == 0.0
    assert in_vain(situation(made(), always=False)) == words().visit_minutes


def test_work_at_one_open_plug_is_one_step() -> None:
    """The cavities of a plug are looked at together: one step with several places, cheaper than each by itself."""
    drag = check("drag", {"spread": SHOWS[0], "otherwise": SHOWS[1]}, at="terminal", together=0.5, minutes=4)
    spread = cause("spread", place="terminal", proof={"drag": "bad"}, retest="drag")
    step = advise(situation(knowledge([spread], [drag]))).next
    assert (step.kind, step.id) == ("check", "drag")
    assert len(step.places) > 1
    assert step.minutes == 4 + 0.5 * (len(step.places) - 1)


def test_what_is_known_of_the_fault_decides_how_much_a_quiet_check_says() -> None:
    """A wiggle that shows nothing clears a fault that is always there, and says little of one that comes and goes."""
    wiggle = check("wiggle", {"gear": SHOWS[0], "otherwise": SHOWS[1]}, lasts=False, provokes="a-little")
    k = knowledge(
        [cause("gear", proof={"wiggle": "bad"}, retest="wiggle"), cause("spring", proof={"wiggle": "bad"}, retest="wiggle")],
        [wiggle],
    )
    quiet = Answered(check="wiggle", result="good")
    always, sometimes = situation(k, quiet), situation(k, quiet, always=False)
    assert always.ranking.of("gear") < 0.1 < sometimes.ranking.of("gear")


def test_a_step_counts_the_events_it_rests_on() -> None:
    """A case's state is what its events add up to, for the decision as for the record."""
    case = case_of("motion-without-steering", *SLIPS)
    assert consultation().situation(case).state == fold(case)


def test_what_was_shown_stays_shown_when_something_else_was_repaired() -> None:
    """Play that was measured in a kingpin is still there after the guidance motor was repaired in vain."""
    answers = (("kingpin-gauge", "play"),)
    case = case_of("hunting", *answers, behaviour="always-there")
    case = case.then(Repaired(cause="guidance-motor-on-column"))
    assert consultation().situation(case).proofs_seen("kingpin-play", None) == ("kingpin-gauge",)
    case = case.then(Repaired(cause="kingpin-play"))
    assert consultation().situation(case).proofs_seen("kingpin-play", None) == ()


def test_the_side_on_which_the_reading_goes_points_at_a_part_of_the_wiring() -> None:
    """Of two bad contacts the one in the ground is likelier where the reading goes high, and the one in the supply where low."""
    supply, ground = "bulkhead:1", "bulkhead:5"
    high, low = (
        {p: consultation().situation(case_of(c)).ranking.of("poor-terminal-contact", p) for p in (supply, ground)}
        for c in ("reads-high", "reads-low")
    )
    assert high[ground] > 2 * high[supply]
    assert low[supply] > 2 * low[ground]


def test_the_track_that_is_named_clears_the_wires_of_the_other() -> None:
    """Where track A alone is named, nothing that only track B runs through is thought of."""
    machine = consultation().situation(case_of("position-erratic")).machine
    case = case_of("position-erratic", ("track-named", "a"))
    ranking = consultation().situation(case).ranking
    own = wiring_parts(machine)
    of = {t: sum(ranking.of("broken-strands", e) for e in own if own[e] >= {t, "signal"}) for t in ("track-a", "track-b")}
    assert of["track-a"] > 10 * of["track-b"]


def test_a_ground_wire_that_touches_metal_is_hardly_thought_of() -> None:
    """A wire chafed through to metal does no harm where it is a ground."""
    found = consultation().situation(case_of("position-erratic"))
    own = wiring_parts(found.machine)
    shares = {part: [found.ranking.of("chafe-to-ground", e) for e in own if part in own[e]] for part in ("ground", "signal")}
    assert max(shares["ground"]) < 0.1 * max(shares["signal"])
