"""How likely a repair was the cure before the machine runs, and what the hours run since say of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.consultation.after_repair import passed, proves, reading_limit, retests_of
from advisor.consultation.answers import normal_result
from advisor.consultation.run_words import conditions_line, report, run_lines, unknown_lines
from advisor.model.case import Answered, Opened, Reading, Repaired, Retested, State
from advisor.model.finding import NOT_LISTED
from advisor.model.knowledge import Knowledge
from advisor.reasoning.proof import MOST_RECURRENCES, RunAdvice, advise_run, upper_bound

if TYPE_CHECKING:
    from advisor.consultation.consultation import Consultation
    from advisor.reasoning.likelihoods import Space
    from advisor.reasoning.ranking import Ranking

WORKS = 0.9  # that the right repair works; as in REPAIRED_FACTOR, a judgement of this project, no source
LEAST, MOST = 1e-4, 0.999  # a prior is never taken to be surer than this
TRIES = 30


def cure_prior(consultation: Consultation, state: State, ranking: Ranking) -> float:
    """Probability that the last repair cured the fault, before any hours are run.

    Its share of the ranking times WORKS; then Bayes on a retest that passed: how likely is a normal result from a sound
    part, from this cause badly repaired, and from each other suspect.
    """
    number = max(state.repairs)
    repair = state.repairs[number]
    shares = [float(x) for x in ranking.shares / ranking.shares.sum()]
    own = [s.cause == repair.cause and repair.place in (None, s.place) for s in ranking.space.suspects]
    share = sum(x for x, mine in zip(shares, own, strict=True) if mine)
    cured, rest = share * WORKS, [x * (1 - WORKS) if mine else x for x, mine in zip(shares, own, strict=True)]
    good = _good_retests(consultation, state, number)
    if good:
        sound, suspects = _normal_chances(consultation, state, ranking, good[-1])
        cured *= sound
        rest = [x * chance for x, chance in zip(rest, suspects, strict=True)]
    total = cured + sum(rest)
    return min(MOST, max(LEAST, cured / total)) if total > 0 else LEAST


def _good_retests(consultation: Consultation, state: State, number: int) -> list[Retested]:
    """The retests of a repair that can show it, and passed."""
    knowledge, machine = consultation.knowledge, consultation.machine
    good = []
    for retest in retests_of(state, number):
        limit = reading_limit(machine, retest.by) if isinstance(retest.by, Reading) else None
        if passed(knowledge, retest, limit) and proves(knowledge, machine, state, state.repairs[number], retest):
            good.append(retest)
    return good


def _normal_chances(consultation: Consultation, state: State, ranking: Ranking, retest: Retested) -> tuple[float, list[float]]:
    """Chance of a normal result of a retest: from a sound machine, and with each suspect still there."""
    from advisor.evidence.rows import row
    from advisor.reasoning import harness
    from advisor.reasoning.runs import VERDICTS

    space, machine, by = ranking.space, consultation.machine, retest.by
    if isinstance(by, Answered):
        check = consultation.knowledge.checks[by.check]
        normal = [r.id for r in check.results].index(normal_result(check))
        table = space.table(by.check, by.place)[normal]
        return row(check, NOT_LISTED, space.used)[normal], [float(x) for x in table]
    section = machine.section(by.circuit, by.start, by.end)
    assert section is not None  # a reading of no run is refused when it is typed
    before = [r for _, r in sorted(state.readings.items())]
    within = VERDICTS.index("within")
    sound = float(harness.predict(machine, [], [section])[0, within, 0])
    chances = harness.predict(machine, before, [section])[0, within]
    return sound, [float(chances[i]) for i in element_columns(space)]


def element_columns(space: Space) -> list[int]:
    """For each suspect the column of `harness.predict` that speaks of it; 0 is "no bad element"."""
    index = {name: i + 1 for i, name in enumerate(space.machine.elements)}
    causes = space.knowledge.causes
    return [index.get(s.place or "", 0) if s.cause != NOT_LISTED and causes[s.cause].adds_resistance else 0 for s in space.suspects]


def history(state: State) -> tuple[int, float] | None:
    """Occurrences and hours before the last repair, or None when nobody counted.

    What came back after an earlier repair, and the hours until then, count with what the intake says.
    """
    opened = state.opened
    if opened is None or not opened.occurrences or not opened.hours or opened.hours < 0:
        return None
    last = max(state.repairs, default=-1)
    earlier = [r for n, r in state.runs.items() if n < last]
    return opened.occurrences + sum(r.recurrences for r in earlier), opened.hours + sum(r.hours for r in earlier)


def run_advice(consultation: Consultation, state: State, ranking: Ranking) -> RunAdvice | None:
    """How long to run after the last repair, and what the hours run since show; None when nobody counted."""
    counted = history(state)
    if counted is None:
        return None
    last = max(state.repairs)
    runs = [r for n, r in state.runs.items() if n > last]
    prior = cure_prior(consultation, state, ranking)
    back = min(MOST_RECURRENCES, sum(r.recurrences for r in runs))
    return advise_run(*counted, prior, sum(r.hours for r in runs), back)


def conditions(knowledge: Knowledge, opened: Opened) -> tuple[str, ...]:
    """Under which conditions a run counts, from what the intake says brought the fault."""
    found = []
    for question, given in opened.intake.items():
        entry = knowledge.intake.get(question)
        found += [entry.run[answer] for answer in given if entry is not None and answer in entry.run]
    return tuple(found)


def reasons(consultation: Consultation, state: State, advice: RunAdvice | None, *, over: bool = False) -> tuple[str, ...]:
    """The run in words: what the hours so far show, then how long, under which conditions, and what a recurrence means.

    `over`: enough hours are run, and only what they show is said.
    """
    assert state.opened is not None
    where = conditions(consultation.knowledge, state.opened)
    if advice is None:
        return () if over else (*unknown_lines(TRIES, upper_bound(TRIES)), conditions_line(where))
    prior = prior_says(consultation, state)
    return run_lines(advice, prior) if over else report(advice, where, prior)


def prior_says(consultation: Consultation, state: State) -> str:
    """Where the probability before the run comes from."""
    number = max(state.repairs)
    repair: Repaired = state.repairs[number]
    title = consultation.knowledge.causes[repair.cause].title
    tested = "and its retest" if _good_retests(consultation, state, number) else "without a retest"
    return f"from the ranking ({title[:1].lower() + title[1:]}) {tested}"
