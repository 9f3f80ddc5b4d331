"""Cross references of a knowledge folder: every id that is named must exist, and an entry must agree with itself."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, get_args

from advisor.errors import InputError, Problem
from advisor.evidence.rows import OTHERWISE
from advisor.evidence.told import Question, answers
from advisor.library.naming import Found, Spot, all_known, known
from advisor.library.phrases import phrase_problems
from advisor.library.reader import Path_
from advisor.model.case import HOW_LONG
from advisor.model.knowledge import ALL, Cause, Check, EndsResult, Knowledge, Work
from advisor.model.retired import Retired
from advisor.model.rule import Action, Pattern, Rule, RuleCase
from advisor.model.stage import ASK
from advisor.model.states import PLUG, PLUGS, Move, SafetyRule, Variable
from advisor.model.trouble_code import parse_code
from advisor.model.words import Words

LAYOUT_FACTS = ("shared-supply", "shared-splice", "two-tracks", "makers-ends", "bulkhead", "ground-point", "bus-sensor")
FEATURES = {"relief": ("by-release", "by-wheel")}  # facts of the machine that only its file tells, with their answers
VERDICTS = ("over", "within", "unsure")


def _work(spot: Spot, base: Path_, entry: Work, k: Knowledge) -> Found:
    """What a check or a repair needs of the machine, and its tools and cautions."""
    for i, part in enumerate(entry.sequence):
        at = base if i == 0 else (*base, "then", i - 1)
        yield from _stands(spot, (*at, "needs"), part.needs, k)
        yield from _stands(spot, (*at, "leaves"), part.leaves, k)
    yield from all_known(spot, (*base, "tools"), entry.tools, "tool", k.tools)
    yield from all_known(spot, (*base, "cautions"), entry.cautions, "caution", k.cautions)


def _stands(spot: Spot, at: Path_, needs: Mapping[str, str | Sequence[str]], k: Knowledge) -> Found:
    """Variables of the machine and their values."""
    for name, values in needs.items():
        variable = PLUG if name in PLUGS else name
        yield from known(spot, (*at, name), variable, "variable of the machine", [*k.variables, *PLUGS])
        if variable in k.variables:
            own = [v.id for v in k.variables[variable].values]
            for value in [values] if isinstance(values, str) else values:
                yield from known(spot, (*at, name), value, f"value of {name}", own)


def _variable(v: Variable, spot: Spot, k: Knowledge) -> Found:
    yield from known(spot, ("work",), v.work, f"value of {v.id}", [value.id for value in v.values])
    for i, value in enumerate(v.values):
        yield from all_known(spot, ("values", i, "cautions"), value.cautions, "caution", k.cautions)
    yield from _features(spot, v.needs_feature, k)


def _features(spot: Spot, needs: Mapping[str, Sequence[str]], k: Knowledge) -> Found:
    """Questions about the machine, and answers to them."""
    for question, given in needs.items():
        asked = k.intake.get(question) or k.checks.get(question)
        if question in FEATURES:
            yield from all_known(spot, ("needs_feature", question), given, f"answer to {question}", FEATURES[question])
        elif asked is None:
            yield from known(spot, ("needs_feature", question), question, "fact of the machine", [*FEATURES, *k.intake, *k.checks])
        else:
            yield from all_known(spot, ("needs_feature", question), given, f"answer to {question}", [r.id for r in asked.results])


def _move(m: Move, spot: Spot, k: Knowledge) -> Found:
    for key, needs in (("from", m.from_), ("when", m.when), ("sets", m.sets)):
        yield from _stands(spot, (key,), needs, k)
    for name in m.sets:
        if name not in m.from_ and name not in ("pressure", "position"):
            yield spot.problem(("sets", name), f"'{name}' is set and does not stand under 'from'", "say from which values it goes")
    yield from all_known(spot, ("cautions",), m.cautions, "caution", k.cautions)
    yield from all_known(spot, ("tools",), m.tools, "tool", k.tools)
    yield from all_known(spot, ("disturbs",), m.disturbs, "check", k.checks)
    yield from _features(spot, m.needs_feature, k)
    if m.source is not None:
        yield from known(spot, ("source",), m.source, "source", k.sources)


def _safety(r: SafetyRule, spot: Spot, k: Knowledge) -> Found:
    yield from _stands(spot, ("forbids",), r.forbids, k)
    if r.caution is not None:
        yield from known(spot, ("caution",), r.caution, "caution", k.cautions)
    yield from known(spot, ("source",), r.source, "source", k.sources)


def _cause(c: Cause, spot: Spot, k: Knowledge) -> Found:
    yield from known(spot, ("kind",), c.kind, "kind", k.kinds)
    for key, told in (("told", c.told), ("needs_feature", c.needs_feature)):
        for question, given in told.items():
            yield from _question(spot, (key, question), question, given, k)
    for complaint in c.complaints:
        yield from known(spot, ("complaints", complaint), complaint, "complaint", k.complaints)
    for check_id, result in c.proof.items():
        yield from known(spot, ("proof", check_id), check_id, "check", k.checks)
        check = k.checks.get(check_id)
        if check is not None and check.at == "point":
            yield spot.problem(
                ("proof", check_id),
                f"{check_id} is done at a whole point, so it does not show one place alone",
                "name another check",
            )
        if check is not None:
            results = {r.id: r for r in check.results}
            yield from known(spot, ("proof", check_id), result, f"result of {check_id}", results)
            if result in results and results[result].normal:
                yield spot.problem(
                    ("proof", check_id),
                    f"'{result}' is the normal result of {check_id}",
                    "a normal result cannot show a cause",
                )
    yield from all_known(spot, ("retest",), c.retest, "check", k.checks)
    yield from _work(spot, ("repair",), c.repair, k)
    yield from known(spot, ("source",), c.source, "source", k.sources)
    if c.point is not None and c.place != "terminal":
        yield spot.problem(("point",), "a point is only for a cause at terminals", "leave it out, or write 'place: terminal'")


def _question(spot: Spot, at: Path_, name: str, given: Iterable[str], k: Knowledge) -> Found:
    """A question to the operator, and answers to it that are evidence."""
    asked: dict[str, Question] = {**k.intake, **{c.id: c for c in k.checks.values() if c.stage == ASK}}
    yield from known(spot, at, name, "question to the operator", asked)
    if name in asked:
        for answer in given:
            yield from known(spot, (*at, answer), answer, f"answer to {name}", answers(asked[name]))


def _bands(c: Check, spot: Spot) -> Found:
    """A measuring check's results cover every value exactly once."""
    if c.at == "section":
        return
    if c.measure is not None and c.measure.of == "sensor-ends":
        yield from _ends(c, spot)
        return
    limits = [x for r in c.results for x in (r.below, r.above) if x is not None]
    if (
        c.measure is not None
        and c.measure.of == "sensor-supply"
        and (c.measure.unit != "V" or not all(0 <= x <= 2 for x in limits))
    ):
        yield spot.problem(
            ("measure",),
            "limits of a share of the supply lie between 0 and 2, and the unit is V",
            "write 0.95 for 95 % of the supply",
        )
    if (
        c.measure is not None
        and c.measure.of == "motion-limit"
        and (c.measure.unit != "mV" or not all(0 <= x <= 5 for x in limits))
    ):
        what = "limits of a share of the motion limit lie between 0 and 5, and the unit is mV"
        yield spot.problem(("measure",), what, "write 0.25 for a quarter of what sets the code")
    edges = sorted(
        (r.above if r.above is not None else float("-inf"), r.below if r.below is not None else float("inf")) for r in c.results
    )
    joined = all(left[1] == right[0] for left, right in itertools.pairwise(edges))
    if not joined or edges[0][0] != float("-inf") or edges[-1][1] != float("inf"):
        yield spot.problem(
            ("results",), "the limits leave a gap or overlap", "let each 'above' be the 'below' of the result under it"
        )


def _ends(c: Check, spot: Spot) -> Found:
    """The output at both ends of travel is judged by the program, so its results are given and have no limits."""
    wanted = get_args(EndsResult)
    limited = any(x is not None for r in c.results for x in (r.below, r.above))
    if {r.id for r in c.results} != set(wanted) or limited or c.measure is None or c.measure.unit != "V":
        yield spot.problem(
            ("results",),
            "the results of the output at both ends are not those that the program judges",
            f"write, in volts and without limits: {', '.join(wanted)}",
        )


def _check(c: Check, spot: Spot, k: Knowledge) -> Found:
    yield from _work(spot, (), c, k)
    yield from known(spot, ("source",), c.source, "source", k.sources)
    yield from all_known(spot, ("disturbs",), c.disturbs, "check", k.checks)
    if c.point is not None and c.at != "point":
        yield spot.problem(("point",), "a point is only for a check done at a point", "leave it out, or write 'at: point'")
    results = [r.id for r in c.results]
    if len(set(results)) != len(results):
        yield spot.problem(("results",), "two results have the same id", "give each its own")
    yield from all_known(spot, ("no_difference",), c.no_difference, "answer", results)
    if c.stage == ASK:
        return
    if sum(r.normal for r in c.results) != 1:
        yield spot.problem(("results",), "exactly one result must be normal", "mark one with 'normal: true'")
    if c.measure is not None:
        yield from _bands(c, spot)
    if not isinstance(c.lasts, bool):
        yield from all_known(spot, ("lasts",), c.lasts, "cause or kind", [*k.causes, *k.kinds])
    if c.covers != ALL:
        yield from all_known(spot, ("covers",), c.covers, "kind", k.kinds)
    for i, first in enumerate(c.needs_first):
        yield from known(spot, ("needs_first", i, "check"), first.check, "check", k.checks)
        if first.check in k.checks:
            names = [*(r.id for r in k.checks[first.check].results)]
            yield from all_known(spot, ("needs_first", i, "is"), first.is_, f"result of {first.check}", names)
    if OTHERWISE not in c.evidence:
        yield spot.problem(("evidence",), "'otherwise' is missing", "say how likely each result is for every other cause")
    for key, words in (("one_sided", c.one_sided), ("whole_plug", c.whole_plug)):
        for cause in words.keys() - {OTHERWISE}:
            yield from known(spot, (key, cause), cause, "cause or kind", [*k.causes, *k.kinds])
    for cause, row in c.evidence.items():
        if cause != OTHERWISE:
            yield from known(spot, ("evidence", cause), cause, "cause or kind", [*k.causes, *k.kinds])
        for result in row:
            yield from known(spot, ("evidence", cause, result), result, f"result of {c.id}", results)
        total = sum(k.words.probability[word].used for word in row.values())
        full = len(row) == len(results)
        if not row or (full and not 0.8 <= total <= 1.25) or (not full and total >= 1):
            yield spot.problem(
                ("evidence", cause),
                f"the words of this row add up to {total:.2f}",
                "leave one result out, or choose words that add up to 1",
            )


def _pattern(p: Pattern, spot: Spot, at: Path_, k: Knowledge, findings: set[str]) -> Found:
    named = [
        n
        for n in ("complaint", "intake", "code", "answer", "reading", "finding", "layout", "repaired", "negated")
        if getattr(p, n) is not None
    ]
    if len(named) != 1:
        yield spot.problem(at, "a pattern names exactly one thing", "split it into two patterns")
        return
    values = [str(v) for v in p.is_ or ()]
    match named[0]:
        case "negated":
            assert p.negated is not None
            yield from _pattern(p.negated, spot, (*at, "not"), k, findings)
        case "complaint":
            for name in p.complaint or ():
                yield from known(spot, (*at, "complaint"), name, "complaint", k.complaints)
        case "intake":
            yield from known(spot, (*at, "intake"), str(p.intake), "intake question", k.intake)
            if p.intake in k.intake:
                answers = [r.id for r in k.intake[p.intake].results]
                for value in values:
                    yield from known(spot, (*at, "is"), value, f"answer to {p.intake}", answers)
        case "answer":
            yield from known(spot, (*at, "answer"), str(p.answer), "check", k.checks)
            if p.answer in k.checks:
                results = [*(r.id for r in k.checks[p.answer].results), "skipped"]
                for value in values:
                    yield from known(spot, (*at, "is"), value, f"result of {p.answer}", results)
        case "reading":
            for value in values:
                yield from known(spot, (*at, "is"), value, "verdict", VERDICTS)
        case "finding":
            yield from known(spot, (*at, "finding"), str(p.finding), "finding of a rule", findings)
        case "layout":
            yield from known(spot, (*at, "layout"), str(p.layout), "layout fact", LAYOUT_FACTS)
        case "repaired":
            yield from known(spot, (*at, "repaired"), str(p.repaired), "cause", k.causes)
        case "code":
            if p.code == "fmi" and not values:
                yield spot.problem(at, "'code: fmi' needs 'is' with one or more identifiers", "write 'is: [3, 4]'")


def _action(a: Action, spot: Spot, at: Path_, k: Knowledge) -> Found:
    named = [n for n in ("finding", "prior", "evidence", "discount", "hold", "caution", "advice") if getattr(a, n) is not None]
    if len(named) != 1:
        yield spot.problem(at, "an action concludes exactly one thing", "split it into two actions")
        return
    if a.finding is not None and not a.says:
        yield spot.problem(at, f"the finding '{a.finding}' has no words", "add 'says'")
    for key, factors in (("prior", a.prior), ("evidence", a.evidence)):
        for cause in factors or ():
            yield from known(spot, (*at, key, cause), cause, "cause", k.causes)
    if a.discount is not None:
        yield from known(spot, (*at, "discount"), a.discount, "check", k.checks)
    if a.caution is not None:
        yield from known(spot, (*at, "caution"), a.caution, "caution", k.cautions)
    if a.hold is not None:
        targets = [t for t in (a.hold.check, a.hold.stage, a.hold.cause) if t is not None]
        if len(targets) != 1:
            yield spot.problem((*at, "hold"), "a hold names exactly one of check, stage and cause", "split it")
        if a.hold.check is not None:
            yield from known(spot, (*at, "hold", "check"), a.hold.check, "check", k.checks)
        if a.hold.cause is not None:
            yield from known(spot, (*at, "hold", "cause"), a.hold.cause, "cause", k.causes)


def _rule(r: Rule, spot: Spot, k: Knowledge, findings: set[str]) -> Found:
    yield from known(spot, ("source",), r.source, "source", k.sources)
    for i, pattern in enumerate(r.when):
        yield from _pattern(pattern, spot, ("when", i), k, findings)
    for i, action in enumerate(r.then):
        yield from _action(action, spot, ("then", i), k)


def _case(c: RuleCase, spot: Spot, k: Knowledge) -> Found:
    yield from known(spot, ("rule",), c.rule, "rule", k.rules)
    if c.complaint is not None:
        yield from known(spot, ("complaint",), c.complaint, "complaint", k.complaints)
    for key, given in c.intake.items():
        yield from known(spot, ("intake", key), key, "intake question", k.intake)
        if key in k.intake:
            possible = [r.id for r in k.intake[key].results]
            for value in given if isinstance(given, list | tuple) else [given]:
                yield from known(spot, ("intake", key), str(value), f"answer to {key}", possible)
    for i, answer in enumerate(c.answers):
        yield from _case_answer(answer, spot, ("answers", i), k)
    for i, code in enumerate(c.codes):
        try:
            parse_code(code)
        except InputError as error:
            yield spot.problem(("codes", i), error.what, error.hint)
    yield from all_known(spot, ("layout",), c.layout, "layout fact", LAYOUT_FACTS)
    yield from all_known(spot, ("repaired",), c.repaired, "cause", k.causes)


def _case_answer(answer: dict[str, Any], spot: Spot, at: Path_, k: Knowledge) -> Found:
    """An answer of a case: a check with its result, or a load test as it was judged."""
    if "reading" in answer:
        if "judged" not in answer:
            yield spot.problem(at, "'judged' is missing", "write 'judged: over', within or unsure")
        else:
            yield from known(spot, (*at, "judged"), str(answer["judged"]), "verdict", VERDICTS)
        return
    if "check" not in answer or "result" not in answer:
        yield spot.problem(at, "an answer names a check and its result", "write '{check: ID, result: ID}'")
        return
    check = str(answer["check"])
    yield from known(spot, (*at, "check"), check, "check", k.checks)
    if check in k.checks:
        results = [*(r.id for r in k.checks[check].results), "normal", "skipped"]
        yield from known(spot, (*at, "result"), str(answer["result"]), f"result of {check}", results)


def _retired(retired: Retired, spot: Spot, k: Knowledge) -> Found:
    for name, needs in retired.setups.items():
        yield from _stands(spot, ("setups", name), needs, k)
    for name, wide in retired.narrowed.items():
        yield from known(spot, ("narrowed", name), name, "check", k.checks)
        offered = [r.id for r in k.checks[name].results] if name in k.checks else []
        for old, parts in wide.items() if offered else ():
            yield from all_known(spot, ("narrowed", name, old), parts, f"result of {name}", offered)


def _words(words: Words, spot: Spot, k: Knowledge) -> Found:
    yield from known(spot, ("source",), words.source, "source", k.sources)
    told = [r.id for r in k.checks[HOW_LONG].results] if HOW_LONG in k.checks else []
    yield from all_known(spot, ("showing", "lasts_hours"), words.showing.lasts_hours, f"answer to {HOW_LONG}", told)
    if words.planning_source is not None:
        yield from known(spot, ("planning_source",), words.planning_source, "source", k.sources)


def check(k: Knowledge, entries: dict[str, list[tuple[Any, Any]]]) -> list[Problem]:
    """Everything that names what does not exist or contradicts itself."""
    findings = {a.finding for rule, _ in entries.get("rules", []) for a in rule.then if a.finding}
    found: list[Problem] = []
    for cause, spot in entries.get("causes", []):
        found += _cause(cause, spot, k)
    for entry, spot in entries.get("checks", []):
        found += _check(entry, spot, k)
    for rule, spot in entries.get("rules", []):
        found += _rule(rule, spot, k, findings)
    for case, spot in entries.get("cases", []):
        found += _case(case, spot, k)
    for mode, spot in entries.get("fault-modes", []):
        for cause in mode.suggests:
            found += known(spot, ("suggests", cause), cause, "cause", k.causes)
    for question, spot in entries.get("intake", []):
        found += all_known(spot, ("no_difference",), question.no_difference, "answer", [r.id for r in question.results])
        for answer in question.run:
            found += known(spot, ("run", answer), answer, "answer", [r.id for r in question.results])
    for variable, spot in entries.get("variables", []):
        found += _variable(variable, spot, k)
    for move, spot in entries.get("moves", []):
        found += _move(move, spot, k)
    for rule, spot in entries.get("safety", []):
        found += _safety(rule, spot, k)
    for retired, spot in entries.get("retired", []):
        found += _retired(retired, spot, k)
    for pair, spot in entries.get("pairs-not-separated", []):
        found += all_known(spot, ("causes",), pair.causes, "cause", k.causes)
    for physics, spot in entries.get("same-physics", []):
        for name, results in physics.checks.items():
            found += known(spot, ("checks", name), name, "check", k.checks)
            offered = [r.id for r in k.checks[name].results] if name in k.checks else results
            found += all_known(spot, ("checks", name), results, "result", offered)
        found += all_known(spot, ("differs",), tuple(physics.differs), "cause", k.causes)
    for entry, spot in entries.get("tools", []):
        found += all_known(spot, ("cautions",), entry.cautions, "caution", k.cautions)
        if entry.source is not None:
            found += known(spot, ("source",), entry.source, "source", k.sources)
    for words, spot in entries.get("words", []):
        found += _words(words, spot, k)
    for caution, spot in entries.get("cautions", []):
        found += known(spot, ("source",), caution.source, "source", k.sources)
    for phrase, spot in entries.get("phrases", []):
        found += phrase_problems(phrase, spot, k)
    return found
