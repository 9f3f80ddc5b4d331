"""Trials: every policy on the same hidden faults, and what it cost. The result depends on the seed, not on the processes.

Complaints are drawn with equal chance, so that each is met, then a fault by its prior share under that complaint; now and
then it is something that is not on the list. Each case has a random stream of its own, and cases are summed in their order.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from advisor.consultation.consultation import Consultation
from advisor.model.finding import Suspect
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.practice import optimum
from advisor.practice.job import Job
from advisor.practice.policies import POLICIES, Policy
from advisor.practice.simulated import SimulatedMachine, a_word_off, draw_suspect, simulate
from advisor.reasoning.likelihoods import space
from advisor.workers import workers

if TYPE_CHECKING:
    import numpy as np

MOST_STEPS = 250  # of one job: a policy that does not end
CHUNK = 5  # cases handed to a process at a time


@dataclass(frozen=True)
class Told:
    """How one policy did on one machine. Minutes include setups, repairs and retests."""

    minutes: float
    checks: int
    repairs: int
    leading: str  # the cause that led the ranking when the first repair began
    share: float  # its share then
    right: bool  # and whether it was the hidden one
    brier: float  # sum over the causes of (share - truth) squared then: 0 is best, 2 worst
    right_at_end: bool  # whether the hidden cause led when the repair that cured began


@dataclass(frozen=True)
class Outcome:
    """One machine with what every policy made of it."""

    number: int
    complaint: str
    hidden: Suspect
    told: dict[str, Told]


@dataclass
class Bench:
    """Makes machines and lets policies loose on them."""

    knowledge: Knowledge
    machine: Machine
    off_words: float = 0.0  # chance that a probability word of the machines' world is off by one band
    _consultation: Consultation | None = None

    def __getstate__(self) -> dict[str, Any]:
        """What another process gets: it builds its own engine."""
        return {**self.__dict__, "_consultation": None}

    @property
    def consultation(self) -> Consultation:
        """What reasons about every job: one engine, one set of suspects for each complaint."""
        if self._consultation is None:
            self._consultation = Consultation(self.knowledge, self.machine)
        return self._consultation

    @property
    def complaints(self) -> list[str]:
        """The complaints that at least one cause can bring."""
        possible = {c for cause in self.knowledge.causes.values() for c in cause.complaints}
        return [c for c in self.knowledge.complaints if c in possible]

    def complaint_of(self, cause: str, rng: np.random.Generator) -> str:
        """A complaint that a cause brings, drawn by how likely it is to be reported that way."""
        import numpy as np

        said = self.knowledge.causes[cause].complaints
        chances = np.array([self.knowledge.words.probability[word].used for word in said.values()])
        return list(said)[int(rng.choice(len(said), p=chances / chances.sum()))]

    def make(self, rng: np.random.Generator, complaint: str | None = None, cause: str | None = None) -> SimulatedMachine:
        """A machine with a fault drawn; a complaint or a cause that is named is not drawn."""
        if complaint is None:
            complaint = self.complaints[int(rng.integers(len(self.complaints)))]
        world = self.consultation.space(complaint)
        if self.off_words:
            world = space(a_word_off(self.knowledge, rng, self.off_words), self.machine, complaint)
        return simulate(world, complaint, draw_suspect(world, rng, cause), rng)

    def job(self, machine: SimulatedMachine) -> Job:
        """The work on a machine, before its first step."""
        return Job(self.consultation, machine)

    def case(self, seed: int, number: int) -> Outcome:
        """One machine, and every policy on it."""
        machine = self.make(stream(seed, number))
        told = {name: work(self.job(machine), policy) for name, policy in POLICIES.items()}
        return Outcome(number, machine.complaint, machine.hidden, told)


def stream(seed: int, number: int) -> np.random.Generator:
    """The random numbers of one case."""
    import numpy as np

    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(number,)))


def work(job: Job, policy: Policy) -> Told:
    """Follows a policy until the fault is gone, or help is asked for."""
    first: tuple[str, float, bool, float] | None = None
    at_end = False
    hidden = job.machine.hidden.cause
    while not job.over and len(job.done) < MOST_STEPS:
        step = policy(job)
        if step.kind in ("repair", "done"):
            lines = job.situation.assessment.ranking
            at_end = lines[0].cause == hidden
            if first is None:
                total = sum(s.share for s in lines)
                brier = sum((s.share / total - (s.cause == hidden)) ** 2 for s in lines)
                first = lines[0].cause, lines[0].share, at_end, brier
        job.do(step)
    first = first or ("", 0.0, False, 1.0)
    repairs = sum(d.kind == "repair" for d in job.done)
    return Told(job.minutes, len(job.done) - repairs, repairs, *first, at_end and job.cured)


def _cases(bench: Bench, seed: int, numbers: Sequence[int]) -> list[Outcome]:
    return [bench.case(seed, n) for n in numbers]


def _problems(_bench: Bench, seed: int, numbers: Sequence[int]) -> list[dict[str, float]]:
    return [optimum.ratios(seed, n) for n in numbers]


@dataclass(frozen=True)
class Trial:
    """Cases in their order, and for small problems the minutes of each policy over the least possible."""

    outcomes: list[Outcome]
    ratios: list[dict[str, float]]


def run(
    bench: Bench, cases: int, problems: int, seed: int, jobs: int, progress: Callable[[int], None] = lambda done: None,
    cluster: str | None = None,
) -> Trial:  # fmt: skip
    """So many cases and so many small problems, by so many workers. `progress` is told how many of both are done."""
    outcomes: list[Outcome] = []
    ratios: list[dict[str, float]] = []
    with workers(bench, jobs, cluster) as each:
        for found in each(_cases, [seed] * len(_chunks(cases)), _chunks(cases)):
            outcomes += found
            progress(len(outcomes))
        for solved in each(_problems, [seed] * len(_chunks(problems)), _chunks(problems)):
            ratios += solved
            progress(len(outcomes) + len(ratios))
    return Trial(outcomes, ratios)


def _chunks(count: int) -> list[range]:
    return [range(i, min(i + CHUNK, count)) for i in range(0, count, CHUNK)]
