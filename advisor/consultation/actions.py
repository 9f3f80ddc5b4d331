"""What could be done now: the checks and load tests that are open, and what it takes to try a suspect."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from advisor.consultation.answers import LOAD_TEST, normal_result
from advisor.consultation.cure import element_columns
from advisor.consultation.in_force import MOST_TAKES, readings_in_force
from advisor.consultation.plugs import REFERENCE_MINUTES, plugs_of
from advisor.model.case import Reading, State
from advisor.model.finding import NOT_LISTED, Assessment
from advisor.model.knowledge import Cause, Check, Knowledge
from advisor.reasoning.information import bits, bits_gained
from advisor.reasoning.likelihoods import Space, check_places
from advisor.reasoning.planning import LEAST_MINUTES, Action, Plan, Setups, Tries, Valued, try_first

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from advisor.consultation.consultation import Consultation
    from advisor.reasoning.ranking import Ranking

    Floats = NDArray[np.float64]

READING_MINUTES = 1.5  # the loaded reading of one run that is apart, leads in place; common practice, no source
LOAD_TEST_MINUTES = READING_MINUTES + REFERENCE_MINUTES
AGAIN = 0.5  # strength, in log terms, of what is done again: what hid the fault once may hide it still
WARMING_MINUTES = 20.0  # before a check is done again, warm or after some work; common practice, no source
# Share of a suspect at which it is repaired, whatever else could be asked; a judgement, no source.
SETTLED = 0.95  # shown by one proof
SETTLED_TWICE = 0.9  # shown by two proofs or more
MOST = 0.5  # least share of a suspect, for a repair without a proof; a judgement, no source
NEAR = 0.05  # of the minutes to the end: by less, no check goes before a proof of what holds most; a judgement, no source
IN_VAIN = 1440.0  # minutes that a repair in vain costs besides its own: a day until the fault is back; a judgement, no source
LEAST_BITS = 1e-9  # what a check that tells nothing seems to tell by rounding
SECOND_PERSON = "second-person"
COMES_AND_GOES = "comes-and-goes"  # the answer to the intake's question of how the fault behaves


def setups_of(knowledge: Knowledge) -> Setups:
    """Minutes and exclusions of every setup, as planning takes them."""
    entries = knowledge.setups.values()
    return Setups(
        {s.id: s.enter for s in entries},
        {s.id: s.leave for s in entries},
        {s.id: frozenset(s.excludes) for s in entries},
    )


def possible(knowledge: Knowledge, state: State, entry: Any) -> bool:
    """Whether the technician has what a check or a repair needs."""
    needs = {*entry.setups, *entry.tools}
    people = getattr(entry, "second_person", False) or any(knowledge.setups[s].second_person for s in entry.setups)
    return not (needs & state.unavailable) and not (people and SECOND_PERSON in state.unavailable)


def done(state: State, check: str, place: str | None) -> bool:
    """Whether a check has been answered or left out at a place."""
    left_out = any(s.check == check and s.place in (None, place) for s in state.skipped.values())
    return left_out or any(a.check == check and a.place in (None, place) for a in state.answers.values())


def worth_again(knowledge: Knowledge, state: State, check: Check, place: str | None) -> bool:
    """Whether a check that came out normal may show a fault that comes and goes when it is done once more."""
    if check.again is None or state.opened is None or COMES_AND_GOES not in state.opened.intake.get("behaviour", ()):
        return False
    if any(s.check == check.id and s.place in (None, place) for s in state.skipped.values()):
        return False
    results = [a.result for a in state.answers.values() if a.check == check.id and a.place in (None, place)]
    return 0 < len(results) < MOST_TAKES and set(results) == {normal_result(check)}


def _again(table: Any) -> Any:
    """A table of what is done a second time."""
    return table**AGAIN / (table**AGAIN).sum(axis=0)


def held(assessment: Assessment, check: Check) -> bool:
    return any(
        (h.kind == "check" and h.target == check.id) or (h.kind == "stage" and h.target == check.stage) for h in assessment.holds
    )


def open_actions(consultation: Consultation, state: State, ranking: Ranking, assessment: Assessment) -> list[Action]:
    """Checks and load tests that could be done now and tell something; held ones are left out."""
    knowledge, machine, space = consultation.knowledge, consultation.machine, ranking.space
    found = []
    for check in knowledge.checks.values():
        if check.at == "section" or held(assessment, check) or not possible(knowledge, state, check):
            continue
        for place in check_places(check, machine):
            again = worth_again(knowledge, state, check, place)
            if again or not done(state, check.id, place):
                table = space.table(check.id, place)
                key = (check.id, place or "")
                minutes = check.minutes + WARMING_MINUTES * again
                found.append(Action(key, _again(table) if again else table, minutes, frozenset(check.setups)))
    return found + _readings(consultation, state, ranking, assessment)


def _readings(consultation: Consultation, state: State, ranking: Ranking, assessment: Assessment) -> list[Action]:
    """Load tests not yet taken, with what each verdict would say of each suspect."""
    knowledge = consultation.knowledge
    check = knowledge.checks.get(LOAD_TEST)
    if check is None or held(assessment, check) or not possible(knowledge, state, check) or done(state, LOAD_TEST, None):
        return []
    readings = [reading for _, reading in sorted(readings_in_force(knowledge, state, consultation.machine).items())]
    return consultation.load_tests(ranking.space, readings)


def load_tests(space: Space, readings: Sequence[Reading], most_takes: int = MOST_TAKES) -> list[Action]:
    """A load test of every run not yet taken so often, with what each verdict would say of each suspect."""
    from advisor.reasoning import harness

    knowledge, machine = space.knowledge, space.machine
    takes = Counter((r.circuit, r.start, r.end) for r in readings)
    sections = [s for s in machine.sections() if takes[s.circuit, s.start, s.end] < most_takes]
    if not sections:
        return []
    # The same numbering as the ranking's harness likelihood.
    chances = harness.predict(machine, readings, sections)
    columns = element_columns(space)
    setups, actions = frozenset(knowledge.checks[LOAD_TEST].setups), []
    for section, chance in zip(sections, chances, strict=True):
        run = (section.circuit, section.start, section.end)
        table = chance[:, columns]
        if takes[run]:
            table = _again(table)
        actions.append(Action((LOAD_TEST, *run), table, READING_MINUTES, setups | plugs_of(machine, section)))
    return actions


@dataclass(frozen=True)
class Trying:
    """How each suspect would be tried, and what follows if it is the one, (suspects,).

    After a proof its repair follows; after a repair nothing does, and what it would have cost in vain falls away.
    """

    tries: Tries
    to_follow: Any  # minutes, below zero where they fall away
    by: tuple[tuple[str, str] | None, ...]  # of each suspect, the key of the check that tries it; None: its repair does


def trying(space: Space, state: State, by_repair: int | None = None) -> Trying:
    """How to try each suspect: by the cheapest of its proofs still to be done, or by the repair and the test after it.

    A repair in vain is found out only when the machine has run and the fault is back, so it costs more than its own minutes;
    a proof that comes out otherwise does not. A proof shows the cause with the chance of its table, so on average it takes
    one over that many of its minutes (search with overlook: Blackwell; Ann. Math. Stat. 38, 1967). What its proofs have
    shown is tried by repairing it, and so is `by_repair`, whatever could show it before.
    """
    import numpy as np

    knowledge, setups, repairs = space.knowledge, setups_of(space.knowledge), _repairs(space)
    minutes, needed, follows = [], [], []
    by: list[tuple[str, str] | None] = []
    for i, suspect in enumerate(space.suspects):
        own, needs = repairs[suspect.cause]
        own, follow, key = own + IN_VAIN, -IN_VAIN, None
        for check, result in _proofs(knowledge, suspect.cause) if i != by_repair else ():
            at = suspect.place if check.at is not None else None
            if done(state, check.id, at) or not possible(knowledge, state, check):
                continue
            looks = check.minutes / space.table(check.id, at)[_row(check, result), i]
            if looks + setups.cost(frozenset(check.setups), frozenset()) < own + setups.cost(needs, frozenset()):
                own, needs, follow = looks, frozenset(check.setups), repairs[suspect.cause][0]
                key = (check.id, at or "")
        if denied(knowledge, state, suspect.cause, suspect.place) or (
            key is None and not _repairable(knowledge, state, suspect.cause)
        ):
            own = max(own, knowledge.words.unlisted_minutes)  # as good as asking for help
        minutes.append(own)
        needed.append(needs)
        follows.append(follow)
        by.append(key)
    return Trying(Tries(np.array(minutes), tuple(needed)), np.array(follows), tuple(by))


def tried_first(found: Plan, ways: Trying, shares: Floats) -> bool:
    """Whether trying the likeliest suspect comes before every check.

    A check that gains next to nothing does not put off the proof of what already holds most of what is left.
    """
    if not found.actions:
        return True
    proof_of_most = ways.by[found.first_try] is not None and shares[found.first_try] >= MOST
    return found.try_now * (1 - NEAR * proof_of_most) <= found.actions[0].to_the_end + 1e-9


def most_telling(found: Plan, ways: Trying, shares: Floats, setups: Setups, present: frozenset[str]) -> Valued | None:
    """The check to take before a repair, though no check is worth its minutes by itself; None where none tells enough.

    Two steps see no gain in a check after which the same would be done whatever it shows, though several such checks together
    would change it. So the minutes that tries in vain are expected to cost are shared out over the bits that are missing, and
    the check that takes most bits away for its minutes is taken as long as those bits are worth more. `found` is the plan
    without what follows.
    """
    if not found.actions or ways.by[found.first_try] is not None:
        return None
    import numpy as np

    at_once = ways.tries.minutes + [setups.cost(needed, present) for needed in ways.tries.setups]
    in_vain = found.try_now - float(shares @ at_once)
    gained = bits_gained(shares, [v.action.table for v in found.actions])
    now = np.array([v.now for v in found.actions])
    worth = np.where(gained > LEAST_BITS, gained * in_vain - now * bits(shares), 0.0)
    rate = np.where(worth > 0, gained / np.maximum(now, LEAST_MINUTES), 0.0)
    best = int(rate.argmax())
    return found.actions[best] if rate[best] > 0 else None


def worth_of_repair(
    space: Space, state: State, shares: Floats, index: int, actions: Sequence[Action], setups: Setups, present: frozenset[str]
) -> float:
    """Expected minutes to the end when one suspect is repaired now; its share is the chance that this ends the search."""
    ways = trying(space, state, by_repair=index)
    return try_first(index, shares, ways.tries, actions, setups, present) + float(shares @ ways.to_follow)


def repairing(space: Space) -> Tries:
    """Trying each suspect by its repair and the test after it, whatever could show it before."""
    import numpy as np

    repairs = _repairs(space)
    found = [repairs[s.cause] for s in space.suspects]
    return Tries(np.array([minutes for minutes, _ in found]), tuple(needed for _, needed in found))


def _repairs(space: Space) -> dict[str, tuple[float, frozenset[str]]]:
    """Minutes and setups of the repair of each cause among the suspects; going beyond the list needs no setups."""
    knowledge, setups = space.knowledge, setups_of(space.knowledge)
    found = {c: _repair(knowledge, setups, knowledge.causes[c]) for c in {s.cause for s in space.suspects} - {NOT_LISTED}}
    found[NOT_LISTED] = (knowledge.words.unlisted_minutes, frozenset())
    return found


def _proofs(knowledge: Knowledge, cause: str) -> list[tuple[Check, str]]:
    """The checks that show a cause itself, each with the result that does."""
    if cause == NOT_LISTED:
        return []
    named = [(knowledge.checks[name], result) for name, result in knowledge.causes[cause].proof.items()]
    return [(check, result) for check, result in named if check.at != "section"]


def shown(knowledge: Knowledge, state: State, cause: str, place: str | None) -> tuple[str, ...]:
    """The checks that have shown a cause itself, at its place where the check has one."""
    proof = knowledge.causes[cause].proof if cause != NOT_LISTED else {}
    return tuple(a.check for a in state.answers.values() if proof.get(a.check) == a.result and a.place in (None, place))


def enough(share: float, seen: Sequence[str]) -> bool:
    """Whether a suspect with such a share, shown by these checks, is repaired whatever else could be asked."""
    return bool(seen) and share >= (SETTLED if len(set(seen)) == 1 else SETTLED_TWICE)


def denied(knowledge: Knowledge, state: State, cause: str, place: str | None) -> bool:
    """Whether a direct proof of a cause at its place came out otherwise, and none showed it."""
    results = [
        a.result == result
        for check, result in _proofs(knowledge, cause)
        for a in state.answers.values()
        if a.check == check.id and a.place in (None, place)
    ]
    return bool(results) and not any(results)


def _repairable(knowledge: Knowledge, state: State, cause: str) -> bool:
    return cause == NOT_LISTED or possible(knowledge, state, knowledge.causes[cause].repair)


def _row(check: Check, result: str) -> int:
    return [r.id for r in check.results].index(result)


def _repair(knowledge: Knowledge, setups: Setups, cause: Cause) -> tuple[float, frozenset[str]]:
    """Minutes of a repair with its retest, and the setups that last through both.

    A setup that the one needs and the other excludes is made and undone every time.
    """
    retest = knowledge.checks[cause.retest[0]]
    repairing, testing = frozenset(cause.repair.setups), frozenset(retest.setups)
    tested = setups.after(testing, repairing)
    repaired = setups.after(repairing, tested)
    again = setups.cost(repairing, tested) + setups.cost(testing, repaired)
    return max(1.0, cause.repair.minutes + retest.minutes + again), repaired & tested & (repairing | testing)
