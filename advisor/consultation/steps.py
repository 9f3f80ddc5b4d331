"""Steps as they are told: the way to them, their minutes, what their results would lead to, and the reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from advisor.consultation.actions import READING_MINUTES, TOGETHER, places_together
from advisor.consultation.answers import LOAD_TEST
from advisor.consultation.ground import legs_of, missing_for
from advisor.consultation.situation import Situation
from advisor.model.case import Moved
from advisor.model.finding import NOT_LISTED, Outcome, Step, Suspect
from advisor.model.knowledge import Check, Knowledge, Work
from advisor.reasoning.planning import Action, Valued

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_NAMED = 2  # of those that a reason names: more make no line of the screen
NAMED = 0.002  # swing of a share from which a suspect is named among those that a check tells of


def work_of(s: Situation, step: Step) -> Work:
    """The entry that a step does."""
    return s.knowledge.causes[step.id].repair if step.kind == "repair" else s.knowledge.checks[step.id]


def prepared(s: Situation, step: Step) -> Step:
    """A step with the way to it and the minutes of that way added to its own.

    Where the way cannot be gone with what is here, the step names what is missing.
    """
    work = work_of(s, step)
    section = s.machine.section(step.circuit, step.start or "", step.end or "") if step.circuit else None
    errand = s.errand(work, step.places[0] if step.places else step.place, section)
    found = s.approach(errand) or s.open_ground.approach(s.stand, errand)
    if found is None:  # no such state on this machine; a lint keeps such entries out
        return step
    moves = [d for way in found.ways for d in way.moves]
    missing = missing_for(s.knowledge, s.state, work, moves)
    return replace(step, minutes=step.minutes + found.minutes, legs=legs_of(s.open_ground, found, errand), missing=missing)


def back_to_work(s: Situation, step: Step) -> Step:
    """A step for which the machine stands as at work: a run, or the end of a case."""
    errand = ((s.open_ground.back, ()),)
    found = s.ground.approach(s.stand, errand) or s.open_ground.approach(s.stand, errand)
    if found is None:
        return step
    return replace(step, minutes=step.minutes + found.minutes, legs=legs_of(s.open_ground, found, errand))


def moved(step: Step) -> tuple[tuple[Moved, ...], tuple[Moved, ...]]:
    """How the machine has changed when a step is done: by the moves to it, and by what it leaves."""
    before: list[Moved] = []
    left: dict[str, str] = {}
    for leg in step.legs:
        if left:  # an earlier part left it so
            before.append(Moved(to=left))
        before += [Moved(move=m.move, point=m.point, to=dict(m.to)) for m in leg.moves]
        left = dict(leg.leaves)
    return tuple(before), (Moved(to=left),) if left else ()


def action_step(s: Situation, v: Valued) -> Step:
    """A question, a check or a load test as a step, with what each of its results would lead to."""
    key = v.action.key
    check = s.knowledge.checks[key[0]]
    outcomes, separates = outcomes_of(s, check, v.action), separates_of(s, v.action)
    if check.id == LOAD_TEST:
        title = f"{check.title}: {key[1]} from {key[2]} to {key[3]}"
        step = Step("reading", check.id, title, circuit=key[1], start=key[2], end=key[3], minutes=READING_MINUTES)
    elif key[-1] == TOGETHER:
        places = places_together(s, check, key[1])
        title = f"{check.title} ({key[1]}, {len(places)} cavities)"
        step = Step("check", check.id, title, None, places=places, minutes=v.action.minutes)
    else:
        place = key[1] or None
        again = s.done(check.id, place)
        title = check.title + (f" ({s.machine.told(place)})" if place else "") + (", once more" if again else "")
        step = Step("check", check.id, title, place, minutes=check.minutes + check.again_minutes * again, again=again)
    step = prepared(s, step)
    reason = reason_of(step.minutes, separates, outcomes)
    return replace(step, to_the_end=v.to_the_end, reason=reason, outcomes=outcomes, separates=separates)


def repair_step(s: Situation, index: int, to_the_end: float) -> Step | None:
    """The repair of one suspect; None when it is held or not on the list."""
    suspect = s.suspect(index)
    if suspect.cause == NOT_LISTED or s.held_repair(suspect.cause):
        return None
    seen = s.proofs_seen(suspect.cause, suspect.place)
    shown = ", ".join(s.knowledge.checks[c].title.lower() for c in seen)
    if seen:
        proof = f"Shown by: {shown}."
    elif s.found_sound[index]:
        proof = "Its own test came out normal, but all that was not tested yet is less likely."
    else:
        proof = "No check here can prove it before the repair."
    reason = (
        f"It is {float(s.shares[index]):.0%} likely. {proof}",
        "Afterwards the same test shows whether the fault is gone.",
    )
    step = Step(
        "repair", suspect.cause, s.title(index), suspect.place, minutes=s.knowledge.causes[suspect.cause].repair.minutes,
        reason=reason, to_the_end=to_the_end,
    )  # fmt: skip
    return prepared(s, step)


# ---- what a result would lead to


def labels(check: Check, action: Action) -> list[tuple[str, str]]:
    """The results of an action's table, each with its words."""
    results = [(r.id, r.says) for r in check.results]
    if check.id == LOAD_TEST:
        words = dict(results)
        return [(v, words.get(v, v)) for v in ("over", "unsure", "within")]
    if action.key[-1] == TOGETHER:
        normal = next(r for r in check.results if r.normal)
        others = [(r.id, f"{r.says}, at one of them") for r in check.results if not r.normal]
        count = (len(action.table) - 1) // len(others)
        return [(normal.id, f"{normal.says}, at all of them"), *others * count]
    return [(r.id, r.says) for r in check.results if not (check.many or check.stage == "ask") or r.usual is not None]


def outcomes_of(s: Situation, check: Check, action: Action) -> tuple[Outcome, ...]:
    """Each result of an action: its chance, and the cause that would lead after it with its share."""
    found: dict[str, Outcome] = {}
    for (result, says), likely in zip(labels(check, action), action.table, strict=True):
        joint = likely * s.shares
        chance = float(joint.sum())
        cause, share = _leader(s, joint / chance if chance else joint)
        known = found.get(result)
        if known is None or known.chance < chance:
            found[result] = Outcome(result, says, chance + (known.chance if known else 0.0), cause, share)
        else:
            found[result] = replace(known, chance=known.chance + chance)
    return tuple(found.values())


def _leader(s: Situation, shares: Any) -> tuple[str, float]:
    """The title of the cause that holds most at all its places, and its share."""
    totals = s.space.by_causes(shares)
    most = int(totals.argmax())
    return s.space.title(Suspect(list(s.space.by_cause)[most])), float(totals[most])


def separates_of(s: Situation, action: Action) -> tuple[str, ...]:
    """The titles of the suspects whose shares the step can move most, by how far they can move."""
    shares: NDArray[Any] = s.shares
    chance = action.table @ shares
    swing = (chance[:, None] * abs(action.table * shares / chance[:, None] - shares)).sum(axis=0)
    totals = dict(zip(s.space.by_cause, s.space.by_causes(swing).tolist(), strict=True))
    best = sorted((c for c in totals if c != NOT_LISTED), key=lambda c: -totals[c])[:MOST_NAMED]
    return tuple(s.space.title(Suspect(c)) for c in best if totals[c] > NAMED)


def reason_of(minutes: float, separates: Sequence[str], outcomes: Sequence[Outcome]) -> tuple[str, ...]:
    """Two lines: what it tells about, and its minutes with the likeliest result."""
    if separates:
        first = "It tells most about: " + "; ".join(t[:1].lower() + t[1:] for t in separates) + "."
    else:
        first = "It tells little, but no other step tells more now."
    likely = max(outcomes, key=lambda o: o.chance)
    takes = f"{minutes:.0f} min. " if minutes >= 1 else ""
    return first, f"{takes}Most likely ({likely.chance:.0%}): {likely.says[:1].lower() + likely.says[1:]}."


def tools_of(knowledge: Knowledge, step: Step) -> tuple[str, ...]:
    """The tools that a step asks for."""
    if step.kind == "repair":
        return knowledge.causes[step.id].repair.tools
    return knowledge.checks[step.id].tools if step.kind in ("check", "reading", "retest") else ()
