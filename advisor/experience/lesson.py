"""What a closed case teaches: what each check showed of its cause, how long things took, and which answers decided."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace

from advisor.consultation.episodes import episodes
from advisor.consultation.ground import features
from advisor.consultation.shown import shown
from advisor.evidence.rows import row_for, row_names
from advisor.model.case import Answered, Case, Overridden, Reading, Reopened, Repaired, State
from advisor.model.finding import NOT_LISTED, Suspect
from advisor.model.knowledge import Check, Intake, Knowledge
from advisor.model.machine import Machine
from advisor.model.stage import ASK
from advisor.model.summary import Given, Lesson, Shown, Spent
from advisor.reasoning.likelihoods import Space, space
from advisor.reasoning.showing import showing_chance

Spaces = Callable[[Knowledge, Machine, str], Space]
QUICKEST = 0.5  # minutes: what was typed sooner after the entry before was done together with it
LONGEST = 120.0  # minutes: a longer gap was not work on this alone
LEAST_SHOWING = 0.05  # a fault that hardly showed while somebody looked teaches nothing of the row


def unproven(knowledge: Knowledge, machine: Machine, state: State) -> str:
    """Why the cause that a case was closed with is not proven by its last repair; empty when it is."""
    assert state.closed is not None
    if state.closed.cause is None or state.closed.cause == NOT_LISTED:
        return "no cause"
    done = episodes(knowledge, machine, state)
    if not done or done[-1].repair.cause != state.closed.cause:
        return "not the cause that was repaired"
    if done[-1].repair.early:
        return "repaired before its proof"
    return "" if done[-1].standing == "cured" else "no retest passed with hours run"


def lesson(knowledge: Knowledge, machine: Machine, case: Case, state: State, spaces: Spaces | None = None) -> Lesson:
    """What a closed case teaches. Raises KeyError where it names what the knowledge does not have."""
    assert state.opened is not None
    assert state.closed is not None
    unfit = unproven(knowledge, machine, state)
    if any(isinstance(e, Reopened) for e in case.events):
        unfit = "opened again"
    elif any(isinstance(e, Overridden) for n, e in enumerate(case.events) if n not in state.withdrawn):
        unfit = "done although a rule said to wait"
    done = episodes(knowledge, machine, state)
    asked = (spaces or space)(knowledge, machine, state.opened.complaint)
    found = () if unfit else tuple(_shown(asked, state, done[-1].number))
    return Lesson(
        unfit, tuple(_features(knowledge, machine, state)), found, tuple(_spent(knowledge, case, state)),
        tuple(_decided(asked, state, done[0].number if done else len(case.events))), len(done),
        any(e.standing == "failed" for e in done),
    )  # fmt: skip


def _features(knowledge: Knowledge, machine: Machine, state: State) -> Iterator[Given]:
    """What is known of the machine, of the questions that a machine file can answer."""
    asked: dict[str, Intake | Check] = {**knowledge.intake, **knowledge.checks}
    for question, given in features(knowledge, machine, state).items():
        if question in asked and asked[question].machine is not None and not asked[question].many:
            yield question, given[0]


def _shown(asked: Space, state: State, repaired: int) -> Iterator[Shown]:
    """For each check, and each row of it that speaks in full of the cause, what it showed last before the repair.

    A check done where the cause does not sit says nothing of its row. One case counts once for a row, so no case weighs more.
    """
    knowledge = asked.knowledge
    before = fold_until(state, repaired)
    comes = shown(knowledge, before)
    assert state.closed is not None
    cause = knowledge.causes[state.closed.cause or ""]
    repair = state.repairs[repaired]
    suspect = next((s for s in (Suspect(cause.id, repair.place), Suspect(cause.id)) if s in asked.suspects), None)
    at = asked.suspects.index(suspect) if suspect is not None else asked.first[cause.id]
    found: dict[tuple[str, str], Shown] = {}
    for _, answer in sorted(before.answers.items()):
        check = knowledge.checks[answer.check]
        row = row_for(check, cause)
        if check.stage == ASK or row is None or answer.result not in [r.id for r in check.results]:
            continue
        speaks = asked.speaks(check, answer.place)
        if speaks.silent[at] or speaks.part[at] < 1 or row_names(check)[speaks.which[at]] != row:
            continue
        showing = 1.0 if speaks.lasts[at] else showing_chance(check, comes, knowledge.words.showing)
        if showing >= LEAST_SHOWING:
            found[check.id, row] = Shown(check.id, row, answer.result, round(showing, 2))
    yield from found.values()


def _spent(knowledge: Knowledge, case: Case, state: State) -> Iterator[Spent]:
    """Checks and repairs that were timed: from the entry before to theirs, or as typed."""
    for before, event in itertools.pairwise(case.events):
        if isinstance(event, Reading) or before.at is None or event.at is None:
            continue
        gap = (event.at - before.at).total_seconds() / 60
        match event:
            case Answered() if event.check in knowledge.checks and QUICKEST <= gap <= LONGEST:
                check = knowledge.checks[event.check]
                if check.stage != ASK:
                    yield Spent("check", check.id, gap)
            case Repaired() if event in state.repairs.values():
                took = gap if event.minutes is None else event.minutes
                if took >= QUICKEST:
                    yield Spent("repair", event.cause, took)
            case _:
                pass


def _decided(asked: Space, state: State, repaired: int) -> Iterator[tuple[str, bool]]:
    """Each check done before the first repair, and whether another cause would lead without it.

    Priors and answers alone: rules and load tests are left aside, for they would take the whole consultation.
    """
    import numpy as np

    knowledge = asked.knowledge
    comes = shown(knowledge, fold_until(state, repaired))
    log = np.log(asked.prior)
    told: dict[str, float | np.ndarray[tuple[int], np.dtype[np.float64]]] = {}
    given = {**(state.opened.intake if state.opened else {})}
    for question, words in given.items():
        if question in knowledge.intake:
            log = log + np.log(asked.told(question, tuple(words)))
    for number, answer in sorted(state.answers.items()):
        check = knowledge.checks[answer.check]
        if number >= repaired:
            break
        if check.stage == ASK:
            log = log + np.log(asked.told(check.id, (answer.result, *answer.also)))
            continue
        at = _result(check, answer.result)
        if at is not None:
            said = np.log(asked.table(check.id, answer.place, showing_chance(check, comes, knowledge.words.showing))[at])
            told[check.id] = told.get(check.id, 0.0) + said
    whole = log + sum(told.values())
    lead = _leader(asked, whole)
    for name, part in told.items():
        yield name, _leader(asked, whole - part) != lead


def fold_until(state: State, number: int) -> State:
    """A state with the answers before an event alone: what was seen of the fault until then."""
    answers = {n: a for n, a in state.answers.items() if n < number}
    return replace(state, answers=answers, repairs={})


def _result(check: Check, result: str) -> int | None:
    names = [r.id for r in check.results]
    return names.index(result) if result in names else None


def _leader(asked: Space, log: object) -> str:
    """The cause with the greatest share, all its places together."""
    import numpy as np

    weights = np.exp(np.asarray(log) - np.max(np.asarray(log)))
    totals: dict[str, float] = {}
    for suspect, weight in zip(asked.suspects, weights, strict=True):
        totals[suspect.cause] = totals.get(suspect.cause, 0.0) + float(weight)
    return max(totals, key=lambda c: (totals[c], c))
