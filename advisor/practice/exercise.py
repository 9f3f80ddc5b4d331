"""What each choice of a technician was worth against the program's own at that point."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.consultation.actions import TOGETHER
from advisor.consultation.advice import Advice, worth_of_repair
from advisor.consultation.situation import Situation
from advisor.model.finding import NOT_LISTED, Step
from advisor.practice.policies import POLICIES
from advisor.practice.simulated import SimulatedMachine
from advisor.practice.trial import Bench, Told, stream, work

PROGRAM = "lookahead-2"


@dataclass(frozen=True)
class Judgement:
    """One choice. Minutes to the end are expected ones, the choice itself included, with what was known then."""

    kind: str
    title: str
    minutes: float
    to_the_end: float
    best_to_the_end: float
    best_title: str

    @property
    def cost(self) -> float:
        """Expected minutes that the choice cost more than the best one; never below zero."""
        return max(0.0, self.to_the_end - self.best_to_the_end)


def judge(s: Situation, advice: Advice, step: Step) -> Judgement:
    """A check, a load test or a repair that is about to be done, against what is advised."""
    best = advice.next
    expected = best.to_the_end if _same(step, best) or proves_the_leader(s, step) else _worth(s, advice, step)
    return Judgement(
        step.kind, title_of(step), step.minutes, max(expected, best.to_the_end), best.to_the_end, title_of(best)
    )  # fmt: skip


def title_of(step: Step) -> str:
    """A choice in words."""
    return f"repair: {step.title}" if step.kind == "repair" else step.title


def proves_the_leader(s: Situation, step: Step) -> bool:
    """Whether a check can show the suspect that leads, and has not: to prove a suspect before its repair is never a loss."""
    suspect = s.suspect(int(s.shares.argmax()))
    if suspect.cause == NOT_LISTED or step.kind not in ("check", "reading"):
        return False
    open_proofs = set(s.knowledge.causes[suspect.cause].proof) - set(s.proofs_seen(suspect.cause, suspect.place))
    if step.id not in open_proofs or s.done(step.id, step.place):
        return False
    if step.circuit is not None:
        section = s.machine.section(step.circuit, step.start or "", step.end or "")
        return suspect.place is None or (section is not None and suspect.place in section.elements)
    return step.place in (None, suspect.place)


def _worth(s: Situation, advice: Advice, step: Step) -> float:
    """Expected minutes to the end of a choice."""
    if step.kind == "repair":
        found = [i for i, x in enumerate(s.space.suspects) if x.cause == step.id and step.place in (None, x.place)]
        return worth_of_repair(s, max(found, key=lambda i: s.shares[i])) if found else step.minutes + advice.next.to_the_end
    point = s.machine.elements[step.places[0]].point if step.places else None
    key = step.key if point is None else (step.id, point, TOGETHER)
    if key in advice.to_the_end:
        return advice.to_the_end[key]
    return step.minutes + advice.next.to_the_end  # what tells nothing only costs its minutes


def _same(one: Step, other: Step) -> bool:
    return (one.kind, one.key) == (other.kind, other.key)


def hidden_machine(bench: Bench, seed: int, cause: str | None = None) -> SimulatedMachine:
    """A machine drawn from a seed, with one cause where one is named. It is always a cause on the list."""
    rng = stream(seed, 0)
    complaint = None if cause is None else bench.complaint_of(cause, rng)
    machine = bench.make(rng, complaint, cause)
    while machine.hidden.cause == NOT_LISTED:
        machine = bench.make(rng, complaint, cause)
    return machine


def programs_way(bench: Bench, machine: SimulatedMachine) -> Told:
    """What the program would have made of the same machine."""
    return work(bench.job(machine), POLICIES[PROGRAM])
