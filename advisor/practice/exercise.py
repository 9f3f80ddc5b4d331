"""An exercise on a simulated machine: what each choice was worth against the program's own at that point."""

from __future__ import annotations

from dataclasses import dataclass, field

from advisor.consultation.actions import worth_of_repair
from advisor.model.finding import NOT_LISTED, Suspect
from advisor.practice.job import Done, Job
from advisor.practice.policies import POLICIES, Choice
from advisor.practice.trial import Bench, Told, stream, work
from advisor.reasoning.likelihoods import check_places
from advisor.reasoning.planning import Action, Plan, plan

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

    def action(self, check: str, place: str | None) -> Action:
        """A check at a place, whether it tells anything of this complaint or not."""
        entry = self.bench.knowledge.checks[check]
        return Action((check, place or ""), self.job.setting.space.table(check, place), entry.minutes, frozenset(entry.setups))

    def index(self, cause: str, place: str | None) -> int | None:
        """The suspect that a repair speaks of; None where the cause cannot bring this complaint."""
        found = [i for i, s in enumerate(self.job.setting.space.suspects) if s.cause == cause and place in (None, s.place)]
        return found[0] if found else None

    def title(self, choice: Choice) -> str:
        """A choice in words."""
        space, knowledge = self.job.setting.space, self.bench.knowledge
        if isinstance(choice, int):
            return f"repair: {space.title(space.suspects[choice])}"
        check, *where = choice.key
        if len(where) > 1:
            return f"{knowledge.checks[check].title}: {where[0]} from {where[1]} to {where[2]}"
        return knowledge.checks[check].title + (f" ({where[0]})" if where[0] else "")

    def advised(self) -> Choice:
        """What the program would do now."""
        return POLICIES[PROGRAM](self.job)

    def do(self, choice: Choice) -> Done:
        """Does it, and keeps what it was worth."""
        advised = self.advised()
        expected, best = self._worth(choice)
        if _key(choice) == _key(advised):
            expected = best  # the program proves before it repairs, though a guess may look a little cheaper
        title, better = self.title(choice), self.title(advised)
        done = self.job.repair(choice) if isinstance(choice, int) else self.job.do(choice)
        self.judged.append(Judgement(done, title, max(expected, best), best, better))
        return done

    def _worth(self, choice: Choice) -> tuple[float, float]:
        """Expected minutes to the end of a choice and of the best one."""
        found, by = self._plan()
        best = min([found.try_now, *(v.to_the_end for v in found.actions[:1])])
        if isinstance(choice, int):
            return self._worth_of_repair(choice, found), best
        worths = [v.to_the_end for v in found.actions if v.action.key == choice.key]
        if by == choice.key:
            worths.append(found.try_now)
        return min(worths, default=self.job.cost(choice) + best), best  # what tells nothing only costs its minutes

    def _plan(self) -> tuple[Plan, tuple[str, str] | None]:
        """The plan from here, and the check that would try its first suspect."""
        job, ways, shares = self.job, self.job.trying, self.job.shares
        found = plan(shares, ways.tries, job.open_actions(), job.setting.setups, job.present)
        return found.later(float(shares @ ways.to_follow)), ways.by[found.first_try]

    def _worth_of_repair(self, index: int, found: Plan) -> float:
        """A repair cures with the suspect's share; else the search goes on from the setups it has left."""
        if index == found.first_try and self.job.trying.by[index] is None:
            return found.try_now
        job = self.job
        return worth_of_repair(job.setting.space, job.state, job.shares, index, job.open_actions(), job.setting.setups, job.present)

    def programs_way(self) -> Told:
        """What the program would have made of the same machine."""
        return work(Job(self.job.setting, self.job.machine), POLICIES[PROGRAM])


def _key(choice: Choice) -> int | tuple[str, ...]:
    return choice if isinstance(choice, int) else choice.key


def begin(bench: Bench, seed: int, cause: str | None = None) -> Exercise:
    """An exercise on a machine drawn from a seed, with one cause where one is named. It is always a cause on the list."""
    rng = stream(seed, 0)
    complaint = None if cause is None else bench.complaint_of(cause, rng)
    machine = bench.make(rng, complaint, cause)
    while machine.hidden.cause == NOT_LISTED:
        machine = bench.make(rng, complaint, cause)
    return Exercise(bench, Job(bench.setting(machine.complaint), machine))


def open_checks(exercise: Exercise) -> dict[str, list[str]]:
    """The checks not done yet at every place, by system in the knowledge's order."""
    done = {d.key for d in exercise.job.done}
    found: dict[str, list[str]] = {}
    for check in exercise.bench.knowledge.checks.values():
        if check.at == "section" or any((check.id, p or "") not in done for p in check_places(check, exercise.bench.machine)):
            found.setdefault(check.system, []).append(check.id)
    return found
