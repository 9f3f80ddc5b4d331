"""A case and what follows from it: evidence, ranking, holds, next step, trail. Pure: no terminal, no files."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from advisor.consultation.in_force import MOST_TAKES, answered, failed_repairs, readings_in_force
from advisor.inference.compiler import CompiledRule, compile_rules
from advisor.inference.engine import Engine, Fired, can_fire
from advisor.inference.facts import Fact, case_facts
from advisor.model.case import (
    SKIPPED,
    Case,
    Closed,
    Event,
    KnowledgeChanged,
    Limited,
    Noted,
    Overridden,
    Reading,
    Reopened,
    SetupChanged,
    State,
    fold,
)  # fmt: skip
from advisor.model.finding import Assessment, Because, Held, Judged, Moved
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.model.trouble_code import TroubleCode, parse_code
from advisor.reasoning.likelihoods import Space, space

if TYPE_CHECKING:
    from advisor.reasoning.harness import Harness
    from advisor.reasoning.planning import Action
    from advisor.reasoning.ranking import Ranking, Witness

REPAIRED_FACTOR = 0.1  # a repaired cause whose retest failed is not exonerated for ever, but less likely; a judgement, no source
# Events that say nothing of the fault: what was concluded before them still stands.
SILENT = (Noted, SetupChanged, Limited, Overridden, Closed, Reopened, KnowledgeChanged)
DISCOUNT = 0.5  # strength, in log terms, of an answer that a rule says is worth less


@dataclass(frozen=True)
class TrailStep:
    """One event of the trail with what it changed."""

    number: int
    event: Event
    before: Assessment
    after: Assessment


@dataclass
class Evidence:
    """A state's evidence in the form that ranking takes, with the trace it came from."""

    fired: tuple[Fired, ...]
    witnesses: tuple[Witness, ...]
    factors: Any  # one a suspect
    harness: Harness | None
    judged: tuple[Judged, ...]


@dataclass
class Consultation:
    """Reasons about cases of one machine with one knowledge.

    Keeps one rule engine, for building it is dear, and what the last readings let expect of the next, for most answers add none.
    """

    knowledge: Knowledge
    machine: Machine = field(default_factory=generic_machine)
    _engine: Engine | None = None
    _spaces: dict[str, Space] = field(default_factory=dict)
    _predicted: tuple[Space, list[Reading], list[Action]] | None = field(default=None, repr=False)

    @property
    def rules(self) -> tuple[CompiledRule, ...]:
        return self.engine.rules

    @property
    def engine(self) -> Engine:
        if self._engine is None:
            self._engine = Engine(compile_rules(self.knowledge))
        return self._engine

    def narrowed(self, case: Case) -> Consultation:
        """The same, with only those rules that something of this case or of its beginnings can fire.

        Building and running the engine is the dearest part of telling a case step by step, and most rules never get a word.
        """
        states = (fold(Case(case.events[: n + 1])) for n in range(len(case.events)))
        said = {known for state in states for known in self.facts(state)}
        return Consultation(self.knowledge, self.machine, Engine(can_fire(self.rules, said)), self._spaces)

    def space(self, complaint: str) -> Space:
        if complaint not in self._spaces:
            self._spaces[complaint] = space(self.knowledge, self.machine, complaint)
        return self._spaces[complaint]

    def load_tests(self, space: Space, readings: list[Reading]) -> list[Action]:
        """The load tests that are open after these readings."""
        from advisor.consultation.actions import load_tests

        if self._predicted is None or self._predicted[0] is not space or self._predicted[1] != readings:
            self._predicted = (space, readings, load_tests(space, readings))
        return self._predicted[2]

    @cached_property
    def _layout(self) -> tuple[str, ...]:
        return tuple(self.machine.facts())

    def codes(self, state: State) -> tuple[TroubleCode, ...]:
        return tuple(parse_code(text) for text in (state.opened.codes if state.opened else ()))

    def facts(self, state: State) -> tuple[Fact, ...]:
        """The facts of a state, in one fixed order."""
        opened = state.opened
        answers = [(a.check, a.result, a.place) for a in answered(self.knowledge, state)]
        answers += [(s.check, SKIPPED, s.place) for s in state.skipped.values()]
        verdicts = [(j.verdict, j.circuit) for j in self.in_force(state)]
        if verdicts:  # a load test is also a check that has been done
            worst = min((v for v, _ in verdicts), key=("over", "unsure", "within").index)
            answers.append(("load-test", worst, None))
        return case_facts(
            opened.complaint if opened else None,
            opened.intake if opened else {},
            [(c.spn, c.fmi) for c in self.codes(state)],
            answers,
            verdicts,
            self._layout,
            [r.cause for r in state.repairs.values()],
        )

    def judged(self, state: State) -> tuple[Judged, ...]:
        """Every load-test reading with its verdict, in order."""
        return self._judged(state.readings)

    def in_force(self, state: State) -> tuple[Judged, ...]:
        """The load tests that speak of the fault as it stands, with their verdicts."""
        return self._judged(readings_in_force(self.knowledge, state, self.machine))

    def _judged(self, readings: Mapping[int, Reading]) -> tuple[Judged, ...]:
        if not readings:
            return ()
        from advisor.reasoning.readings import judge

        return tuple(replace(judge(self.machine, r), number=n) for n, r in sorted(readings.items()))

    def evidence(self, state: State) -> Evidence:
        """Deduces from a state and gathers what bears on the ranking."""
        from advisor.reasoning import harness
        from advisor.reasoning.ranking import Witness

        assert state.opened is not None, "a case starts with its complaint"
        fired = self.engine.deduce(self.facts(state))
        discounts = {c.subject for f in fired for c in f.conclusions if c.kind == "discount"}
        takes = Counter((a.check, a.result, a.place) for a in answered(self.knowledge, state))
        witnesses = []
        for f in fired:
            for c in f.conclusions:
                if c.kind == "row" and self.knowledge.checks[c.subject].at != "section":
                    place = f.premises[0].get("place") or None
                    strength = DISCOUNT if c.subject in discounts else 1.0
                    witness = Witness(c.subject, c.result, place, strength)
                    witnesses += [witness] * min(takes[c.subject, c.result or "", place], MOST_TAKES)
        readings = [reading for _, reading in sorted(readings_in_force(self.knowledge, state, self.machine).items())]
        weights = harness.evidence(self.machine, readings) if readings else None
        return Evidence(fired, tuple(witnesses), self._factors(state, fired), weights, self.judged(state))

    def _factors(self, state: State, fired: tuple[Fired, ...]) -> Any:
        """Prior factors of rules and codes, and of repairs that did not cure, one a suspect."""
        import numpy as np

        assert state.opened is not None
        suspects = self.space(state.opened.complaint).suspects
        worth = self.knowledge.words.factor
        causes = {s.cause: 1.0 for s in suspects}
        for f in fired:
            for c in f.conclusions:
                if c.kind in ("prior", "evidence") and c.subject in causes:
                    causes[c.subject] *= worth[c.word]  # type: ignore[index]
        factors = np.array([causes[s.cause] for s in suspects])
        for repair in failed_repairs(self.knowledge, state, self.machine):
            for i, s in enumerate(suspects):
                if s.cause == repair.cause and repair.place in (None, s.place):
                    factors[i] *= REPAIRED_FACTOR
        return factors

    def rank(self, state: State) -> tuple[Evidence, Ranking]:
        from advisor.reasoning.ranking import rank

        assert state.opened is not None
        found = self.evidence(state)
        return found, rank(self.space(state.opened.complaint), found.witnesses, found.factors, found.harness)

    def assess(self, case: Case, *, plan: bool = True, robust: bool = False) -> Assessment:
        """Everything that follows from a case as it stands.

        `plan` adds the next step; `robust` adds how well the leader stands, which costs more than all the rest.
        """
        from advisor.consultation.next_step import next_steps
        from advisor.reasoning import ranking as ranks

        state = fold(case)
        found, ranking = self.rank(state)
        entries, shares = ranking.space.suspects, ranking.shares.tolist()
        order = sorted(range(len(shares)), key=lambda i: (-shares[i], entries[i].cause, i))
        suspects = tuple((entries[i], ranking.space.title(entries[i]), shares[i]) for i in order)
        conclusions = [(f, c) for f in found.fired for c in f.conclusions]
        assessment = Assessment(
            ranking=ranks.lines(ranking),
            suspects=suspects,
            because=tuple(self._because(ranking, found)),
            findings=_once(c.text for _, c in conclusions if c.kind == "finding"),
            advice=_once(c.text for _, c in conclusions if c.kind == "advice"),
            cautions=_once(c.subject for _, c in conclusions if c.kind == "caution"),
            holds=tuple(dict.fromkeys(_held(f, c) for f, c in conclusions if c.kind == "hold")),
            readings=found.judged,
            robustness=ranks.robustness(ranking) if robust else None,
            messages=self._messages(ranking, found),
        )
        if not plan:
            return assessment
        steps, to_the_end = next_steps(self, state, ranking, assessment)
        return replace(assessment, next=steps[0], alternatives=steps[1:], to_the_end=to_the_end)

    def _because(self, ranking: Ranking, found: Evidence) -> Iterator[Because]:
        """The trail's branches: every fired rule with its premises and, for answers, how it moved the suspects."""
        from advisor.reasoning.ranking import decibans

        strength = {(w.check, w.result, w.place): w for w in ranking.witnesses}
        present = {s.cause for s in ranking.space.suspects}
        for f in found.fired:
            moved: tuple[Moved, ...] = ()
            says = "; ".join(_once(c.text for c in f.conclusions))
            for c in f.conclusions:
                if c.kind == "row":
                    w = strength.get((c.subject, c.result, f.premises[0].get("place") or None))
                    causes = [x for x in self.knowledge.checks[c.subject].evidence if x in present]
                    moved = tuple(Moved(x, decibans(ranking.space, w, x)) for x in causes) if w else ()
            factors = [(c.subject, c.word) for c in f.conclusions if c.kind in ("prior", "evidence") and c.subject in present]
            moved += tuple(Moved(x, _factor_decibans(self.knowledge, word)) for x, word in factors)
            says = says if not f.rule.id.startswith("rule:") else f"{f.rule.because} {says}".strip()
            yield Because(f.rule.id, tuple(_premise(p) for p in f.premises), says, f.rule.source, moved)

    def _messages(self, ranking: Ranking, found: Evidence) -> tuple[str, ...]:
        """What must be said about the whole: answers that fit nothing, readings that accuse the test and not the harness."""
        from advisor.reasoning.readings import all_equally_high

        said = []
        if len(ranking.witnesses) and ranking.shares[-1] >= max(ranking.shares[:-1], default=0.0):
            said.append("What was found fits nothing on the list well. Check the answers given; look beyond the list.")
        if found.judged:
            high = all_equally_high(self.machine, found.judged)
            if high is not None:
                said.append(f"{high.what} {high.hint}".strip())
        return tuple(said)

    def trail(self, case: Case) -> tuple[TrailStep, ...]:
        """Every event after the opening, with the assessments before and after it."""
        if not case.events:
            return ()
        steps = []
        before = self.assess(Case(case.events[:1]), plan=False)
        for number in range(1, len(case.events)):
            event = case.events[number]
            after = before if isinstance(event, SILENT) else self.assess(Case(case.events[: number + 1]), plan=False)
            steps.append(TrailStep(number, case.events[number], before, after))
            before = after
        return tuple(steps)


def _once(texts: Iterator[str] | Any) -> tuple[str, ...]:
    return tuple(dict.fromkeys(t for t in texts if t))


def _held(f: Fired, c: Any) -> Held:
    kind: Literal["check", "stage", "cause"] = "check" if c.hold.check else "stage" if c.hold.stage else "cause"
    return Held(c.subject, kind, c.text, f.rule.id.removeprefix("rule:"))


def _factor_decibans(knowledge: Knowledge, word: str) -> float:
    import math

    return 10 * math.log10(knowledge.words.factor[word])  # type: ignore[index]


def _premise(f: Fact) -> str:
    """A fact in words for the trail."""
    values = [v for _, v in f.fields if v]
    return f"{f.template} " + " ".join(values)
