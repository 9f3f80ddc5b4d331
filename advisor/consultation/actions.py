"""What could be done now: questions to the operator, checks at their places, what is done together at an open plug, load tests."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from advisor.consultation.answers import LOAD_TEST, normal_result
from advisor.consultation.in_force import MOST_TAKES
from advisor.consultation.situation import Situation
from advisor.model.case import STAYED_GOOD, Reading
from advisor.model.finding import NOT_LISTED
from advisor.model.knowledge import Check, First
from advisor.model.stage import ASK
from advisor.reasoning.likelihoods import Space, check_places
from advisor.reasoning.planning import Action

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

READING_MINUTES = 1.5  # the loaded reading of one run that is apart, leads in place; common practice, no source
AGAIN = 0.5  # strength, in log terms, of what is done again: what hid the fault once may hide it still
TOGETHER = "*"  # in the key of an action: at every place of a plug
LEAST_SPREAD = 0.02  # by which chances must differ between suspects for a check to be worth a thought
LEAST_SHARE = 1e-4  # of a suspect that is thought of


def open_actions(s: Situation) -> list[Action]:
    """What could be done now and tells something; what is held, not possible here or waits for another result is left out."""
    found: list[Action] = []
    for check in s.knowledge.checks.values():
        if check.at == "section" or s.held(check) or not s.can(check) or not first_known(s, check):
            continue
        if check.stage == ASK:
            found += _questions(s, check)
        else:
            found += _at_places(s, check)
    asked_for = waited_for(s)
    return [a for a in found if a.key[0] in asked_for or _tells(s, a)] + open_readings(s)


def waited_for(s: Situation) -> frozenset[str]:
    """The checks that a hold in force waits for."""
    rules = [s.knowledge.rules[h.rule] for h in s.assessment.holds]
    return frozenset(p.negated.answer for r in rules for p in r.when if p.negated is not None and p.negated.answer is not None)


def first_known(s: Situation, check: Check) -> bool:
    """Whether the results that must be there before a check are there.

    What only has to come first, whatever its result, is not waited for where it was left out.
    """
    return all(any(r in first.is_ for r in s.results(first.check, None)) or _only_first(s, first) for first in check.needs_first)


def _only_first(s: Situation, first: First) -> bool:
    order = all(r.id in first.is_ for r in s.knowledge.checks[first.check].results)
    return order and s.left_out(first.check, None)


def _questions(s: Situation, check: Check) -> Iterator[Action]:
    known = check.machine is not None and getattr(s.machine, check.machine, None) is not None
    told = s.space.complaint is not None and check.id in s.space.complaint.answers
    if not known and not told and not s.done(check.id, None) and not (check.id == STAYED_GOOD and _said_after_a_run(s)):
        yield Action((check.id, ""), s.table(check, None), check.minutes)


def _said_after_a_run(s: Situation) -> bool:
    """Whether somebody said after a run how long the fault stayed away: nobody is asked the same twice."""
    return any(ran.stayed is not None for episode in s.episodes for ran in episode.runs.values())


def _at_places(s: Situation, check: Check) -> Iterator[Action]:
    """A check at each of its places, and at all places of one plug together."""
    left: dict[str, list[str]] = {}
    for place in check_places(check, s.machine):
        again = worth_again(s, check, place)
        if not again and s.done(check.id, place):
            continue
        errand = s.errand(check, place)
        if not s.reachable(errand):
            continue
        table = table_of(s, check, place, again=again)
        minutes = check.minutes + check.again_minutes * again
        yield Action((check.id, place or ""), table, minutes, errand)
        point = s.machine.elements[place].point if place in s.machine.elements else None
        if check.together is not None and point is not None and not again:
            left.setdefault(point, []).append(str(place))
    for point, places in left.items():
        if len(places) > 1:
            minutes = check.minutes + (check.together or 0.0) * (len(places) - 1)
            yield Action((check.id, point, TOGETHER), together(s, check, places), minutes, s.errand(check, places[0]))


def together(s: Situation, check: Check, places: Sequence[str]) -> Floats:
    """P(what is found | suspect) where every place of a plug is looked at: nothing anywhere, or one result at one place."""
    import numpy as np

    normal = [r.normal for r in check.results].index(True)
    tables = [s.table(check, p, further=i > 0) for i, p in enumerate(places)]
    found = [np.prod([t[normal] for t in tables], axis=0)]
    for at, table in enumerate(tables):
        elsewhere = np.prod([t[normal] for i, t in enumerate(tables) if i != at], axis=0)
        found += [row * elsewhere for i, row in enumerate(table) if i != normal]
    joint = np.array(found)
    chances: Floats = joint / joint.sum(axis=0)
    return chances


def places_together(s: Situation, check: Check, point: str) -> tuple[str, ...]:
    """The places of one plug at which a check is still to be done."""
    names = [p for p in check_places(check, s.machine) if p is not None and s.machine.elements[p].point == point]
    return tuple(p for p in names if not s.done(check.id, p))


def _tells(s: Situation, action: Action) -> bool:
    """Whether an action can tell suspects apart that are still thought of."""
    import numpy as np

    thought_of = action.table[:, s.shares >= LEAST_SHARE]
    return bool(thought_of.size and np.max(thought_of.max(axis=1) - thought_of.min(axis=1)) >= LEAST_SPREAD)


def worth_again(s: Situation, check: Check, place: str | None) -> bool:
    """Whether a check that came out normal may show the fault when it is done once more.

    A fault that comes and goes may show the second time where the check says how. One that is always there shows the first
    time: to rock a plug again would only move what is at fault.
    """
    if s.comes.always or check.stage == ASK or check.again is None or s.left_out(check.id, place):
        return False
    results = s.results(check.id, place)
    return 0 < len(results) < MOST_TAKES and set(results) == {normal_result(check)}


def table_of(s: Situation, check: Check, place: str | None, *, again: bool) -> Floats:
    """P(result | suspect) of a check done now, for the first time or once more."""
    table = s.table(check, place)
    return _again(table) if again else table


def _again(table: Floats) -> Floats:
    """A table of what is done a second time."""
    raised = table**AGAIN
    found: Floats = raised / raised.sum(axis=0)
    return found


def open_readings(s: Situation) -> list[Action]:
    """Load tests not yet taken, with what each verdict would say of each suspect."""
    check = s.knowledge.checks.get(LOAD_TEST)
    if check is None or s.held(check) or not s.can(check) or s.left_out(LOAD_TEST, None):
        return []
    found = []
    for action in load_tests(s.space, [reading for _, reading in sorted(s.readings.items())]):
        section = s.machine.section(*action.key[1:])
        errand = s.errand(check, section=section)
        if s.reachable(errand):
            found.append(Action(action.key, action.table, READING_MINUTES, errand))
    return found


def load_tests(space: Space, readings: Sequence[Reading], most_takes: int = MOST_TAKES) -> tuple[Action, ...]:
    """A load test of every run not yet taken so often, with what each verdict would say of each suspect."""
    from advisor.reasoning import harness

    key = ("load tests", most_takes, *(r.model_dump_json() for r in readings))
    if key not in space.memo:
        machine = space.machine
        takes = Counter((r.circuit, r.start, r.end) for r in readings)
        sections = [s for s in machine.sections() if takes[s.circuit, s.start, s.end] < most_takes]
        actions = []
        if sections:
            # The same numbering as the ranking's harness likelihood.
            chances = harness.predict(machine, readings, sections)
            columns = element_columns(space)
            for section, chance in zip(sections, chances, strict=True):
                run = (section.circuit, section.start, section.end)
                table = chance[:, columns]
                actions.append(Action((LOAD_TEST, *run), _again(table) if takes[run] else table, READING_MINUTES))
        space.memo[key] = tuple(actions)
    found: tuple[Action, ...] = space.memo[key]
    return found


def element_columns(space: Space) -> list[int]:
    """For each suspect the column of `harness.predict` that speaks of it; 0 is "no bad element"."""
    index = {name: i + 1 for i, name in enumerate(space.machine.elements)}
    causes = space.knowledge.causes
    return [index.get(s.place or "", 0) if s.cause != NOT_LISTED and causes[s.cause].adds_resistance else 0 for s in space.suspects]
