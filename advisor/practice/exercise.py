"""An exercise on a simulated machine: what each choice was worth against the program's own at that point."""

from __future__ import annotations

from dataclasses import dataclass, field

from advisor.consultation.advice import Advice, advise, worth_of_repair
from advisor.consultation.situation import Situation
from advisor.consultation.steps import prepared, repair_step
from advisor.model.finding import NOT_LISTED, Step, Suspect
from advisor.model.knowledge import Check
from advisor.model.stage import ASK
from advisor.practice.job import Done, Job
from advisor.practice.policies import POLICIES
from advisor.practice.trial import Bench, Told, stream, work
from advisor.reasoning.likelihoods import check_places

PROGRAM = "lookahead-2"


@dataclass(frozen=True)
class Judgement:
    """One choice. Minutes to the end are expected ones, the choice itself included, with what was known then."""

    done: Done
    title: str
    to_the_end: float
    best_to_the_end: float
    best_title: str

    @property
    def cost(self) -> float:
        """Expected minutes that the choice cost more than the best one; never below zero."""
        return max(0.0, self.to_the_end - self.best_to_the_end)


@dataclass
class Exercise:
    """One machine, and what a technician has made of it so far."""

    bench: Bench
    job: Job
    judged: list[Judgement] = field(default_factory=list)

    @property
    def hidden(self) -> Suspect:
        return self.job.machine.hidden

    @property
    def situation(self) -> Situation:
        return self.job.situation

    def check_step(self, check: Check, place: str | None) -> Step:
        """A check at a place as a step, whether it tells anything of this complaint or not."""
        title = check.title + (f" ({self.situation.machine.told(place)})" if place else "")
        return prepared(self.situation, Step("check", check.id, title, place, minutes=check.minutes))

    def repair_step(self, index: int) -> Step:
        """The repair of a suspect as a step, also where a rule says to wait with it."""
        s = self.situation
        suspect = s.suspect(index)
        found = repair_step(s, index, 0.0)
        if found is not None:
            return found
        minutes = s.knowledge.causes[suspect.cause].repair.minutes
        return prepared(s, Step("repair", suspect.cause, s.title(index), suspect.place, minutes=minutes))

    def index(self, cause: str, place: str | None) -> int | None:
        """The suspect that a repair speaks of; None where the cause cannot bring this complaint."""
        found = [i for i, s in enumerate(self.situation.space.suspects) if s.cause == cause and place in (None, s.place)]
        return max(found, key=lambda i: self.situation.shares[i]) if found else None

    def title(self, step: Step) -> str:
        """A choice in words."""
        return f"repair: {step.title}" if step.kind == "repair" else step.title

    def advised(self) -> Advice:
        """What the program would do now."""
        return advise(self.situation)

    def do(self, step: Step) -> Done:
        """Does it, and keeps what it was worth."""
        advice = self.advised()
        best = advice.next
        expected = best.to_the_end if _same(step, best) else self._worth(step, advice)
        done = self.job.do(step)
        self.judged.append(Judgement(done, self.title(step), max(expected, best.to_the_end), best.to_the_end, self.title(best)))
        return done

    def _worth(self, step: Step, advice: Advice) -> float:
        """Expected minutes to the end of a choice. What the program would use to show its first suspect is no loss."""
        if step.kind == "repair":
            index = self.index(step.id, step.place)
            return advice.next.to_the_end if index is None else worth_of_repair(self.situation, index)
        if step.key in advice.to_the_end:
            return advice.to_the_end[step.key]
        return step.minutes + advice.next.to_the_end  # what tells nothing only costs its minutes

    def programs_way(self) -> Told:
        """What the program would have made of the same machine."""
        return work(self.bench.job(self.job.machine), POLICIES[PROGRAM])


def _same(one: Step, other: Step) -> bool:
    return (one.kind, one.key) == (other.kind, other.key)


def begin(bench: Bench, seed: int, cause: str | None = None) -> Exercise:
    """An exercise on a machine drawn from a seed, with one cause where one is named. It is always a cause on the list."""
    rng = stream(seed, 0)
    complaint = None if cause is None else bench.complaint_of(cause, rng)
    machine = bench.make(rng, complaint, cause)
    while machine.hidden.cause == NOT_LISTED:
        machine = bench.make(rng, complaint, cause)
    return Exercise(bench, bench.job(machine))


def open_checks(exercise: Exercise) -> dict[str, list[str]]:
    """The checks not done yet at every place, by system in the knowledge's order."""
    s = exercise.situation
    found: dict[str, list[str]] = {}
    for check in s.knowledge.checks.values():
        asked = check.stage == ASK and s.done(check.id, None)
        if not asked and (check.at == "section" or any(not s.results(check.id, p) for p in check_places(check, s.machine))):
            found.setdefault(check.system, []).append(check.id)
    return found
