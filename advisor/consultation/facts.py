"""The facts of a case: what was answered, what was left out, and all else, each by itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import replace

from advisor.consultation.episodes import episodes
from advisor.consultation.ground import features
from advisor.consultation.in_force import answered, readings_in_force
from advisor.inference.facts import Fact, case_facts, fact
from advisor.model.case import SKIPPED, Answered, Reading, State
from advisor.model.finding import Judged
from advisor.model.knowledge import Knowledge
from advisor.model.machine import Machine
from advisor.model.stage import ASK
from advisor.model.trouble_code import TroubleCode, parse_code

LOADED = "load-test"


def judged(machine: Machine, readings: Mapping[int, Reading]) -> tuple[Judged, ...]:
    """Load-test readings with their verdicts, in order."""
    if not readings:
        return ()
    from advisor.reasoning.readings import judge

    return tuple(replace(judge(machine, r), number=n) for n, r in sorted(readings.items()))


def codes(state: State) -> tuple[TroubleCode, ...]:
    """The trouble codes of a case."""
    return tuple(parse_code(text) for text in (state.opened.codes if state.opened else ()))


class Facts:
    """The facts of a case, as they come from what was answered and from all else."""

    def __init__(self, knowledge: Knowledge, machine: Machine) -> None:
        self._knowledge, self._machine, self._layout = knowledge, machine, tuple(machine.facts())

    def of(self, state: State) -> tuple[Fact, ...]:
        """All facts of a state, in one fixed order."""
        told = episodes(self._knowledge, self._machine, state)
        given = answered(state, told)
        asked = {a.check for a in state.answers.values()}
        verdicts = judged(self._machine, readings_in_force(state, self._machine, told))
        return tuple(sorted({*self.answered(given), *self.skipped(state), *self.others(state, asked, verdicts)}))

    def answered(self, given: Iterable[Answered]) -> set[Fact]:
        """What answers in force say."""
        return {fact("answered", a.check, r, a.place or a.where or "") for a in given for r in (a.result, *a.also)}

    def skipped(self, state: State) -> set[Fact]:
        """What was left out."""
        return {fact("answered", s.check, SKIPPED, s.place or "") for s in state.skipped.values()}

    def others(self, state: State, asked: Set[str], verdicts: Sequence[Judged]) -> tuple[Fact, ...]:
        """All other facts: complaint, intake, codes, layout, repairs, load tests, and what the machine file answers.

        `asked` are the checks that somebody answered: the file does not speak of these.
        """
        opened = state.opened
        told = features(self._knowledge, self._machine, replace(state, answers={}))
        answers: list[tuple[str, str, str | None]] = [
            (q, given[0], None) for q, given in told.items() if q not in asked and self.is_asked(q)
        ]
        if verdicts:  # a load test is also a check that has been done
            answers.append((LOADED, min((j.verdict for j in verdicts), key=("over", "unsure", "within").index), None))
        return case_facts(
            opened.complaint if opened else None,
            opened.intake if opened else {},
            [(c.spn, c.fmi) for c in codes(state)],
            answers,
            [(j.verdict, j.circuit) for j in verdicts],
            self._layout,
            [r.cause for r in state.repairs.values()],
        )

    def is_asked(self, name: str) -> bool:
        check = self._knowledge.checks.get(name)
        return check is not None and check.stage == ASK
