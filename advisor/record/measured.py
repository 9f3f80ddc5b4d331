"""The numbers of a case: load-test readings with their limits, other measured values, and tests before and after a repair."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.consultation.reading_words import read_lines
from advisor.electrical.meter import COVERAGE, combined
from advisor.model.case import Answered, Corrected, Reading, Retested
from advisor.record.material import VERDICTS, Material, sure


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
    effect: str  # what the excess resistance does to the sensor; only for the worst drop over the limit of each kind of wire

    @property
    def run(self) -> str:
        return f"{self.circuit} from {self.start} to {self.end}"


@dataclass(frozen=True)
class ValueRow:
    """A number, or the numbers at both ends of travel, read for a measuring check."""

    number: int
    title: str
    read: str  # the number or numbers with their unit
    value: float | None  # None where several were read
    values: tuple[float, ...]
    unit: str
    says: str
    normal: bool
    meaning: str  # what the numbers come to, where that is more than the result says
    retest: bool
    replaced: str


@dataclass(frozen=True)
class Figures:
    """The numbers of one test before and after a repair, in `unit`; uncertainties are about 95 %.

    Without the uncertainty of the instrument there is no chance that the improvement is real.
    """

    what: str
    unit: str
    limit: float | None
    before: float
    before_uncertainty: float | None
    after: float
    after_uncertainty: float | None
    improvement: float  # above zero is better
    improvement_uncertainty: float | None
    probability_real: float | None  # that the true improvement is above zero
    probability_over: float | None  # that the true value after the repair is over the limit


@dataclass(frozen=True)
class Pair:
    """One test before and after a repair."""

    title: str
    before: str
    before_step: int | None
    after: str
    after_step: int
    passed: bool
    figures: Figures | None  # for tests that give a number, both times
    says: str  # what the figures come to

    @property
    def before_figure(self) -> str:
        """The number before with its uncertainty and limit; empty for a test that gives none."""
        return _shown(self.figures, self.figures.before, self.figures.before_uncertainty) if self.figures else ""

    @property
    def after_figure(self) -> str:
        """The number after, likewise."""
        return _shown(self.figures, self.figures.after, self.figures.after_uncertainty) if self.figures else ""


def _shown(f: Figures, value: float, uncertainty: float | None) -> str:
    if uncertainty is None:
        return f"{f.what} {value:g} {f.unit}"
    limit = "" if f.limit is None else f", limit {f.limit:.2f} {f.unit}"
    return f"{f.what} {value:.2f} \u00b1 {uncertainty:.2f} {f.unit}{limit}"


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
    """Every load test with its judgement, in order; what the excess does to the sensor is said with the worst of its kind."""
    from advisor.electrical.sensor import function_of

    # What the excess does to the sensor is said once for each kind of wire, of the reading with the most of it.
    over = [j for j in m.final.readings if j.verdict == "over" and j.excess_ohms > 0]
    worst = {function_of(j.circuit): j.number for j in sorted(over, key=lambda j: j.excess_ohms)}
    readings = [(number, by, retest, replaced) for number, by, retest, replaced in tests(m) if isinstance(by, Reading)]
    return tuple(_row(m, n, by, retest, replaced, n in worst.values()) for n, by, retest, replaced in readings)


def _row(m: Material, number: int, reading: Reading, retest: bool, replaced: str, worst: bool) -> ReadingRow:
    from advisor.electrical.sensor import effect_sentence, function_of, tracks_sentence
    from advisor.reasoning.readings import load_of

    j = m.judged(reading)
    load = load_of(m.machine, reading)
    effect = ""
    if worst:
        function = function_of(j.circuit)
        tracks = tracks_sentence(m.machine.sensor, j.excess_ohms, function, ", ".join(_shared(m, reading)))
        effect = f"{effect_sentence(m.machine.sensor, j.excess_ohms, function)} {tracks}".strip()
    shown = f"{load.ohms:g} ohm" if load.ohms is not None else f"{load.amps:g} A"
    return ReadingRow(
        number, j.circuit, j.start, j.end, shown, j.reference, j.loaded, j.drop_volts, j.limit_volts, j.expected_volts,
        COVERAGE * j.standard_uncertainty, j.probability_over, j.verdict, VERDICTS[j.verdict], j.excess_ohms, j.excess_low,
        j.excess_high, retest, replaced, j.advice, effect,
    )  # fmt: skip


def _shared(m: Material, reading: Reading) -> tuple[str, ...]:
    """The elements of a reading's run through which other circuits run too."""
    section = m.machine.section(reading.circuit, reading.start, reading.end)
    return tuple(e for e in section.elements if len(m.machine.sharers(e)) > 1) if section else ()


def remarks(m: Material) -> tuple[str, ...]:
    """Whether the sections of a run add up to the whole, for the readings in force, and what the controller's input sees."""
    from advisor.electrical.sensor import input_sentence
    from advisor.reasoning.readings import closure

    said = tuple(c.says for c in closure([m.judged(r) for _, r in sorted(m.state.readings.items())]))
    over = any(j.verdict == "over" for j in m.final.readings)
    return (*said, input_sentence(m.machine.sensor)) if over else said


def value_rows(m: Material) -> tuple[ValueRow, ...]:
    """Every number read in a measuring check, in order."""
    found = []
    for number, by, retest, replaced in tests(m):
        if isinstance(by, Answered) and by.read:
            check = m.check(by.check)
            result = next((r for r in check.results if r.id == by.result), None) if check else None
            says, normal = (result.says, result.normal) if result else (by.result, False)
            title, meaning = m.check_title(by.check, by.place), " ".join(read_lines(m.consultation, by))
            row = ValueRow(number, title, by.read, by.value, by.values, by.unit or "", says, normal, meaning, retest, replaced)
            found.append(row)
    return tuple(found)


def pairs(m: Material) -> tuple[Pair, ...]:
    """Each retest in force beside the same test before the repair: the newest that was not normal, else the newest."""
    from advisor.consultation.episodes import passed

    found = []
    for number, retest in sorted(m.state.retests.items()):
        repaired = max((n for n in m.state.repairs if n < number), default=number)
        earlier = [(n, by) for n, by in _in_force(m) if n < repaired and _same(m, by, retest.by)]
        bad = [(n, by) for n, by in earlier if not passed(m.knowledge, m.machine, Retested(by=by))]
        chosen = next(iter(reversed(bad or earlier)), None)
        before_step, before = (None, "Not tested before") if chosen is None else (m.told_in(chosen[0]), m.said(chosen[1]))
        good = passed(m.knowledge, m.machine, retest)
        figures = None if chosen is None else _figures(m, chosen[1], retest.by)
        says = "" if figures is None else _figures_words(figures)
        found.append(Pair(m.asked(retest.by), before, before_step, m.said(retest.by), number, good, figures, says))
    return tuple(found)


def _figures(m: Material, before: Answered | Reading, after: Answered | Reading) -> Figures | None:
    from advisor.electrical.drop import probability_over

    if isinstance(before, Reading) and isinstance(after, Reading):
        was, now = m.judged(before), m.judged(after)
        gain = was.drop_volts - now.drop_volts
        # Each drop's own uncertainty in full, though one meter's error in per cent is partly common to both: no less than true.
        together = combined(was.standard_uncertainty, now.standard_uncertainty)
        return Figures(
            "drop", "V", now.limit_volts, was.drop_volts, COVERAGE * was.standard_uncertainty, now.drop_volts,
            COVERAGE * now.standard_uncertainty, gain, COVERAGE * together, probability_over(gain, 0.0, together),
            now.probability_over,
        )  # fmt: skip
    if isinstance(before, Answered) and isinstance(after, Answered) and before.value is not None and after.value is not None:
        return _value_figures(m, before, before.value, after.value)
    return None


def _value_figures(m: Material, test: Answered, before: float, after: float) -> Figures:
    """Values of a measuring check: better is towards the band of the normal result. Only a voltmeter's error is known here."""
    from advisor.electrical.drop import probability_over
    from advisor.reasoning.readings import meter_of

    gain = _off_band(m, test, before) - _off_band(m, test, after)
    if test.unit != "V":
        return Figures("value", test.unit or "", None, before, None, after, None, gain, None, None, None)
    each = [meter_of(None).standard_uncertainty(v) for v in (before, after)]
    together = combined(*each)
    return Figures(
        "value", "V", None, before, COVERAGE * each[0], after, COVERAGE * each[1], gain, COVERAGE * together,
        probability_over(gain, 0.0, together), None,
    )  # fmt: skip


def _off_band(m: Material, test: Answered, value: float) -> float:
    """How far a value lies from the middle of the normal band, or, where the band is open, below or above its one limit."""
    check = m.check(test.check)
    normal = next((r for r in check.results if r.normal), None) if check else None
    low, high = (normal.above, normal.below) if normal else (None, None)
    if low is not None and high is not None:
        return abs(value - (low + high) / 2)
    return low - value if low is not None else value - high if high is not None else 0.0


def _figures_words(f: Figures) -> str:
    change = f"better by {f.improvement:.2f}" if f.improvement > 0 else f"not better ({f.improvement:+.2f})".replace("-", "\u2212")
    if f.improvement_uncertainty is None or f.probability_real is None:
        unknown = "Nobody knows how exact the instrument is. So nobody can say whether this is real."
        return f"The {f.what} is {change} {f.unit}. {unknown}"
    words = f"The {f.what} is {change} \u00b1 {f.improvement_uncertainty:.2f} {f.unit} (about 95 %)."
    words += f" Chance that the improvement is real: {sure(f.probability_real)}."
    return words if f.probability_over is None else f"{words} Chance that it is still over: {sure(f.probability_over)}."


def _in_force(m: Material) -> list[tuple[int, Answered | Reading]]:
    found: list[tuple[int, Answered | Reading]] = [*m.state.answers.items(), *m.state.readings.items()]
    found += [(n, r.by) for n, r in m.state.retests.items()]
    return sorted(found, key=lambda t: t[0])


def _same(m: Material, one: Answered | Reading, other: Answered | Reading) -> bool:
    """Whether two tests are the same test at the same place."""
    if isinstance(one, Reading) and isinstance(other, Reading):
        return m.judged(one).run == m.judged(other).run
    if isinstance(one, Answered) and isinstance(other, Answered):
        return (one.check, one.place) == (other.check, other.place)
    return False
