"""A situation: a case as it stands, with all that was deduced from it. Advice is given on a situation and on nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from advisor.consultation.answers import LOAD_TEST
from advisor.consultation.episodes import Episode
from advisor.consultation.ground import errand_of, possible
from advisor.consultation.in_force import readings_in_force
from advisor.consultation.shown import shown
from advisor.model.case import Answered, Case, Reading, State
from advisor.model.finding import NOT_LISTED, Assessment, Held, Judged, Suspect
from advisor.model.knowledge import Check, Knowledge, Work
from advisor.model.machine import Machine, Section
from advisor.reasoning.likelihoods import Space, plug_of
from advisor.reasoning.showing import Shown, showing_chance
from advisor.reasoning.standing import Approach, Errand, Frame
from advisor.reasoning.ways import Stand

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from advisor.reasoning.ranking import Ranking

    Floats = NDArray[np.float64]


def family_of(check: Check) -> str:
    """What a check looks at: its family, or itself."""
    return check.family or check.id


@dataclass(frozen=True)
class Situation:
    """Knowledge, machine, case and its state; the ranking and the assessment without a next step; how the machine stands."""

    knowledge: Knowledge
    machine: Machine
    case: Case
    state: State
    episodes: tuple[Episode, ...]
    ranking: Ranking
    assessment: Assessment
    in_force: tuple[Judged, ...]  # load tests that speak of the fault as it stands
    ground: Frame  # the moves that can be done here
    open_ground: Frame  # and those that could with everything at hand
    stand: Stand

    # ---- suspects

    @property
    def space(self) -> Space:
        return self.ranking.space

    @cached_property
    def shares(self) -> Floats:
        """Shares of the suspects, scaled to sum to one."""
        found: Floats = self.ranking.shares / self.ranking.shares.sum()
        return found

    def suspect(self, index: int) -> Suspect:
        return self.space.suspects[index]

    def title(self, index: int) -> str:
        return self.space.title(self.space.suspects[index])

    # ---- what was done

    @property
    def last(self) -> Episode | None:
        """The newest repair with what followed it."""
        return self.episodes[-1] if self.episodes else None

    @cached_property
    def comes(self) -> Shown:
        """How the fault comes and goes."""
        return shown(self.knowledge, self.state)

    def showing(self, check: Check) -> float:
        """The chance that the fault shows while a check is done."""
        return showing_chance(check, self.comes, self.knowledge.words.showing)

    def table(self, check: Check, place: str | None, *, further: bool = False) -> Floats:
        """P(result | suspect) of a check done now; `further`: after another cavity of the same plug."""
        further = further or (check.at == "terminal" and (family_of(check), plug_of(self.machine, place)) in self._looked)
        return self.space.table(check.id, place, self.showing(check), further=further)

    @cached_property
    def _looked(self) -> frozenset[tuple[str, str | None]]:
        """Families of checks with the plugs at which one of them was done at a terminal."""
        return frozenset(
            (family_of(self.knowledge.checks[a.check]), plug_of(self.machine, a.place))
            for a in self.state.answers.values()
            if a.place is not None and a.check in self.knowledge.checks
        )

    def since(self) -> int:
        """The number of the last repair; -1 without one. What was found before it is of another machine."""
        return max(self.state.repairs, default=-1)

    def left_out(self, check: str, place: str | None) -> bool:
        """Whether a check was skipped at a place."""
        return any(s.check == check and s.place in (None, place) for s in self.state.skipped.values())

    def results(self, check: str, place: str | None) -> list[str]:
        """What a check showed at a place."""
        return [a.result for _, a in self._answers.get(check, ()) if a.place in (None, place)]

    @cached_property
    def _answers(self) -> Mapping[str, list[tuple[int, Answered]]]:
        """The answers to each check with the numbers of their events, in order."""
        found: dict[str, list[tuple[int, Answered]]] = {}
        for n, a in self.state.answers.items():
            found.setdefault(a.check, []).append((n, a))
        return found

    def done(self, check: str, place: str | None) -> bool:
        """Whether a check has been answered or left out at a place."""
        return self.left_out(check, place) or bool(self.results(check, place))

    def held(self, check: Check) -> list[Held]:
        """The rules that say to wait with a check."""
        return [h for h in self.assessment.holds if h.kind != "cause" and h.target in (check.id, check.stage)]

    def held_repair(self, cause: str) -> list[Held]:
        """The rules that say to wait with a repair."""
        return [h for h in self.assessment.holds if h.kind == "cause" and h.target == cause]

    @cached_property
    def readings(self) -> Mapping[int, Reading]:
        """The load tests in force, by the numbers of their events."""
        return readings_in_force(self.state, self.machine, self.episodes)

    # ---- what it takes

    def can(self, check: Check) -> bool:
        """Whether tools and people for a check are here."""
        return possible(self.knowledge, self.state, check)

    def errand(self, work: Work, place: str | None = None, section: Section | None = None) -> Errand:
        """What some work asks of the machine."""
        key = (id(work), place, section)  # the knowledge outlives what is kept of it
        if key not in self.ground.memo:
            self.ground.memo[key] = errand_of(self.ground, self.machine, work, place, section)
        found: Errand = self.ground.memo[key]
        return found

    def approach(self, errand: Errand) -> Approach | None:
        """The way to a step as the machine stands now; None where it cannot be reached here."""
        return self.ground.approach(self.stand, errand)

    def reachable(self, errand: Errand) -> bool:
        """Whether a step may be reached as the machine stands now; a no is certain."""
        return self.ground.reachable(self.stand, errand)

    # ---- proofs

    def proofs_seen(self, cause: str, place: str | None) -> tuple[str, ...]:
        """The checks that have shown a cause itself, at its place where the check has one, and that no repair since has undone."""
        if cause == NOT_LISTED:
            return ()
        proof = self.knowledge.causes[cause].proof
        looks = [(n, a) for check in proof for n, a in self._answers.get(check, ())]
        looks = sorted(looks, key=lambda look: self._order[look[0]]) if len(proof) > 1 else looks
        looks += [(n, r.by) for n, r in self.state.retests.items() if isinstance(r.by, Answered)]
        seen = [
            a.check
            for n, a in looks
            if proof.get(a.check) == a.result and a.place in (None, place) and not self._mended(n, a, cause, place)
        ]
        if proof.get(LOAD_TEST) == "over" and self._over_through(place):
            seen.append(LOAD_TEST)
        return tuple(dict.fromkeys(seen))

    @cached_property
    def _order(self) -> Mapping[int, int]:
        """For the number of each answer its place among all answers in force."""
        return {n: at for at, n in enumerate(self.state.answers)}

    def _mended(self, number: int, shown: Answered, cause: str, place: str | None) -> bool:
        """Whether a repair after an answer was of this very cause, or of another one that the same result shows."""
        for n, repair in self.state.repairs.items():
            if n < number:
                continue
            if repair.cause == cause and repair.place in (None, place):
                return True
            same = (
                repair.cause in self.knowledge.causes and self.knowledge.causes[repair.cause].proof.get(shown.check) == shown.result
            )
            if same and shown.place in (None, repair.place):
                return True
        return False

    def _over_through(self, place: str | None) -> bool:
        """Whether a load test through a place was over its limit."""
        for j in self.in_force:
            section = self.machine.section(j.circuit, j.start, j.end)
            if j.verdict == "over" and section is not None and (place is None or place in section.elements):
                return True
        return False

    def doubted(self, index: int) -> bool:
        """Whether a suspect was found sound while all that was not is as likely: then it is not repaired yet."""
        return self.found_sound[index] and float(self.shares[index]) <= self._open_share

    @cached_property
    def found_sound(self) -> tuple[bool, ...]:
        """Of each suspect, whether its direct proof came out otherwise."""
        return tuple(self.denied(suspect.cause, suspect.place) for suspect in self.space.suspects)

    @cached_property
    def _open_share(self) -> float:
        """The share of all that was not found sound."""
        return sum(float(share) for share, sound in zip(self.shares, self.found_sound, strict=True) if not sound)

    def denied(self, cause: str, place: str | None) -> bool:
        """Whether a direct proof of a cause at its place came out otherwise, and none showed it."""
        if cause == NOT_LISTED:
            return False
        proof = self.knowledge.causes[cause].proof
        results = [proof[check] == result for check in proof for result in self.results(check, place)]
        return bool(results) and not any(results)
