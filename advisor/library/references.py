"""Cross references of a knowledge folder: every id that is named must exist, and an entry must agree with itself."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from typing import Any, Protocol, get_args

from advisor.errors import InputError, Problem, nearest
from advisor.evidence.rows import OTHERWISE
from advisor.library.reader import Path_
from advisor.model.knowledge import Action, Cause, Check, EndsResult, Knowledge, Pattern, Rule, RuleCase
from advisor.model.trouble_code import parse_code

LAYOUT_FACTS = ("shared-supply", "shared-splice", "two-tracks", "makers-ends", "bulkhead", "ground-point")
VERDICTS = ("over", "within", "unsure")


class Spot(Protocol):
    """Where an entry stands. `broken` are ids of entries that exist but have errors of their own."""

    @property
    def broken(self) -> set[str]: ...

    def problem(self, path: Path_, what: str, hint: str = "") -> Problem: ...


Found = Iterator[Problem]


def _known(spot: Spot, path: Path_, name: str, kind: str, known: Iterable[str]) -> Found:
    names = known if isinstance(known, dict) else list(known)
    if name not in names and name not in spot.broken:
        yield spot.problem(path, f"no {kind} '{name}'", nearest(name, names))


def _all_known(spot: Spot, key: Path_, names: Iterable[str], kind: str, known: Iterable[str]) -> Found:
    for i, name in enumerate(names):
        yield from _known(spot, (*key, i), name, kind, known)


def _work(spot: Spot, base: Path_, entry: Any, k: Knowledge) -> Found:
    """Setups, tools and cautions of a check or a repair."""
    yield from _all_known(spot, (*base, "setups"), entry.setups, "setup", k.setups)
    for one, other in itertools.combinations((k.setups[s] for s in entry.setups if s in k.setups), 2):
        if other.id in one.excludes or one.id in other.excludes:
            yield spot.problem((*base, "setups"), f"'{one.id}' and '{other.id}' exclude each other", "leave one out")
    yield from _all_known(spot, (*base, "tools"), entry.tools, "tool", k.tools)
    yield from _all_known(spot, (*base, "cautions"), entry.cautions, "caution", k.cautions)


def _cause(c: Cause, spot: Spot, k: Knowledge) -> Found:
    for complaint in c.complaints:
        yield from _known(spot, ("complaints", complaint), complaint, "complaint", k.complaints)
    for check_id, result in c.proof.items():
        yield from _known(spot, ("proof", check_id), check_id, "check", k.checks)
        check = k.checks.get(check_id)
        if check is not None and check.at == "point":
            yield spot.problem(
                ("proof", check_id), f"{check_id} is done at a whole point, so it shows no one place", "name another check"
            )
        if check is not None:
            results = {r.id: r for r in check.results}
            yield from _known(spot, ("proof", check_id), result, f"result of {check_id}", results)
            if result in results and results[result].normal:
                yield spot.problem(
                    ("proof", check_id),
                    f"'{result}' is the normal result of {check_id}",
                    "a normal result proves nothing",
                )
    yield from _all_known(spot, ("retest",), c.retest, "check", k.checks)
    yield from _work(spot, ("repair",), c.repair, k)
    yield from _known(spot, ("source",), c.source, "source", k.sources)
    if c.point is not None and c.place != "terminal":
        yield spot.problem(("point",), "a point is only for a cause at terminals", "leave it away, or write 'place: terminal'")


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
    yield from _known(spot, ("source",), c.source, "source", k.sources)
    yield from _all_known(spot, ("disturbs",), c.disturbs, "check", k.checks)
    if c.point is not None and c.at != "point":
        yield spot.problem(("point",), "a point is only for a check done at a point", "leave it away, or write 'at: point'")
    results = [r.id for r in c.results]
    if sum(r.normal for r in c.results) != 1:
        yield spot.problem(("results",), "exactly one result must be normal", "mark one with 'normal: true'")
    if len(set(results)) != len(results):
        yield spot.problem(("results",), "two results have the same id", "give each its own")
    if c.measure is not None:
        yield from _bands(c, spot)
    if OTHERWISE not in c.evidence:
        yield spot.problem(("evidence",), "'otherwise' is missing", "say how likely each result is for every other cause")
    for cause, row in c.evidence.items():
        if cause != OTHERWISE:
            yield from _known(spot, ("evidence", cause), cause, "cause", k.causes)
        for result in row:
            yield from _known(spot, ("evidence", cause, result), result, f"result of {c.id}", results)
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
                yield from _known(spot, (*at, "complaint"), name, "complaint", k.complaints)
        case "intake":
            yield from _known(spot, (*at, "intake"), str(p.intake), "intake question", k.intake)
            if p.intake in k.intake:
                answers = [r.id for r in k.intake[p.intake].results]
                for value in values:
                    yield from _known(spot, (*at, "is"), value, f"answer to {p.intake}", answers)
        case "answer":
            yield from _known(spot, (*at, "answer"), str(p.answer), "check", k.checks)
            if p.answer in k.checks:
                results = [*(r.id for r in k.checks[p.answer].results), "skipped"]
                for value in values:
                    yield from _known(spot, (*at, "is"), value, f"result of {p.answer}", results)
        case "reading":
            for value in values:
                yield from _known(spot, (*at, "is"), value, "verdict", VERDICTS)
        case "finding":
            yield from _known(spot, (*at, "finding"), str(p.finding), "finding of a rule", findings)
        case "layout":
            yield from _known(spot, (*at, "layout"), str(p.layout), "layout fact", LAYOUT_FACTS)
        case "repaired":
            yield from _known(spot, (*at, "repaired"), str(p.repaired), "cause", k.causes)
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
            yield from _known(spot, (*at, key, cause), cause, "cause", k.causes)
    if a.discount is not None:
        yield from _known(spot, (*at, "discount"), a.discount, "check", k.checks)
    if a.caution is not None:
        yield from _known(spot, (*at, "caution"), a.caution, "caution", k.cautions)
    if a.hold is not None:
        targets = [t for t in (a.hold.check, a.hold.stage, a.hold.cause) if t is not None]
        if len(targets) != 1:
            yield spot.problem((*at, "hold"), "a hold names exactly one of check, stage and cause", "split it")
        if a.hold.check is not None:
            yield from _known(spot, (*at, "hold", "check"), a.hold.check, "check", k.checks)
        if a.hold.cause is not None:
            yield from _known(spot, (*at, "hold", "cause"), a.hold.cause, "cause", k.causes)


def _rule(r: Rule, spot: Spot, k: Knowledge, findings: set[str]) -> Found:
    yield from _known(spot, ("source",), r.source, "source", k.sources)
    for i, pattern in enumerate(r.when):
        yield from _pattern(pattern, spot, ("when", i), k, findings)
    for i, action in enumerate(r.then):
        yield from _action(action, spot, ("then", i), k)


def _case(c: RuleCase, spot: Spot, k: Knowledge) -> Found:
    yield from _known(spot, ("rule",), c.rule, "rule", k.rules)
    if c.complaint is not None:
        yield from _known(spot, ("complaint",), c.complaint, "complaint", k.complaints)
    for key, given in c.intake.items():
        yield from _known(spot, ("intake", key), key, "intake question", k.intake)
        if key in k.intake:
            known = [r.id for r in k.intake[key].results]
            for value in given if isinstance(given, list | tuple) else [given]:
                yield from _known(spot, ("intake", key), str(value), f"answer to {key}", known)
    for i, answer in enumerate(c.answers):
        yield from _case_answer(answer, spot, ("answers", i), k)
    for i, code in enumerate(c.codes):
        try:
            parse_code(code)
        except InputError as error:
            yield spot.problem(("codes", i), error.what, error.hint)
    yield from _all_known(spot, ("layout",), c.layout, "layout fact", LAYOUT_FACTS)
    yield from _all_known(spot, ("repaired",), c.repaired, "cause", k.causes)


def _case_answer(answer: dict[str, Any], spot: Spot, at: Path_, k: Knowledge) -> Found:
    """An answer of a case: a check with its result, or a load test as it was judged."""
    if "reading" in answer:
        if "judged" not in answer:
            yield spot.problem(at, "'judged' is missing", "write 'judged: over', within or unsure")
        else:
            yield from _known(spot, (*at, "judged"), str(answer["judged"]), "verdict", VERDICTS)
        return
    if "check" not in answer or "result" not in answer:
        yield spot.problem(at, "an answer names a check and its result", "write '{check: ID, result: ID}'")
        return
    check = str(answer["check"])
    yield from _known(spot, (*at, "check"), check, "check", k.checks)
    if check in k.checks:
        results = [*(r.id for r in k.checks[check].results), "normal", "skipped"]
        yield from _known(spot, (*at, "result"), str(answer["result"]), f"result of {check}", results)


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
            found += _known(spot, ("suggests", cause), cause, "cause", k.causes)
    for question, spot in entries.get("intake", []):
        for answer in question.run:
            found += _known(spot, ("run", answer), answer, "answer", [r.id for r in question.results])
    for setup, spot in entries.get("setups", []):
        found += _all_known(spot, ("cautions",), setup.cautions, "caution", k.cautions)
        found += _all_known(spot, ("excludes",), setup.excludes, "setup", k.setups)
    for pair, spot in entries.get("pairs-not-separated", []):
        found += _all_known(spot, ("causes",), pair.causes, "cause", k.causes)
    for kind in ("setups", "tools"):
        for entry, spot in entries.get(kind, []):
            if entry.source is not None:
                found += _known(spot, ("source",), entry.source, "source", k.sources)
    for words, spot in entries.get("words", []):
        found += _known(spot, ("source",), words.source, "source", k.sources)
        if words.planning_source is not None:
            found += _known(spot, ("planning_source",), words.planning_source, "source", k.sources)
    for caution, spot in entries.get("cautions", []):
        found += _known(spot, ("source",), caution.source, "source", k.sources)
    return found
