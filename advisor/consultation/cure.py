"""How likely a repair was the cure before the machine runs, and what the hours run since say of it."""

from __future__ import annotations

from advisor.consultation.actions import element_columns
from advisor.consultation.answers import normal_result
from advisor.consultation.run_words import conditions_line, report, run_lines, unknown_lines
from advisor.consultation.situation import Situation
from advisor.model.case import Answered, Opened, Retested, State
from advisor.model.knowledge import Knowledge
from advisor.reasoning.proof import MOST_RECURRENCES, RunAdvice, advise_run, upper_bound

WORKS = 0.9  # that the right repair works; as in REPAIRED_FACTOR, a judgement of this project, no source
LEAST, MOST = 1e-4, 0.999  # a prior is never taken to be surer than this
TRIES = 30


def cure_prior(s: Situation) -> float:
    """Probability that the last repair cured the fault, before any hours are run.

    Its share of the ranking times WORKS; then Bayes on a retest that passed: how likely is a normal result from a sound
    part, from this cause badly repaired, and from each other suspect.
    """
    assert s.last is not None, "a repair is asked about"
    repair = s.last.repair
    shares = [float(x) for x in s.shares]
    own = [x.cause == repair.cause and repair.place in (None, x.place) for x in s.space.suspects]
    share = sum(x for x, mine in zip(shares, own, strict=True) if mine)
    cured, rest = share * WORKS, [x * (1 - WORKS) if mine else x for x, mine in zip(shares, own, strict=True)]
    if s.last.last_good is not None:
        sound, suspects = _normal_chances(s, s.last.last_good)
        cured *= sound
        rest = [x * chance for x, chance in zip(rest, suspects, strict=True)]
    total = cured + sum(rest)
    return min(MOST, max(LEAST, cured / total)) if total > 0 else LEAST


def _normal_chances(s: Situation, retest: Retested) -> tuple[float, list[float]]:
    """Chance of a normal result of a retest: from a sound machine, and with each suspect still there."""
    from advisor.reasoning import harness
    from advisor.reasoning.runs import VERDICTS

    by = retest.by
    if isinstance(by, Answered):
        check = s.knowledge.checks[by.check]
        normal = [r.id for r in check.results].index(normal_result(check))
        table = s.table(check, by.place)[normal]
        return float(table[-1]), [float(x) for x in table]
    section = s.machine.section(by.circuit, by.start, by.end)
    assert section is not None  # a reading of no run is refused when it is typed
    before = [r for _, r in sorted(s.state.readings.items())]
    within = VERDICTS.index("within")
    sound = float(harness.predict(s.machine, [], [section])[0, within, 0])
    chances = harness.predict(s.machine, before, [section])[0, within]
    return sound, [float(chances[i]) for i in element_columns(s.space)]


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


def run_advice(s: Situation) -> RunAdvice | None:
    """How long to run after the last repair, and what the hours run since show; None when nobody counted."""
    counted = history(s.state)
    if counted is None:
        return None
    assert s.last is not None, "a repair is asked about"
    back = min(MOST_RECURRENCES, sum(r.recurrences for r in s.last.runs.values()))
    return advise_run(*counted, cure_prior(s), s.last.hours, back)


def conditions(knowledge: Knowledge, opened: Opened) -> tuple[str, ...]:
    """Under which conditions a run counts, from what the intake says brought the fault."""
    found = []
    for question, given in opened.intake.items():
        entry = knowledge.intake.get(question)
        found += [entry.run[answer] for answer in given if entry is not None and answer in entry.run]
    return tuple(found)


def reasons(s: Situation, advice: RunAdvice | None, *, over: bool = False) -> tuple[str, ...]:
    """The run in words: what the hours so far show, then how long, under which conditions, and what a recurrence means.

    `over`: enough hours are run, and only what they show is said.
    """
    assert s.state.opened is not None
    where = conditions(s.knowledge, s.state.opened)
    if advice is None:
        return () if over else (*unknown_lines(TRIES, upper_bound(TRIES)), conditions_line(where))
    prior = prior_says(s)
    return run_lines(advice, prior) if over else report(advice, where, prior)


def prior_says(s: Situation) -> str:
    """Where the probability before the run comes from."""
    assert s.last is not None, "a repair is asked about"
    title = s.knowledge.causes[s.last.repair.cause].title
    tested = "without a retest" if s.last.last_good is None else "and its retest"
    return f"from the ranking ({title[:1].lower() + title[1:]}) {tested}"
