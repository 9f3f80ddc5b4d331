"""The numbers of a case: load-test readings with their limits, other measured values, and tests before and after a repair."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.electrical.meter import COVERAGE
from advisor.model.case import Answered, Corrected, Reading, Retested
from advisor.record.material import VERDICTS, Material


@dataclass(frozen=True)
class ReadingRow:
    """A load-test reading. Volts and ohms; `uncertainty_volts` is that of the drop, about 95 %."""

    number: int
    circuit: str
    start: str
    end: str
    load: str
    reference: float
    loaded: float
    drop_volts: float
    limit_volts: float
    expected_volts: float | None
    uncertainty_volts: float
    probability_over: float
    verdict: str
    verdict_words: str
    excess_ohms: float
    excess_low: float
    excess_high: float
    retest: bool
    replaced: str
    advice: str
    effect: str  # what the excess resistance does to the sensor; only for a drop over the limit

    @property
    def run(self) -> str:
        return f"{self.circuit} from {self.start} to {self.end}"


@dataclass(frozen=True)
class ValueRow:
    """A number read for a measuring check."""

    number: int
    title: str
    value: float
    unit: str
    says: str
    normal: bool
    retest: bool
    replaced: str


@dataclass(frozen=True)
class Pair:
    """One test before and after a repair."""

    title: str
    before: str
    before_step: int | None
    after: str
    after_step: int
    passed: bool


def tests(m: Material) -> list[tuple[int, Answered | Reading, bool, str]]:
    """Every answer and load test as it was said, in order: step, what, whether it is a retest, what became of it."""
    found: list[tuple[int, Answered | Reading, bool, str]] = []
    for number, event in enumerate(m.case.events):
        replaced = m.replaced.get(number, "")
        if isinstance(event, Answered | Reading):
            found.append((number, event, False, replaced))
        elif isinstance(event, Retested):
            found.append((number, event.by, True, replaced))
        elif isinstance(event, Corrected):
            found.append((number, event.by, False, replaced))
    return found


def reading_rows(m: Material) -> tuple[ReadingRow, ...]:
    return tuple(_row(m, number, by, retest, replaced) for number, by, retest, replaced in tests(m) if isinstance(by, Reading))


def _row(m: Material, number: int, reading: Reading, retest: bool, replaced: str) -> ReadingRow:
    from advisor.electrical.sensor import effect_sentence, function_of
    from advisor.reasoning.readings import load_of

    j = m.judged(reading)
    load = load_of(m.machine, reading)
    shown = f"{load.ohms:g} ohm" if load.ohms is not None else f"{load.amps:g} A"
    return ReadingRow(
        number, j.circuit, j.start, j.end, shown, j.reference, j.loaded, j.drop_volts, j.limit_volts, j.expected_volts,
        COVERAGE * j.standard_uncertainty, j.probability_over, j.verdict, VERDICTS[j.verdict], j.excess_ohms, j.excess_low,
        j.excess_high, retest, replaced, j.advice,
        effect_sentence(m.machine.sensor, j.excess_ohms, function_of(j.circuit)) if j.verdict == "over" else "",
    )  # fmt: skip


def remarks(m: Material) -> tuple[str, ...]:
    """Whether the sections of a run add up to the whole, for the readings in force."""
    from advisor.reasoning.readings import closure

    return tuple(c.says for c in closure([m.judged(r) for _, r in sorted(m.state.readings.items())]))


def value_rows(m: Material) -> tuple[ValueRow, ...]:
    """Every number read in a measuring check, in order."""
    found = []
    for number, by, retest, replaced in tests(m):
        if isinstance(by, Answered) and by.value is not None:
            check = m.check(by.check)
            result = next((r for r in check.results if r.id == by.result), None) if check else None
            says, normal = (result.says, result.normal) if result else (by.result, False)
            title = m.check_title(by.check, by.place)
            found.append(ValueRow(number, title, by.value, by.unit or "", says, normal, retest, replaced))
    return tuple(found)


def pairs(m: Material) -> tuple[Pair, ...]:
    """Each retest in force beside the same test before the repair: the newest that was not normal, else the newest."""
    from advisor.consultation.after_repair import passed

    found = []
    for number, retest in sorted(m.state.retests.items()):
        repaired = max((n for n in m.state.repairs if n < number), default=number)
        earlier = [(n, by) for n, by in _in_force(m) if n < repaired and _same(m, by, retest.by)]
        bad = [(n, by) for n, by in earlier if not passed(m.knowledge, Retested(by=by), _limit(m, by))]
        chosen = next(iter(reversed(bad or earlier)), None)
        before_step, before = (None, "Not tested before") if chosen is None else (m.told_in(chosen[0]), m.said(chosen[1]))
        good = passed(m.knowledge, retest, _limit(m, retest.by))
        found.append(Pair(m.asked(retest.by), before, before_step, m.said(retest.by), number, good))
    return tuple(found)


def _in_force(m: Material) -> list[tuple[int, Answered | Reading]]:
    found: list[tuple[int, Answered | Reading]] = [*m.state.answers.items(), *m.state.readings.items()]
    found += [(n, r.by) for n, r in m.state.retests.items()]
    return sorted(found, key=lambda t: t[0])


def _limit(m: Material, by: Answered | Reading) -> float | None:
    return m.judged(by).limit_volts if isinstance(by, Reading) else None


def _same(m: Material, one: Answered | Reading, other: Answered | Reading) -> bool:
    """Whether two tests are the same test at the same place."""
    if isinstance(one, Reading) and isinstance(other, Reading):
        return m.judged(one).run == m.judged(other).run
    if isinstance(one, Answered) and isinstance(other, Answered):
        return (one.check, one.place) == (other.check, other.place)
    return False
