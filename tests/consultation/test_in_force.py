"""What speaks of the fault as it stands now: checks done twice, retests, and load tests through a place repaired in vain."""

from __future__ import annotations

from functools import cache

from advisor.commands.shared import knowledge_folder
from advisor.consultation.consultation import Consultation
from advisor.consultation.episodes import episodes
from advisor.consultation.in_force import MOST_TAKES, answered, readings_in_force
from advisor.library.parser import load
from advisor.model.case import Answered, Case, Event, Opened, Ran, Reading, Repaired, Retested, State, fold
from advisor.model.knowledge import Knowledge

COMPLAINT = "position-erratic"


@cache
def knowledge() -> Knowledge:
    return load(knowledge_folder(None))


@cache
def consultation() -> Consultation:
    return Consultation(knowledge())


def case_of(*events: Event, behaviour: str = "comes-and-goes") -> Case:
    return Case((Opened(complaint=COMPLAINT, intake={"behaviour": (behaviour,)}), *events))


def state_of(*events: Event) -> State:
    return fold(case_of(*events))


def results(*events: Event) -> list[str]:
    state = state_of(*events)
    return [a.result for a in answered(state, episodes(knowledge(), consultation().machine, state))]


def wiggled(result: str) -> Answered:
    return Answered(check="wiggle-harness", result=result)


def share(cause: str, *events: Event) -> float:
    return next(s.share for s in consultation().assess(case_of(*events), plan=False).ranking if s.cause == cause)


def test_a_check_done_twice_has_two_answers() -> None:
    """What was seen once is not forgotten when the second try shows nothing."""
    assert results(wiggled("reacts"), wiggled("no-change")) == ["reacts", "no-change"]


def test_the_second_no_change_counts_less_than_the_first() -> None:
    """A wiggle that shows nothing speaks against a loose terminal; a second one speaks against it once more, but less."""
    none, once, twice = (share("terminal-backed-out", *[wiggled("no-change")] * n) for n in (0, 1, 2))
    assert none > once > twice
    assert once / none < twice / once


def test_a_third_time_tells_nothing_more() -> None:
    """Whoever does the same check over and over does not make the ranking surer each time."""
    assert share("terminal-backed-out", *[wiggled("no-change")] * 2) == share("terminal-backed-out", *[wiggled("no-change")] * 3)


def test_what_is_found_after_a_repair_takes_the_place_of_what_was_found_before() -> None:
    """The machine is another one then."""
    assert results(wiggled("reacts"), Repaired(cause="latch-not-home"), wiggled("no-change")) == ["no-change"]


def test_a_passed_retest_is_an_answer_only_when_the_fault_came_back() -> None:
    """It speaks of the repaired machine; when the fault is back, it tells that this cause is gone and the fault is not."""
    repaired = (wiggled("reacts"), Repaired(cause="latch-not-home"), Retested(by=wiggled("no-change")))
    assert results(*repaired) == ["reacts"]
    assert results(*repaired, Ran(hours=3, recurrences=1)) == ["no-change"]
    assert results(*repaired[:2], Retested(by=wiggled("reacts"))) == ["reacts"]


def reading(loaded: float, start: str = "controller", end: str = "sensor") -> Reading:
    return Reading(circuit="supply-a", start=start, end=end, reference=11.9, loaded=loaded)


def in_force(*events: Event) -> list[float]:
    state, machine = state_of(*events), consultation().machine
    return [r.loaded for r in readings_in_force(state, machine, episodes(knowledge(), machine, state)).values()]


def test_readings_through_a_joint_repaired_in_vain_are_left_out() -> None:
    """They speak of a joint that is no more; runs that do not hold it still count, and so does the retest that failed."""
    place = next(n for n, e in consultation().machine.elements.items() if e.kind == "splice")
    whole, far = reading(10.9), reading(11.7, start="bulkhead")
    repaired = (whole, far, Repaired(cause="high-resistance-splice", place=place))
    assert in_force(*repaired) == [10.9, 11.7]
    assert in_force(*repaired, Retested(by=reading(10.95))) == [11.7, 10.95]
    assert in_force(*repaired, Retested(by=reading(11.6))) == [10.9, 11.7]


def test_a_normal_check_is_offered_again_only_where_the_fault_comes_and_goes() -> None:
    """A quiet wiggle may react warm; a fault that is always there shows the first time or not at all."""
    keys = {}
    for behaviour in ("comes-and-goes", "always-there"):
        case = case_of(Answered(check="confirm-complaint", result="seen"), wiggled("no-change"), behaviour=behaviour)
        keys[behaviour] = consultation().assess(case).to_the_end
    assert ("wiggle-harness", "") in keys["comes-and-goes"]
    assert ("wiggle-harness", "") not in keys["always-there"]
    seen = Answered(check="confirm-complaint", result="seen")
    thrice = case_of(seen, *(wiggled("no-change") for _ in range(MOST_TAKES)))
    assert ("wiggle-harness", "") not in consultation().assess(thrice).to_the_end
