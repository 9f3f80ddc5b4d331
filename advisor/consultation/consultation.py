"""A case and what follows from it: evidence, ranking, holds, next step, trail. Pure: no terminal, no files."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any, Literal

from advisor.consultation.advice import advise
from advisor.consultation.episodes import episodes
from advisor.consultation.evidence import Concluded, Evidence, Gatherer
from advisor.consultation.facts import Facts, codes, judged
from advisor.consultation.ground import frame_key, frame_of, stand_of
from advisor.consultation.in_force import readings_in_force
from advisor.consultation.situation import Situation
from advisor.inference.compiler import CompiledRule, compile_rules
from advisor.inference.engine import Engine, Fired
from advisor.inference.facts import Fact
from advisor.model.case import (
    LAYOUT,
    Case,
    Closed,
    Event,
    KnowledgeChanged,
    Limited,
    MachineChanged,
    Moved,
    Noted,
    Overridden,
    Reopened,
    SetupChanged,
    State,
    Taught,
    Told,
    fold,
    folds,
    intake_events,
)  # fmt: skip
from advisor.model.finding import Assessment, Held, Judged, Later
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.model.trouble_code import TroubleCode
from advisor.reasoning.likelihoods import Space, space
from advisor.reasoning.standing import Frame

if TYPE_CHECKING:
    from advisor.reasoning.ranking import Ranking

# Events that say nothing of the fault: what was concluded before them still stands.
SILENT = (Noted, Taught, Moved, SetupChanged, Limited, Overridden, Closed, Reopened, KnowledgeChanged)


@dataclass(frozen=True)
class TrailStep:
    """One event of the trail with what it changed."""

    number: int
    event: Event
    before: Assessment
    after: Assessment


@dataclass
class Consultation:
    """Reasons about cases of one machine with one knowledge.

    Keeps one rule engine, for building it is dear, the suspects of each complaint, and the states of the machine.
    """

    knowledge: Knowledge
    machine: Machine = field(default_factory=generic_machine)
    _engine: Engine | None = None
    _spaces: dict[str, Space] = field(default_factory=dict)
    _grounds: dict[Hashable, Frame] = field(default_factory=dict, repr=False)
    _gatherer: Gatherer | None = field(default=None, repr=False)
    _ranked: tuple[tuple[Any, ...], Ranking] | None = field(default=None, repr=False)  # what was weighed last, and the ranking
    _said: tuple[Concluded, Assessment] | None = field(default=None, repr=False)  # what rules concluded last, alone
    _assessed: tuple[Evidence, Ranking, Assessment] | None = field(default=None, repr=False)

    @property
    def rules(self) -> tuple[CompiledRule, ...]:
        return self.engine.rules

    @property
    def engine(self) -> Engine:
        if self._engine is None:
            self._engine = Engine(compile_rules(self.knowledge))
        return self._engine

    def space(self, complaint: str) -> Space:
        if complaint not in self._spaces:
            self._spaces[complaint] = space(self.knowledge, self.machine, complaint)
        return self._spaces[complaint]

    def ground(self, state: State, *, limited: bool = True) -> Frame:
        """The states of the machine and the moves between them; kept, with every way found, as long as they stay the same."""
        key = (
            (limited, *frame_key(self.knowledge, self.machine, state))
            if limited
            else frame_key(self.knowledge, self.machine, state)[:1]
        )
        if key not in self._grounds:
            self._grounds[key] = frame_of(self.knowledge, self.machine, state, limited=limited)
        return self._grounds[key]

    def codes(self, state: State) -> tuple[TroubleCode, ...]:
        return codes(state)

    def facts(self, state: State) -> tuple[Fact, ...]:
        """The facts of a state, in one fixed order."""
        return Facts(self.knowledge, self.machine).of(state)

    def judged(self, state: State) -> tuple[Judged, ...]:
        """Every load-test reading with its verdict, in order."""
        return judged(self.machine, state.readings)

    def evidence(self, state: State) -> Evidence:
        """Deduces from a state and gathers what bears on the ranking."""
        if self._gatherer is None:
            self._gatherer = Gatherer(self.knowledge, self.machine, self.engine, self.space)
        return self._gatherer.of(state)

    def rank(self, state: State) -> tuple[Evidence, Ranking]:
        """The evidence of a state and the ranking from it; a ranking stands for as long as nothing that it weighs changes."""
        from advisor.reasoning.ranking import ranked

        found = self.evidence(state)
        last = self._ranked
        weighed = (found.space, found.families, found.factors, found.harness, found.mended)
        if last is None or any(one is not other for one, other in zip(weighed, last[0], strict=True)):
            last = self._ranked = (weighed, ranked(*weighed))
        return found, last[1]

    def assess(self, case: Case, *, plan: bool = True, robust: bool = False) -> Assessment:
        """Everything that follows from a case as it stands.

        `plan` adds the next step; `robust` adds how well the leader stands, which costs more than all the rest.
        """
        if plan:
            return self.assessed(self.situation(case, robust=robust))
        return self._concluded(fold(case), robust=robust)[1]

    def assessed(self, s: Situation) -> Assessment:
        """The assessment of a situation with the next step."""
        advice = advise(s)
        return replace(s.assessment, next=advice.next, alternatives=advice.steps[1:], to_the_end=advice.to_the_end)

    def situation(self, case: Case, *, robust: bool = False) -> Situation:
        """A case as it stands, with all that is deduced from it."""
        state = fold(case)
        ranking, assessment = self._concluded(state, robust=robust)
        told = episodes(self.knowledge, self.machine, state)
        ground, open_ground = self.ground(state), self.ground(state, limited=False)
        return Situation(
            self.knowledge, self.machine, case, state, told, ranking, assessment,
            judged(self.machine, readings_in_force(state, self.machine, told)), ground, open_ground,
            stand_of(self.knowledge, ground, state),
        )  # fmt: skip

    def _concluded(self, state: State, *, robust: bool = False) -> tuple[Ranking, Assessment]:
        """The ranking of a state, and the assessment without a next step; the very same as before where nothing changed."""
        from advisor.reasoning import ranking as ranks

        found, ranking = self.rank(state)
        last = self._assessed
        if last is None or last[0] is not found:
            before = None if last is None or last[1] is not ranking else last[2]
            last = self._assessed = (found, ranking, self._assessment(found, ranking, before))
        assessment = last[2]
        return ranking, replace(assessment, robustness=ranks.robustness(ranking)) if robust else assessment

    def _assessment(self, found: Evidence, ranking: Ranking, before: Assessment | None) -> Assessment:
        """The assessment without a next step; `before` is another one of the same ranking."""
        from advisor.reasoning import ranking as ranks

        if self._said is None or self._said[0] is not found.concluded:
            self._said = (found.concluded, _said(found.concluded))
        return replace(
            self._said[1],
            ranking=ranks.lines(ranking) if before is None else before.ranking,
            suspects=Later(partial(ranks.suspects, ranking)) if before is None else before.suspects,
            because=found.because,
            readings=found.judged,
            messages=self._messages(ranking, found),
        )

    def _messages(self, ranking: Ranking, found: Evidence) -> tuple[str, ...]:
        """What must be said about the whole: answers that fit nothing, readings that accuse the test and not the harness."""
        from advisor.reasoning.readings import all_equally_high

        said = []
        if ranking.shares[-1] >= ranking.shares[:-1].max(initial=0.0) and any(f.used for f in ranking.families):
            said.append("No cause on the list fits well what was found. Check the answers given; look beyond the list.")
        if found.judged:
            high = all_equally_high(self.machine, found.judged)
            if high is not None:
                said.append(f"{high.what} {high.hint}".strip())
        return tuple(said)

    def trail(self, case: Case) -> tuple[TrailStep, ...]:
        """Every event after the opening, with the assessments before and after it.

        The intake belongs to the opening: none of its answers changes what stood before the first step.
        """
        if not case.events:
            return ()
        steps: list[TrailStep] = []
        told, before = intake_events(case), None
        exchanged = any(isinstance(e, MachineChanged) or (isinstance(e, Told) and e.question == LAYOUT) for e in case.events)
        for number, (event, state) in enumerate(zip(case.events, folds(case), strict=True)):
            if number < told:
                continue
            if exchanged:
                from advisor.consultation.fits import fitting

                state = fitting(self.knowledge, self.machine, state)
            moves = before is None or not isinstance(event, SILENT)
            after = self._concluded(state)[1] if moves else before
            assert after is not None  # the first one is always made
            if number == told:
                steps += [TrailStep(n, case.events[n], after, after) for n in range(1, told + 1)]
            else:
                steps.append(TrailStep(number, event, before or after, after))
            before = after
        return tuple(steps)


def _said(conclusions: Concluded) -> Assessment:
    """What rules conclude besides the ranking, as an assessment of nothing else."""
    return Assessment(
        (), (), (),
        findings=_once(c.text for _, c in conclusions if c.kind == "finding"),
        advice=_once(c.text for _, c in conclusions if c.kind == "advice"),
        cautions=_once(c.subject for _, c in conclusions if c.kind == "caution"),
        holds=tuple(dict.fromkeys(_held(f, c) for f, c in conclusions if c.kind == "hold")),
    )  # fmt: skip


def _once(texts: Iterator[str] | Any) -> tuple[str, ...]:
    return tuple(dict.fromkeys(t for t in texts if t))


def _held(f: Fired, c: Any) -> Held:
    kind: Literal["check", "stage", "cause"] = "check" if c.hold.check else "stage" if c.hold.stage else "cause"
    return Held(c.subject, kind, c.text, f.rule.id.removeprefix("rule:"))
