"""A case and what follows from it: evidence, ranking, holds, next step, trail. Pure: no terminal, no files."""

from __future__ import annotations

from collections.abc import Container, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from advisor.consultation.advice import advise
from advisor.consultation.episodes import Episode, episodes
from advisor.consultation.ground import features, frame_key, frame_of, stand_of
from advisor.consultation.in_force import MOST_TAKES, answered, failed, readings_in_force
from advisor.consultation.shown import shown
from advisor.consultation.situation import Situation
from advisor.evidence.rows import OTHERWISE, row_for
from advisor.inference.compiler import CompiledRule, Conclusion, compile_rules
from advisor.inference.engine import Engine, Fired
from advisor.inference.facts import Fact, case_facts
from advisor.model.case import (
    SKIPPED,
    STAYED_GOOD,
    Answered,
    Case,
    Closed,
    Event,
    KnowledgeChanged,
    Limited,
    Moved,
    Noted,
    Overridden,
    Reading,
    Reopened,
    SetupChanged,
    State,
    Taught,
    fold,
    folds,
    intake_events,
)  # fmt: skip
from advisor.model.finding import QUIET, Assessment, Bearing, Because, Held, Judged, Suspect
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine, generic_machine
from advisor.model.stage import ASK
from advisor.model.trouble_code import TroubleCode, parse_code
from advisor.reasoning.likelihoods import Space, space
from advisor.reasoning.showing import showing_chance
from advisor.reasoning.standing import Frame

if TYPE_CHECKING:
    from advisor.reasoning.harness import Harness
    from advisor.reasoning.ranking import Ranking
    from advisor.reasoning.witnesses import Witness

# A repaired place is as good as new: prior factor of its cause when the fault was seen again; a judgement, no source.
REPAIRED_FACTOR = 0.05
# Events that say nothing of the fault: what was concluded before them still stands.
SILENT = (Noted, Taught, Moved, SetupChanged, Limited, Overridden, Closed, Reopened, KnowledgeChanged)
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
    concluded: tuple[tuple[Fired, Conclusion], ...]  # everything but what answers say of the suspects
    witnesses: tuple[Witness, ...]
    factors: Any  # one a suspect
    harness: Harness | None
    judged: tuple[Judged, ...]
    mended: Mapping[int, frozenset[str]]  # suspects repaired in vain, and the checks that no longer speak of them


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

    @cached_property
    def _layout(self) -> tuple[str, ...]:
        return tuple(self.machine.facts())

    def codes(self, state: State) -> tuple[TroubleCode, ...]:
        return tuple(parse_code(text) for text in (state.opened.codes if state.opened else ()))

    def facts(self, state: State) -> tuple[Fact, ...]:
        """The facts of a state, in one fixed order."""
        told = episodes(self.knowledge, self.machine, state)
        return self._facts(state, told, answered(state, told))

    def _facts(self, state: State, told: Sequence[Episode], given: Sequence[Answered]) -> tuple[Fact, ...]:
        opened = state.opened
        answers = [(a.check, r, a.place or a.where) for a in given for r in (a.result, *a.also)]
        answers += [
            (q, given[0], None) for q, given in features(self.knowledge, self.machine, state).items() if self._is_told(q, state)
        ]
        answers += [(s.check, SKIPPED, s.place) for s in state.skipped.values()]
        verdicts = [(j.verdict, j.circuit) for j in self._judged(readings_in_force(state, self.machine, told))]
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

    def _is_told(self, name: str, state: State) -> bool:
        """Whether the machine file answers a question that would otherwise be asked."""
        check = self.knowledge.checks.get(name)
        return check is not None and check.stage == ASK and all(a.check != name for a in state.answers.values())

    def judged(self, state: State) -> tuple[Judged, ...]:
        """Every load-test reading with its verdict, in order."""
        return self._judged(state.readings)

    def _judged(self, readings: Mapping[int, Reading]) -> tuple[Judged, ...]:
        if not readings:
            return ()
        from advisor.reasoning.readings import judge

        return tuple(replace(judge(self.machine, r), number=n) for n, r in sorted(readings.items()))

    def evidence(self, state: State) -> Evidence:
        """Deduces from a state and gathers what bears on the ranking."""
        from advisor.reasoning import harness
        from advisor.reasoning.witnesses import Witness

        assert state.opened is not None, "a case starts with its complaint"
        told = episodes(self.knowledge, self.machine, state)
        given = answered(state, told)
        fired = self.engine.deduce(self._facts(state, told, given))
        concluded = tuple((f, c) for f in fired for c in f.rule.conclusions if c.kind != "row")
        discounts = {c.subject for _, c in concluded if c.kind == "discount"}
        takes: dict[tuple[str, str | None, str | None], list[Answered]] = {}
        for a in given:
            takes.setdefault((a.check, a.result, a.place or a.where), []).append(a)
        known, words = shown(self.knowledge, state), self.knowledge.words
        witnesses: list[Witness] = []
        said: dict[str, list[str]] = {}
        for f in fired:
            for c in f.rule.conclusions:
                if c.kind != "row":
                    continue
                check = self.knowledge.checks.get(c.subject)
                if check is None or check.stage == ASK:
                    said.setdefault(c.subject, []).append(c.result)
                elif check.at != "section":
                    place = f.premises[0].get("place") or None
                    strength = DISCOUNT if c.subject in discounts else 1.0
                    q = showing_chance(check, known, words.showing)
                    spot = place if check.at is not None else None
                    witness = Witness(c.subject, c.result, spot, strength, q)
                    seen = takes.get((c.subject, c.result, place), [])[:MOST_TAKES]
                    witnesses += [witness._replace(where=a.where, side=a.side) for a in seen] or [witness]
        witnesses += [Witness(name, given[0], also=tuple(given[1:])) for name, given in said.items()]
        if STAYED_GOOD in self.knowledge.checks:
            witnesses += [Witness(STAYED_GOOD, r.stayed) for e in told for _, r in sorted(e.runs.items()) if r.stayed is not None]
        readings = [reading for _, reading in sorted(readings_in_force(state, self.machine, told).items())]
        weights = harness.evidence(self.machine, readings) if readings else None
        vain = failed(told)
        factors, mended = self._factors(state, concluded, vain), self._mended(state, vain)
        return Evidence(fired, concluded, tuple(witnesses), factors, weights, self.judged(state), mended)

    def _mended(self, state: State, vain: Sequence[Episode]) -> Mapping[int, frozenset[str]]:
        """The suspects that were repaired in vain, each with the checks that can show it.

        What showed it was mended. Seen again after the repair it is more of the same, and no second witness against it.
        """
        assert state.opened is not None
        found: dict[int, frozenset[str]] = {}
        for i, s in enumerate(self.space(state.opened.complaint).suspects):
            if any(_repaired(e, s) for e in vain):
                cause = self.knowledge.causes[s.cause]
                found[i] = frozenset({*cause.proof, *cause.retest})
        return found

    def _factors(self, state: State, concluded: Sequence[tuple[Fired, Conclusion]], vain: Sequence[Episode]) -> Any:
        """Prior factors of rules and codes, and of repairs that did not cure, one a suspect.

        What rules concluded for a cause from what was seen went with its repair.
        """
        import numpy as np

        assert state.opened is not None
        suspects = self.space(state.opened.complaint).suspects
        worth = self.knowledge.words.factor
        causes = {s.cause: 1.0 for s in suspects}
        seen = dict(causes)
        weighs = ((f, c) for f, c in concluded if c.kind in ("prior", "evidence"))
        said = {(f.rule.id, c.subject, c.word, self._was_seen(f)) for f, c in weighs}
        for _, cause, word, by_look in sorted(said, key=str):  # a rule that fires on several answers or places says it once
            if cause in causes:
                causes[cause] *= worth[word]  # type: ignore[index]
                seen[cause] *= max(1.0, worth[word]) if by_look else 1.0  # type: ignore[index]
        if not vain:
            return np.array([causes[s.cause] for s in suspects])
        times = [sum(_repaired(e, s) for e in vain) for s in suspects]
        gone = [REPAIRED_FACTOR**n / seen[s.cause] if n else 1.0 for n, s in zip(times, suspects, strict=True)]
        return np.array([causes[s.cause] * g for s, g in zip(suspects, gone, strict=True)])

    def _was_seen(self, f: Fired) -> bool:
        """Whether a rule fired on what a check found, not only on what was told."""
        checks = [self.knowledge.checks.get(str(p.get("check"))) for p in f.premises if p.template == "answered"]
        return any(c is not None and c.stage != ASK for c in checks)

    def rank(self, state: State) -> tuple[Evidence, Ranking]:
        from advisor.reasoning.ranking import rank

        assert state.opened is not None
        found = self.evidence(state)
        return found, rank(self.space(state.opened.complaint), found.witnesses, found.factors, found.harness, found.mended)

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
            self._judged(readings_in_force(state, self.machine, told)), ground, open_ground,
            stand_of(self.knowledge, ground, state),
        )  # fmt: skip

    def _concluded(self, state: State, *, robust: bool = False) -> tuple[Ranking, Assessment]:
        """The ranking of a state, and the assessment without a next step."""
        from advisor.reasoning import ranking as ranks

        found, ranking = self.rank(state)
        conclusions = found.concluded
        return ranking, Assessment(
            ranking=ranks.lines(ranking),
            suspects=ranks.suspects(ranking),
            because=tuple(self._because(ranking, found)),
            findings=_once(c.text for _, c in conclusions if c.kind == "finding"),
            advice=_once(c.text for _, c in conclusions if c.kind == "advice"),
            cautions=_once(c.subject for _, c in conclusions if c.kind == "caution"),
            holds=tuple(dict.fromkeys(_held(f, c) for f, c in conclusions if c.kind == "hold")),
            readings=found.judged,
            robustness=ranks.robustness(ranking) if robust else None,
            messages=self._messages(ranking, found),
        )

    def _because(self, ranking: Ranking, found: Evidence) -> Iterator[Because]:
        """The trail's branches: every fired rule with its premises and, for answers, how it moved the suspects."""
        strength = {(w.check, w.result, w.place or w.where): w for w in ranking.witnesses}
        known = ranking.space.memo.setdefault("branches", {})  # a case of many answers has most of them again at each step
        for f in found.fired:
            w = None
            for c in f.rule.conclusions:
                if c.kind == "row":
                    w = strength.get((c.subject, c.result, f.premises[0].get("place") or None))
            key = (f.rule.id, f.premises, w)
            if key not in known:
                known[key] = self._branch(ranking.space, f, w)
            yield known[key]

    def _branch(self, space: Space, f: Fired, w: Witness | None) -> Because:
        """One branch of the trail: a fired rule, and the answer that it reads as evidence if it is one."""
        from advisor.reasoning.ranking import decibans

        present = space.by_cause
        moved: tuple[Bearing, ...] = ()
        if w is not None:
            moved = tuple(Bearing(x, decibans(space, w, x)) for x in self._named(w.check, present))
        factors = [(c.subject, c.word) for c in f.conclusions if c.kind in ("prior", "evidence") and c.subject in present]
        moved += tuple(Bearing(x, _factor_decibans(self.knowledge, word)) for x, word in factors)
        says = "; ".join(_once(c.text for c in f.conclusions))
        says = says if not f.rule.id.startswith("rule:") else f"{f.rule.because} {says}".strip()
        showing = 1.0 if w is None else self._showed(w)
        found = Because(f.rule.id, tuple(_premise(p) for p in f.premises), says, f.rule.source, moved, showing)
        return replace(found, says=f"{says}. {QUIET}") if found.quiet else found

    def _showed(self, w: Witness) -> float:
        """The chance that the fault showed while a check was done that found nothing; one where that does not matter."""
        check = self.knowledge.checks.get(w.check)
        if check is None or check.stage == ASK or check.lasts is True:
            return 1.0
        return w.showing if any(r.id == w.result and r.normal for r in check.results) else 1.0

    def _named(self, subject: str, present: Container[str]) -> list[str]:
        """The causes among those present of which a check, or what is told, says something."""
        causes = self.knowledge.causes
        if subject in self.knowledge.intake or self.knowledge.checks[subject].stage == ASK:
            return [x for x in causes if x in present and subject in {*causes[x].told, *causes[x].needs_feature}]
        check = self.knowledge.checks[subject]
        return [x for x in causes if x in present and row_for(check, causes[x]) not in (None, OTHERWISE)]

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
        """Every event after the opening, with the assessments before and after it.

        The intake belongs to the opening: none of its answers changes what stood before the first step.
        """
        if not case.events:
            return ()
        steps: list[TrailStep] = []
        told, before = intake_events(case), None
        for number, (event, state) in enumerate(zip(case.events, folds(case), strict=True)):
            if number < told:
                continue
            moves = before is None or not isinstance(event, SILENT)
            after = self._concluded(state)[1] if moves else before
            assert after is not None  # the first one is always made
            if number == told:
                steps += [TrailStep(n, case.events[n], after, after) for n in range(1, told + 1)]
            else:
                steps.append(TrailStep(number, event, before or after, after))
            before = after
        return tuple(steps)


def _repaired(episode: Episode, suspect: Suspect) -> bool:
    return suspect.cause == episode.repair.cause and episode.repair.place in (None, suspect.place)


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
