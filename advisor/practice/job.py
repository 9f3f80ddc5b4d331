"""A technician's work on one simulated machine: what is known, what could be done, what it has cost so far.

Every policy works on such a job, so all are charged alike and all see the same ranking. A setup is paid for once while
it lasts; a repair is charged with its retest. A repair cures when it is the right one, and the retest with the run
after it shows which of the two it was. Putting the machine back at the end is not charged, for it is the same for all
who found the fault. No rules are run: neither holds nor factors of rules have a say here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from advisor.consultation.actions import MOST, Trying, denied, enough, load_tests, repairing, setups_of, shown, trying
from advisor.consultation.answers import LOAD_TEST, normal_result
from advisor.consultation.plugs import with_plugs
from advisor.model.case import Answered, Reading, State
from advisor.model.finding import NOT_LISTED, Share
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.practice.simulated import SimulatedMachine
from advisor.reasoning import ranking as ranks
from advisor.reasoning.likelihoods import Space, check_places
from advisor.reasoning.planning import Action, Setups, Tries
from advisor.reasoning.ranking import Ranking, Witness, rank

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from advisor.reasoning.harness import Harness

    Floats = NDArray[np.float64]

CURED_ALL_THE_SAME = 1e-9  # prior factor of a suspect whose repair did not cure: here a right repair always does


@dataclass(frozen=True)
class Setting:
    """What is the same for every job with one complaint: suspects, checks, setups. Arrays have one entry a suspect."""

    space: Space

    @property
    def knowledge(self) -> Knowledge:
        return self.space.knowledge

    @property
    def machine(self) -> Machine:
        return self.space.machine

    @cached_property
    def setups(self) -> Setups:
        return with_plugs(setups_of(self.knowledge), self.machine)

    @cached_property
    def repairs(self) -> Tries:
        """What the repair of each suspect takes with its retest."""
        return repairing(self.space)

    @cached_property
    def checks(self) -> tuple[Action, ...]:
        """Every check at every place that tells the suspects of this complaint apart at all, in the knowledge's order."""
        found = []
        for check in self.knowledge.checks.values():
            for place in check_places(check, self.machine) if check.at != "section" else ():
                table = self.space.table(check.id, place)
                if (table.max(axis=1) - table.min(axis=1)).max() > 1e-9:
                    found.append(Action((check.id, place or ""), table, check.minutes, frozenset(check.setups)))
        return tuple(found)

    @cached_property
    def first_load_tests(self) -> tuple[Action, ...]:
        """A load test of every run; none where the knowledge knows no load test."""
        return tuple(load_tests(self.space, ())) if LOAD_TEST in self.knowledge.checks else ()


@dataclass(frozen=True)
class Done:
    """One thing done: a check with its result, a load test with its verdict, or a repair; minutes with its setups."""

    kind: str  # "check", "reading" or "repair"
    key: tuple[str, ...]
    result: str
    minutes: float


@dataclass
class Job:
    """The work on one machine so far."""

    setting: Setting
    machine: SimulatedMachine
    present: frozenset[str] = frozenset()
    done: list[Done] = field(default_factory=list)
    failed: set[int] = field(default_factory=set)  # suspects whose repair did not cure
    cured: bool = False
    _witnesses: list[Witness] = field(default_factory=list)
    _readings: list[Reading] = field(default_factory=list)
    _ranking: Ranking | None = None
    _load_tests: tuple[Action, ...] | None = None

    @property
    def minutes(self) -> float:
        return sum(d.minutes for d in self.done)

    @property
    def ranking(self) -> Ranking:
        if self._ranking is None:
            self._ranking = rank(self.setting.space, self._witnesses, self._factors(), self._harness())
        return self._ranking

    @property
    def shares(self) -> Floats:
        """Shares that sum to one, as the planner takes them; none for what was repaired in vain."""
        shares: Floats = self.ranking.shares / self.ranking.shares.sum()
        return shares

    @property
    def lines(self) -> tuple[Share, ...]:
        """The ranking by cause, greatest first."""
        return ranks.lines(self.ranking)

    @property
    def costs(self) -> Floats:
        """Minutes to repair each suspect and to retest it from here."""
        import numpy as np

        repairs, setups = self.setting.repairs, self.setting.setups
        fees = {needed: setups.cost(needed, self.present) for needed in repairs.needing}
        costs: Floats = repairs.minutes + np.array([fees[needed] for needed in repairs.setups])
        return costs

    @property
    def state(self) -> State:
        """What was found, as a case holds it."""
        answers = [Answered(check=w.check, result=w.result, place=w.place) for w in self._witnesses]
        return State(answers=dict(enumerate(answers)), readings=dict(enumerate(self._readings)))

    @property
    def trying(self) -> Trying:
        """How each suspect would be tried, as the program sees it: by a proof still to be done, or by its repair."""
        return trying(self.setting.space, self.state)

    @property
    def settled(self) -> int | None:
        """The suspect that leads by enough and was shown by a check of its own: it is repaired."""
        top = int(self.shares.argmax())
        suspect = self.setting.space.suspects[top]
        seen = shown(self.setting.knowledge, self.state, suspect.cause, suspect.place)
        return top if enough(float(self.shares[top]), seen) and top not in self.failed else None

    def on_suspicion(self, index: int) -> bool:
        """Whether a suspect may be repaired without a proof: it leads by half, or none of its proofs spoke against it."""
        cause, place = self.setting.space.suspects[index].cause, self.setting.space.suspects[index].place
        return bool(self.shares[index] >= MOST) or not denied(self.setting.knowledge, self.state, cause, place)

    def proofs(self, index: int) -> list[Action]:
        """The checks still open that would show a suspect itself."""
        suspect = self.setting.space.suspects[index]
        if suspect.cause == NOT_LISTED:
            return []
        proof = self.setting.knowledge.causes[suspect.cause].proof
        return [a for a in self.left() if a.key[0] in proof and a.key[0] != LOAD_TEST and a.key[1] in ("", suspect.place)]

    def _factors(self) -> Floats:
        import numpy as np

        factors = np.ones(len(self.setting.space.suspects))
        factors[list(self.failed)] = CURED_ALL_THE_SAME
        return factors

    def _harness(self) -> Harness | None:
        from advisor.reasoning import harness

        return harness.evidence(self.setting.machine, self._readings) if self._readings else None

    def left(self) -> list[Action]:
        """The checks and load tests not done yet; the tables of the load tests are those of an unread harness."""
        done = {d.key for d in self.done}
        return [a for a in (*self.setting.checks, *self.setting.first_load_tests) if a.key not in done]

    def open_actions(self) -> list[Action]:
        """The same, the tables of the load tests being those that the readings so far leave."""
        if not self._readings:
            return self.left()
        if self._load_tests is None:
            self._load_tests = tuple(load_tests(self.setting.space, self._readings, most_takes=1))
        return [a for a in self.left() if a.key[0] != LOAD_TEST] + list(self._load_tests)

    def cost(self, action: Action) -> float:
        """Minutes of an action from here, with the setups it still needs."""
        return action.minutes + self.setting.setups.cost(action.setups, self.present)

    def do(self, action: Action) -> Done:
        """Does a check or a load test and takes its answer in."""
        minutes = self.cost(action)
        self.present = self.setting.setups.after(action.setups, self.present)
        self._ranking = None
        if action.key[0] == LOAD_TEST:
            done = Done("reading", action.key, self._read(action.key), minutes)
        else:
            answer = self.machine.answer(action.key[0], action.key[1] or None)
            self._witnesses.append(Witness(answer.check, answer.result, answer.place))
            done = Done("check", action.key, answer.result, minutes)
        self.done.append(done)
        return done

    def _read(self, key: Sequence[str]) -> str:
        from advisor.reasoning.readings import judge

        section = self.setting.machine.section(*key[1:])
        assert section is not None, "a load test is of a run of the layout"
        reading = self.machine.readings[section]
        self._readings.append(reading)
        self._load_tests = None
        return judge(self.setting.machine, reading).verdict

    def abnormal(self, done: Done) -> bool:
        """Whether what was found is not normal; a load test is only when it is surely over its limit."""
        if done.kind == "reading":
            return done.result == "over"
        return done.result != normal_result(self.setting.knowledge.checks[done.key[0]])

    def repair(self, index: int) -> Done:
        """Repairs a suspect and retests. Going on beyond the list is such a repair too, of what is not on the list."""
        suspect = self.setting.space.suspects[index]
        minutes = float(self.costs[index])
        self.present = self.setting.setups.after(self.setting.repairs.setups[index], self.present)
        self.cured = suspect == self.machine.hidden
        if not self.cured:
            self.failed.add(index)
        self._ranking = None
        done = Done("repair", (suspect.cause, suspect.place or ""), "cured" if self.cured else "not cured", minutes)
        self.done.append(done)
        return done
