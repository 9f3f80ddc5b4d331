"""The one decision: what to do next in a situation, for the dialogue, for practice, for trials and for the record.

Rules overrule arithmetic: what is held waits, what can be shown is shown before it is repaired. Everything else is least
expected minutes to the end (reasoning/planning.py). What cannot change what is done next is not asked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from advisor.consultation.actions import READING_MINUTES, TOGETHER, open_actions
from advisor.consultation.answers import LOAD_TEST
from advisor.consultation.cure import reasons, run_advice
from advisor.consultation.episodes import Episode, retest_of
from advisor.consultation.situation import Situation
from advisor.consultation.steps import action_step, back_to_work, prepared, repair_step
from advisor.consultation.tries import Trying, letting_go, trying
from advisor.model.finding import NOT_LISTED, Step
from advisor.reasoning.planning import Plan, Valued, plan, try_first

if TYPE_CHECKING:
    from advisor.reasoning.planning import Action

ALTERNATIVES = 2
RUN_ON = "run-on"  # a run that has begun and is too short yet
LEAST_GAIN = 1e-6  # minutes by which a check must be better than going on without it


@dataclass(frozen=True)
class Advice:
    """The recommended step first, then the next best ones; minutes to the end of everything that could be done."""

    steps: tuple[Step, ...]
    to_the_end: Mapping[tuple[str, ...], float] = field(default_factory=dict)

    @property
    def next(self) -> Step:
        return self.steps[0]


def advise(s: Situation, *, depth: int = 2) -> Advice:
    """What to do next, with so many steps looked ahead."""
    after = _after_repair(s)
    return search(s, depth=depth) if after is None else Advice((after,))


def search(s: Situation, *, depth: int = 2) -> Advice:
    """The same where nothing is owed to a repair, or nobody waits for it."""
    actions, ways = open_actions(s), trying(s)
    found = plan(s.shares, ways.tries, actions, s.open_ground, s.stand, depth=depth).later(float(s.shares @ ways.to_follow))
    return Advice(_steps(s, found, ways, actions), {v.action.key: v.to_the_end for v in found.actions})


def _steps(s: Situation, found: Plan, ways: Trying, actions: Sequence[Action]) -> tuple[Step, ...]:
    """The step that is best, and the next best ones."""
    best = found.actions[0] if found.actions else None
    others = found.actions[: ALTERNATIVES + 1]
    for to_the_end, index in found.tries:
        if best is not None and best.to_the_end < to_the_end - LEAST_GAIN:
            chosen = action_step(s, best)
            return (_or_repair(s, chosen, actions, ways), *_told(s, others, chosen))
        step = _try(s, found, ways, index, to_the_end)
        if step is not None:
            return (step, *_told(s, others, step))
    if best is not None:
        chosen = action_step(s, best)
        return (chosen, *_told(s, others, chosen))
    return (_nothing_left(s),)


def _try(s: Situation, found: Plan, ways: Trying, index: int, to_the_end: float) -> Step | None:
    """Trying one suspect: by the check that shows it, else by its repair, else by what lets go of a hold on either.

    None where its proof came out otherwise, and where nothing can be done about a hold.
    """
    if ways.by[index] is not None:
        shows = next((v for v in found.actions if v.action.key == ways.by[index]), None)
        if shows is not None:
            return _shows(s, shows, index, to_the_end)
    repair = repair_step(s, index, to_the_end) if ways.by[index] is None else None
    if repair is not None:
        shows = _proof_first(s, index, found)
        if shows is not None:
            return _shows(s, shows, index, to_the_end)
        if not s.doubted(index):
            return replace(repair, reason=_enough(repair.reason)) if found.actions else repair
    way = _lets_go(s, index, found)
    return None if way is None else replace(action_step(s, way), to_the_end=min(way.to_the_end, to_the_end))


def _enough(reason: tuple[str, ...]) -> tuple[str, ...]:
    """The reason of a repair that comes before checks which are open: none of them could change what is done next for its price."""
    first, *rest = reason
    return f"Enough is known. {first}", "No open check saves more minutes than it takes.", *rest


def _told(s: Situation, valued: Sequence[Valued], chosen: Step) -> list[Step]:
    """The next best actions as steps, without the chosen one."""
    steps = (action_step(s, v) for v in valued)
    return [step for step in steps if step.key != chosen.key][:ALTERNATIVES]


def _or_repair(s: Situation, step: Step, actions: Sequence[Action], ways: Trying) -> Step:
    """A check before a repair that could be begun: it says what it makes surer of."""
    top = int(s.shares.argmax())
    suspect = s.suspect(top)
    if suspect.cause == NOT_LISTED or s.held_repair(suspect.cause) or not s.proofs_seen(suspect.cause, suspect.place):
        return step
    saves = worth_of_repair(s, top, actions, ways) - step.to_the_end
    surer = (
        f"This check first: the repair would be for {s.title(top).lower()}. It saves about {max(1.0, saves):.0f} min on average."
    )
    return replace(step, reason=(surer, *step.reason))


def worth_of_repair(s: Situation, index: int, actions: Sequence[Action] | None = None, known: Trying | None = None) -> float:
    """Expected minutes to the end when one suspect is repaired now; its share is the chance that this ends the search."""
    ways = trying(s, by_repair=index, known=known)
    could = open_actions(s) if actions is None else actions
    return try_first(index, s.shares, ways.tries, could, s.open_ground, s.stand) + float(s.shares @ ways.to_follow)


def _shows(s: Situation, shows: Valued, index: int, to_the_end: float) -> Step:
    """The check that shows a suspect before it is repaired."""
    step = action_step(s, shows)
    reason = f"Prove it before the repair: {s.title(index).lower()}, {float(s.shares[index]):.0%} likely."
    return replace(step, to_the_end=min(step.to_the_end, to_the_end), reason=(reason, *step.reason[1:]))


def _proof_first(s: Situation, index: int, found: Plan) -> Valued | None:
    """The cheapest open check that would show the cause about to be repaired; None when it needs no further proof.

    A load test that was over shows a bad run, not which joint: a check that shows the joint itself still comes first.
    """
    suspect = s.suspect(index)
    seen = set(s.proofs_seen(suspect.cause, suspect.place))
    if seen - {LOAD_TEST}:
        return None
    proof = set(s.knowledge.causes[suspect.cause].proof) - seen
    ready = [v for v in found.actions if _proves(s, v, proof, suspect.place)]
    return min(ready, key=lambda v: v.now, default=None)


def _proves(s: Situation, v: Valued, proof: set[str], place: str | None) -> bool:
    """Whether an action is one of these proofs, done at the place or through it."""
    key = v.action.key
    if key[0] == LOAD_TEST and key[0] in proof:
        section = s.machine.section(*key[1:])
        return place is None or (section is not None and place in section.elements)
    return key[0] in proof and key[-1] != TOGETHER and key[1] in ("", place)


def _lets_go(s: Situation, index: int, found: Plan) -> Valued | None:
    """A check that lets go what holds the proof or the repair of the suspect to be tried."""
    suspect = s.suspect(index)
    if suspect.cause == NOT_LISTED:
        return None
    names = {check.id for check in letting_go(s, suspect.cause)}
    return next((v for v in found.actions if v.action.key[0] in names), None)


def _after_repair(s: Situation) -> Step | None:
    """The retest or the run that the last repair still owes; None when it failed or there was no repair."""
    if s.state.closed is not None:
        return back_to_work(s, Step("done", "closed", "The case is closed", reason=("Reopen it if the fault comes back.",)))
    if s.last is None:
        return None
    match s.last.standing:
        case "untested":
            return _retest(s, s.last)
        case "passed":
            return _look_again(s) if s.comes.always else _run(s)
        case "cured":
            return _run_on(s)
    return None


def _retest(s: Situation, episode: Episode) -> Step:
    check_id, place, reading = retest_of(s.knowledge, s.machine, s.state, episode.repair)
    if any(skip.check == check_id and n > episode.number for n, skip in s.state.skipped.items()):
        return _run(s, "The retest was left out: the repair is not proven.")
    check = s.knowledge.checks[check_id]
    done = reading is not None or any(a.check == check_id for n, a in s.state.answers.items() if n < episode.number)
    found = "The test that found the fault, at the same place and limit, shows whether it is gone."
    reason = (found if done else "This test shows whether the fault is gone.",)
    step = Step("retest", check_id, check.title, place, minutes=check.minutes, reason=reason)
    if reading is not None:
        step = replace(step, minutes=READING_MINUTES, circuit=reading.circuit, start=reading.start, end=reading.end)
    return prepared(s, step)


def _look_again(s: Situation) -> Step:
    """A look for the fault itself: the retest shows that one thing is right, and not that it was the cause."""
    title = "Put the machine back and look for the fault as at the beginning"
    reason = ("The fault was always there. So one look shows whether it is gone, and no hours are needed.",)
    return back_to_work(s, Step("run", "run", title, reason=reason))


def _run(s: Situation, *first: str) -> Step:
    title = "Put the machine back and run it under the conditions that used to bring the fault"
    return back_to_work(s, Step("run", "run", title, reason=(*first, *reasons(s, run_advice(s)))))


def _run_on(s: Situation) -> Step:
    """More hours while they are too few to have shown a fault still there; else closing."""
    if s.comes.always:
        gone = ("The retest passed. The fault was always there, and now it is not.",)
        return back_to_work(s, Step("done", "close", "Close the case", reason=gone))
    advice = run_advice(s)
    if advice is not None and advice.remaining > 0:
        more = "Or type close: the record then says how far the run went."
        return back_to_work(s, Step("run", RUN_ON, "Run it on", reason=(more, *reasons(s, advice))))
    shown = reasons(s, advice, over=True)
    reason = ("The retest passed and the machine ran without the fault.", *shown)
    return back_to_work(s, Step("done", "close", "Close the case", reason=reason))


def _nothing_left(s: Situation) -> Step:
    waits = [h.until for h in s.assessment.holds if not h.never]
    fits = s.space.suspects[int(s.shares.argmax())].cause != NOT_LISTED
    if waits:
        reason = f"Every other step waits until {waits[0][:1].lower() + waits[0][1:]}."
    else:
        reason = "No check is left that can be done here." if fits else "No cause on the list fits well what was found."
    more = "Say what is missing (tools, people) or correct an answer."
    return Step("done", "nothing-left", "Ask for help with this record in hand", reason=(reason, more))
