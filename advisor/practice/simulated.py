"""A simulated machine: one hidden fault, and answers drawn from what the knowledge says such a fault does.

Every draw hangs on the machine's seed and on what is asked, so that whoever asks, and in whatever order, meets the same
machine. The load-test readings follow the model of reasoning/runs.py: a level of sound runs for the machine, a scatter for
each run, ohms that do not repeat exactly, a poor joint that looks good now and then, the meter's own noise, and a few
readings that are simply wrong.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, get_args

from advisor.consultation.answers import asks_side, asks_where
from advisor.evidence.spots import spots
from advisor.evidence.told import Question, answers, told_row
from advisor.model.case import Answered, Opened, Reading, Side
from advisor.model.finding import NOT_LISTED, Suspect
from advisor.model.knowledge import Cause, Check, Knowledge
from advisor.model.machine import Section
from advisor.model.words import ProbabilityWord
from advisor.reasoning.likelihoods import Space
from advisor.reasoning.located import located
from advisor.reasoning.ranking import WORDS

if TYPE_CHECKING:
    import numpy as np

SPREAD = 2.4  # standard deviations at which a run's own scatter is cut off, as the ranking does
FEWEST, MOST_TIMES = 2, 12  # how often a fault that comes and goes came
LEAST_HOURS, MOST_HOURS = 6.0, 120.0  # in which it came so often


@dataclass(frozen=True)
class SimulatedMachine:
    """A machine of one layout with one complaint and one hidden fault, or with a fault that is not on the list."""

    world: Space = field(compare=False)  # by whose chances it answers
    complaint: str
    hidden: Suspect
    seed: int
    readings: Mapping[Section, Reading]

    def draw(self, *key: object) -> np.random.Generator:
        """Random numbers that hang on the machine and on what is asked."""
        import numpy as np

        digest = hashlib.sha256(repr((self.seed, key)).encode()).digest()
        return np.random.default_rng(int.from_bytes(digest[:8], "big"))

    @property
    def column(self) -> int:
        return self.world.suspects.index(self.hidden)

    def result(self, check: Check, place: str | None, times: int, showing: float) -> str:
        """What a check at a place shows when it is done for the so-manieth time; the fault shows with a chance meanwhile."""
        chance = self.world.table(check.id, place, showing)[:, self.column]
        at = int((chance.cumsum() < self.draw(check.id, place, times).random() * chance.sum()).sum())
        return check.results[min(at, len(check.results) - 1)].id

    def shows(self, check: Check, place: str | None, times: int, showing: float) -> Answered:
        """The same as an answer, with where on the harness and on which side."""
        result = self.result(check, place, times, showing)
        where, side = self.spot(check, result, times, showing)
        return Answered(check=check.id, result=result, place=place, where=where, side=side)

    def spot(self, check: Check, result: str, times: int, showing: float) -> tuple[str | None, Side | None]:
        """Where on the harness it reacts and on which side, for a check that asks it."""
        where: str | None = None
        side: Side | None = None
        if asks_where(check, result) and check.where is not None:
            names = [s.id for s in spots(self.world.machine, check.where)]
            where = self._drawn(check, result, showing, [(n, None) for n in names], ("where", times))[0]
        if asks_side(check, result):
            side = self._drawn(check, result, showing, [(None, side) for side in get_args(Side)], ("side", times))[1]
        return where, side

    def _drawn(
        self, check: Check, result: str, showing: float, told: Sequence[tuple[str | None, Side | None]], key: tuple[str, int]
    ) -> tuple[str | None, Side | None]:
        """One of several places or sides, as likely as each is for the hidden fault."""
        weights = [1.0 if (found := located(self.world, check, result, showing, *t)) is None else found[self.column] for t in told]
        return told[int(self.draw(check.id, *key).choice(len(told), p=[w / sum(weights) for w in weights]))]

    def told(self, question: Question) -> tuple[str, ...]:
        """What the operator answers; anything, where no answer is evidence."""
        cause = self.world.knowledge.causes.get(self.hidden.cause)
        row = told_row(question, cause, self.world.knowledge.words)
        rng = self.draw("told", question.id)
        names = answers(question)
        if not names:
            return (question.results[int(rng.integers(len(question.results)))].id,)
        if not question.many:
            return (names[int(rng.choice(len(names), p=[row[n] for n in names]))],)
        found = tuple(n for n in names if rng.random() < row[n])
        none = tuple(n for n in found if n == "none")
        return tuple(n for n in found if n != "none") or none or (max(row, key=lambda n: row[n]),)

    def opened(self) -> Opened:
        """The case as it begins: what is told to the questions that are always asked, and how often it came."""
        intake = {q.id: self.told(q) for q in self.world.knowledge.intake.values()}
        rng = self.draw("history")
        times, hours = int(rng.integers(FEWEST, MOST_TIMES + 1)), float(round(rng.uniform(LEAST_HOURS, MOST_HOURS)))
        return Opened(complaint=self.complaint, intake=intake, occurrences=times, hours=hours)


def draw_suspect(space: Space, rng: np.random.Generator, cause: str | None = None) -> Suspect:
    """A suspect drawn by its prior share, of one cause where one is named. Raises ValueError where the cause is no suspect."""
    weights = space.prior.copy()
    if cause is not None:
        weights[[i for i, s in enumerate(space.suspects) if s.cause != cause]] = 0.0
    if not weights.any():
        raise ValueError(f"{cause} is no suspect of this complaint")
    return space.suspects[int(rng.choice(len(weights), p=weights / weights.sum()))]


def simulate(world: Space, complaint: str, hidden: Suspect, rng: np.random.Generator) -> SimulatedMachine:
    """A machine with this fault that answers by the probabilities of `world`."""
    seed = int(rng.integers(2**62))
    return SimulatedMachine(world, complaint, hidden, seed, _readings(world, hidden, rng))


def _readings(world: Space, hidden: Suspect, rng: np.random.Generator) -> dict[Section, Reading]:
    """A load test of every run: what the meter would show."""
    import numpy as np

    from advisor.electrical.drop import Load
    from advisor.reasoning import harness, readings, runs

    machine = world.machine
    resists = hidden.cause != NOT_LISTED and world.knowledge.causes[hidden.cause].adds_resistance
    load = Load(machine.load_test.load_ohms, machine.load_test.load_amps)
    reference = round(machine.nominal_volts * rng.uniform(0.97, 1.04), 2)
    level = int(rng.choice(len(runs.LEVELS), p=runs.LEVEL_WEIGHTS / runs.LEVEL_WEIGHTS.sum()))
    ohms = float(np.exp(rng.uniform(np.log(runs.OHMS[0]), np.log(runs.OHMS[-1]))))
    found = {}
    for section in machine.sections():
        scatter, noise = np.clip(rng.standard_normal(2), -SPREAD, SPREAD)
        looks_good, misread, anything = rng.random(3)
        run = runs.run_of(machine, section, load, reference, None)
        uncertainty = readings.meter_of(None).drop_uncertainty(reference, reference - run.limit)
        sound = run.sound()[level] * (1 + runs.SCATTER * scatter)
        bad = resists and hidden.place in section.elements and looks_good >= harness.CHANCE_GOOD_WHEN_BAD
        mean, spread = run.read(np.asarray(sound), np.asarray(ohms if bad else 0.0), uncertainty, True)
        drop = anything * reference if misread < runs.MISREAD else float(mean + spread * noise)
        loaded = min(reference, max(0.0, round(reference - drop, 2)))
        values = {"circuit": section.circuit, "from": section.start, "to": section.end}
        found[section] = Reading.model_validate({**values, "reference": reference, "loaded": loaded})
    return found


def a_word_off(knowledge: Knowledge, rng: np.random.Generator, chance: float) -> Knowledge:
    """The knowledge with each of its probability words moved by one band with this chance, up or down alike.

    At either end of the scale a word can only move inwards. Rows whose words then add up to more than one are scaled
    back to one, as `likelihoods.row` does.
    """

    def moved(word: ProbabilityWord) -> ProbabilityWord:
        at, off, up = WORDS.index(word), rng.random() < chance, rng.random() < 0.5
        if not off:
            return word
        return WORDS[1] if at == 0 else WORDS[-2] if at == len(WORDS) - 1 else WORDS[at + (1 if up else -1)]

    def check(entry: Check) -> Check:
        evidence = {c: {r: moved(w) for r, w in row.items()} for c, row in entry.evidence.items()}
        return entry.model_copy(update={"evidence": evidence})

    def cause(entry: Cause) -> Cause:
        return entry.model_copy(update={"complaints": {c: moved(w) for c, w in entry.complaints.items()}})

    checks = {name: check(entry) for name, entry in knowledge.checks.items()}
    causes = {name: cause(entry) for name, entry in knowledge.causes.items()}
    return knowledge.model_copy(update={"checks": checks, "causes": causes})
