"""From shares to the next step: the actions open now, rules over arithmetic, and the reason in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from advisor.consultation.actions import (
    IN_VAIN,
    LOAD_TEST_MINUTES,
    MOST,
    WARMING_MINUTES,
    Trying,
    denied,
    done,
    enough,
    most_telling,
    open_actions,
    possible,
    setups_of,
    shown,
    tried_first,
    trying,
    worth_of_repair,
)
from advisor.consultation.after_repair import retest_of, standing
from advisor.consultation.answers import LOAD_TEST
from advisor.consultation.cure import reasons, run_advice
from advisor.consultation.outcomes import outcomes_of, reason_of, separates_of
from advisor.consultation.plugs import INTERCONNECT, opens_interconnect, plugs_present, with_plugs
from advisor.model.case import State
from advisor.model.finding import NOT_LISTED, Assessment, Step, Suspect
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.reasoning.planning import Plan, Valued, plan

if TYPE_CHECKING:
    from advisor.consultation.consultation import Consultation
    from advisor.reasoning.ranking import Ranking

ALTERNATIVES = 2
RUN_ON = "run-on"  # a run that has begun and is too short yet


def to_leave(knowledge: Knowledge, step: Step, needed: frozenset[str], made: Sequence[str]) -> tuple[str, ...]:
    """The setups to undo before a step: those that the needed ones exclude, and live ones before hands go in.

    Hands go in when plugs are pulled, parts come off or something is repaired; a check that asks for the key on keeps it.
    A load test through an interconnect asks for it joined. What was made last is undone first: parts go back on before the
    chocks come away.
    """
    present = frozenset(made)
    left = setups_of(knowledge).left(needed, present)
    if step.kind == "repair" or knowledge.checks[step.id].stage in ("unplug", "dismantle"):
        left |= {s for s in present - needed if knowledge.setups[s].live}
    if step.circuit is not None and INTERCONNECT not in needed:
        left |= {INTERCONNECT}
    return tuple(s for s in reversed(made) if s in left)


def prepared(consultation: Consultation, state: State, step: Step) -> Step:
    """A step with the setups it still needs, those it must undo first, and the minutes of both added to its own."""
    knowledge, machine = consultation.knowledge, consultation.machine
    entry = knowledge.causes[step.id].repair if step.kind == "repair" else knowledge.checks[step.id]
    needed = entry.setups
    section = machine.section(step.circuit, step.start or "", step.end or "") if step.circuit else None
    if section is not None and opens_interconnect(machine, section) and INTERCONNECT in knowledge.setups:
        needed = (*needed, INTERCONNECT)
    leaves = to_leave(knowledge, step, frozenset(needed), state.setups)
    made = tuple(s for s in needed if s not in state.setups)
    minutes = sum(knowledge.setups[s].enter for s in made) + sum(knowledge.setups[s].leave for s in leaves)
    return replace(step, minutes=step.minutes + minutes, setups=made, leaves=leaves)


def next_steps(
    consultation: Consultation, state: State, ranking: Ranking, assessment: Assessment
) -> tuple[tuple[Step, ...], dict[tuple[str, ...], float]]:
    """The recommended step first, then the next best ones; and the minutes to the end of every check that could be done."""
    after = _after_repair(consultation, state, ranking)
    if after is not None:
        return (after,), {}
    knowledge, machine = consultation.knowledge, consultation.machine
    setups, present = with_plugs(setups_of(knowledge), machine), plugs_present(machine, state) | frozenset(state.setups)
    shares = ranking.shares / ranking.shares.sum()
    ways = trying(ranking.space, state)
    actions = open_actions(consultation, state, ranking, assessment)
    found = plan(shares, ways.tries, actions, setups, present)
    telling = most_telling(found, ways, shares, setups, present)
    found = found.later(float(shares @ ways.to_follow))
    steps = _ordered(consultation, state, ranking, assessment, found, ways, telling)
    top = int(shares.argmax())
    offered = any(s.kind == "repair" for s in steps)
    if steps[0].kind in ("check", "reading") and not offered and _shown_itself(consultation, state, ranking, top):
        worth = worth_of_repair(ranking.space, state, shares, top, actions, setups, present)
        steps = _or_repair(steps, _repair_step(consultation, state, ranking, assessment, worth, top))
    return steps, {v.action.key: v.to_the_end for v in found.actions}


def _ordered(
    consultation: Consultation, state: State, ranking: Ranking, assessment: Assessment, found: Plan, ways: Trying,
    telling: Valued | None,
) -> tuple[Step, ...]:  # fmt: skip
    """Rules over arithmetic: what is shown is repaired, what is to be repaired is proven first, what is held waits.

    `telling` is the check that comes before a repair of what was not surely shown.
    """
    steps = [_check_step(consultation, state, ranking, v) for v in found.actions[: ALTERNATIVES + 4]]
    best = found.actions[0] if found.actions else None
    settled, first = _settled(consultation, state, ranking), tried_first(found, ways, ranking.shares)
    # A suspect that is to be tried by a proof is one of the checks; only a repair is another kind of step.
    to_repair = settled if settled is not None or ways.by[found.first_try] is not None else found.first_try
    repair = None if to_repair is None else _repair_step(consultation, state, ranking, assessment, found.try_now, to_repair)
    if repair is not None and (settled is not None or first):
        proof = _proof_action(consultation, state, repair, found)
        if proof is not None:
            step = _check_step(consultation, state, ranking, proof)
            reason = f"Prove it before it is repaired: {repair.title.lower()} holds {float(ranking.shares[to_repair]):.0%}."
            return (replace(_trying(step, found), reason=(reason, *step.reason[1:])), *_others(steps, step))
        if _no_proof_to_come(consultation, state, repair, float(ranking.shares[to_repair])):
            if settled is None and telling is not None:
                return _or_repair(_first(consultation, state, ranking, found, telling, steps), repair)
            return (repair, *steps[:ALTERNATIVES])
    if best is None:
        return (_nothing_left(assessment),)
    if first:  # no check is worth its minutes by itself
        way = _way_to(consultation, assessment, ranking, found) or telling
        if way is not None:
            return _first(consultation, state, ranking, found, way, steps)
        if ranking.space.suspects[found.first_try].cause == NOT_LISTED:
            return (_nothing_left(assessment, "What was found fits nothing on the list well."), *steps[:ALTERNATIVES])
    return tuple(steps[: ALTERNATIVES + 1])


def _shown_itself(consultation: Consultation, state: State, ranking: Ranking, index: int) -> bool:
    """Whether a suspect was shown by more than a load test and holds most of what is left."""
    suspect = ranking.space.suspects[index]
    if suspect.cause == NOT_LISTED or ranking.shares[index] < MOST:
        return False
    return bool(set(proofs(consultation, state, suspect.cause, suspect.place)) - {LOAD_TEST})


def _or_repair(steps: tuple[Step, ...], repair: Step | None) -> tuple[Step, ...]:
    """A check before a repair that is open, said as what it is: the technician may repair at once."""
    if repair is None:
        return steps
    surer = f"It makes surer of this first: {repair.title.lower()}. A repair in vain is counted as {IN_VAIN / 60:.0f} hours."
    return replace(steps[0], reason=(surer, *steps[0].reason)), repair, *steps[1:ALTERNATIVES]


def _first(
    consultation: Consultation, state: State, ranking: Ranking, found: Plan, chosen: Valued, steps: Sequence[Step]
) -> tuple[Step, ...]:
    """A check that comes first though its minutes alone do not say so, and the next best ones."""
    step = _trying(_check_step(consultation, state, ranking, chosen), found)
    return (step, *_others(steps, step))


def _trying(step: Step, found: Plan) -> Step:
    """A check that comes before the try that the plan puts first: it is taken to cost no more to the end than that."""
    return replace(step, to_the_end=min(step.to_the_end, found.try_now))


def _others(steps: Sequence[Step], chosen: Step) -> list[Step]:
    return [s for s in steps if s.key != chosen.key][:ALTERNATIVES]


def _way_to(consultation: Consultation, assessment: Assessment, ranking: Ranking, found: Plan) -> Valued | None:
    """The open proof of the suspect to be tried first, or else a check that lets go what holds its proof or its repair.

    Where trying comes first, every other check tells less than it costs.
    """
    knowledge = consultation.knowledge
    suspect: Suspect = ranking.space.suspects[found.first_try]
    if suspect.cause == NOT_LISTED:
        return None
    proof = set(knowledge.causes[suspect.cause].proof)
    ready = [v for v in found.actions if _shows(consultation.machine, v, proof, suspect.place)]
    if ready:
        return min(ready, key=lambda v: v.now)
    held = {*proof, *(knowledge.checks[c].stage for c in proof), suspect.cause}
    rules = [knowledge.rules[h.rule] for h in assessment.holds if h.target in held]
    lets_go = {p.negated.answer for r in rules for p in r.when if p.negated is not None}
    return next((v for v in found.actions if v.action.key[0] in lets_go), None)


def _settled(consultation: Consultation, state: State, ranking: Ranking) -> int | None:
    """The suspect that is shown by its own proof and leads by enough, or None."""
    top = int(ranking.shares.argmax())
    suspect = ranking.space.suspects[top]
    if suspect.cause == NOT_LISTED:
        return None
    seen = proofs(consultation, state, suspect.cause, suspect.place)
    return top if enough(float(ranking.shares[top]), seen) else None


def proofs(consultation: Consultation, state: State, cause: str, place: str | None) -> tuple[str, ...]:
    """The cause's direct proofs that have been seen, at its place where the check has one."""
    entry = consultation.knowledge.causes[cause]
    seen = list(shown(consultation.knowledge, state, cause, place))
    if entry.proof.get(LOAD_TEST) == "over" and _shown_by_readings(consultation, state, place):
        seen.append(LOAD_TEST)
    return tuple(seen)


def _shown_by_readings(consultation: Consultation, state: State, place: str | None) -> bool:
    """Whether a load test through the place was over its limit."""
    for j in consultation.in_force(state):
        section = consultation.machine.section(j.circuit, j.start, j.end)
        if j.verdict == "over" and section is not None and (place is None or place in section.elements):
            return True
    return False


def _no_proof_to_come(consultation: Consultation, state: State, repair: Step, share: float) -> bool:
    """Whether a repair needs no more proof: it was shown directly, or every proof was tried or cannot be done here.

    A proof that has to wait is still to come: until then the cause is not repaired on suspicion. One that came out otherwise
    leaves a repair on suspicion only where the cause holds most of what is left all the same.
    """
    knowledge = consultation.knowledge
    seen = set(proofs(consultation, state, repair.id, repair.place))
    if seen - {LOAD_TEST}:
        return True

    def over(name: str) -> bool:
        check = knowledge.checks[name]
        at = repair.place if check.at not in (None, "section") else None
        return name in seen or not possible(knowledge, state, check) or done(state, name, at)

    return all(over(name) for name in knowledge.causes[repair.id].proof) and (
        share >= MOST or not denied(knowledge, state, repair.id, repair.place)
    )


def _proof_action(consultation: Consultation, state: State, repair: Step, found: Plan) -> Valued | None:
    """The cheapest open check that would prove the cause about to be repaired; None when it needs no further proof.

    A load test that was over shows a bad run, not which joint: a check that shows the joint itself still comes first.
    """
    seen = set(proofs(consultation, state, repair.id, repair.place))
    if seen - {LOAD_TEST}:
        return None
    proof = set(consultation.knowledge.causes[repair.id].proof) - seen
    ready = [v for v in found.actions if _shows(consultation.machine, v, proof, repair.place)]
    return min(ready, key=lambda v: v.now, default=None)


def _shows(machine: Machine, v: Valued, proof: set[str], place: str | None) -> bool:
    """Whether an action is one of these proofs, done at the place or through it."""
    key = v.action.key
    if key[0] == LOAD_TEST and key[0] in proof:
        section = machine.section(*key[1:])
        return place is None or (section is not None and place in section.elements)
    return key[0] in proof and key[1] in ("", place)


def _repair_step(
    consultation: Consultation, state: State, ranking: Ranking, assessment: Assessment, to_the_end: float, index: int
) -> Step | None:
    """The repair of one suspect, or None when it is held, cannot be done here, or is not on the list."""
    knowledge = consultation.knowledge
    suspect: Suspect = ranking.space.suspects[index]
    if suspect.cause == NOT_LISTED or any(h.kind == "cause" and h.target == suspect.cause for h in assessment.holds):
        return None
    cause = knowledge.causes[suspect.cause]
    if not possible(knowledge, state, cause.repair):
        return None
    share = float(ranking.shares[index])
    seen = proofs(consultation, state, suspect.cause, suspect.place)
    shown = ", ".join(knowledge.checks[c].title.lower() for c in seen)
    reason = (
        f"It holds {share:.0%} of what is left. " + (f"Shown by: {shown}." if seen else "No check can prove it here first."),
        "Then the same test again shows whether it is gone.",
    )
    title = ranking.space.title(suspect)
    step = Step(
        "repair",
        suspect.cause,
        title,
        suspect.place,
        minutes=cause.repair.minutes,
        reason=reason,
        to_the_end=to_the_end,
    )
    return prepared(consultation, state, step)


def _check_step(consultation: Consultation, state: State, ranking: Ranking, v: Valued) -> Step:
    """A check or a load test as a step, with what each of its results would lead to."""
    knowledge, key = consultation.knowledge, v.action.key
    check = knowledge.checks[key[0]]
    outcomes, separates = outcomes_of(ranking, check, v.action), separates_of(ranking, v.action)
    if check.id == LOAD_TEST:
        title = f"{check.title}: {key[1]} from {key[2]} to {key[3]}"
        step = Step("reading", check.id, title, circuit=key[1], start=key[2], end=key[3], minutes=LOAD_TEST_MINUTES)
    else:
        place = key[1] or None
        again = done(state, check.id, place)
        title = check.title + (f" ({place})" if place else "") + (", once more" if again else "")
        step = Step("check", check.id, title, place, minutes=check.minutes + WARMING_MINUTES * again, again=again)
    step = prepared(consultation, state, step)
    reason = reason_of(step.minutes, separates, outcomes)
    return replace(step, to_the_end=v.to_the_end, reason=reason, outcomes=outcomes, separates=separates)


def _after_repair(consultation: Consultation, state: State, ranking: Ranking) -> Step | None:
    """The retest or the run that the last repair still owes; None when it failed or there was no repair."""
    knowledge, machine = consultation.knowledge, consultation.machine
    if state.closed is not None:
        return Step("done", "closed", "The case is closed", reason=("Reopen it if the fault comes back.",))
    if not state.repairs:
        return None
    number = max(state.repairs)
    repair = state.repairs[number]
    now = standing(knowledge, state, number, machine)
    if now == "untested":
        check_id, place, reading = retest_of(knowledge, machine, state, repair)
        if any(s.check == check_id and n > number for n, s in state.skipped.items()):
            return _run_step(consultation, state, ranking, "The retest was left out: the repair is not proven.")
        check = knowledge.checks[check_id]
        reason = ("The test that found the fault, at the same place and limit, shows whether it is gone.",)
        step = Step("retest", check_id, check.title, place, minutes=check.minutes, reason=reason)
        if reading is not None:
            step = replace(step, minutes=LOAD_TEST_MINUTES, circuit=reading.circuit, start=reading.start, end=reading.end)
        return prepared(consultation, state, step)
    if now == "passed":
        return _run_step(consultation, state, ranking)
    if now == "cured":
        return _run_on(consultation, state, ranking)
    return None


def _run_step(consultation: Consultation, state: State, ranking: Ranking, *first: str) -> Step:
    title = "Put the machine back and run it under the conditions that used to bring the fault"
    reason = (*first, *reasons(consultation, state, run_advice(consultation, state, ranking)))
    return Step("run", "run", title, leaves=state.setups[::-1], reason=reason)


def _run_on(consultation: Consultation, state: State, ranking: Ranking) -> Step:
    """More hours while they are too few to have shown a fault still there; else closing."""
    advice = run_advice(consultation, state, ranking)
    if advice is not None and advice.remaining > 0:
        more = "Or type close: the record then says how far the run went."
        reason = (more, *reasons(consultation, state, advice))
        return Step("run", RUN_ON, "Run it on", leaves=state.setups[::-1], reason=reason)
    shown = reasons(consultation, state, advice, over=True)
    return Step("done", "close", "Close the case", reason=("The retest passed and the machine ran without the fault.", *shown))


def _nothing_left(assessment: Assessment, reason: str = "No check is left that can be done here.") -> Step:
    waits = [h.until for h in assessment.holds if not h.never]
    if waits:
        reason = f"What is left must wait. First: {waits[0]}."
    return Step(
        "done",
        "nothing-left",
        "Ask for help with this record in hand",
        reason=(reason, "Say what is missing (tools, people) or correct an answer."),
    )
