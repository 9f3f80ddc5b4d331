"""The cases beside the rules: answers that must fire a rule, and answers that must not."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.consultation.answers import normal_result
from advisor.inference.compiler import compile_rules
from advisor.inference.engine import Engine
from advisor.inference.facts import Fact, case_facts
from advisor.model.case import NORMAL
from advisor.model.knowledge import Knowledge
from advisor.model.rule import RuleCase
from advisor.model.trouble_code import parse_code


def facts_of(knowledge: Knowledge, case: RuleCase) -> tuple[Fact, ...]:
    """The facts that a case describes."""
    answers, verdicts = [], []
    for a in case.answers:
        if a.get("reading"):
            verdicts.append((str(a["judged"]), str(a.get("circuit", ""))))
            continue
        result = str(a["result"])
        if result == NORMAL:
            result = normal_result(knowledge.checks[str(a["check"])])
        answers.append((str(a["check"]), result, a.get("place")))
    intake = {q: tuple(map(str, v if isinstance(v, list | tuple) else [v])) for q, v in case.intake.items()}
    codes = [(c.spn, c.fmi) for c in map(parse_code, case.codes)]
    return case_facts(case.complaint, intake, codes, answers, verdicts, case.layout, case.repaired)


def failures(knowledge: Knowledge) -> Iterator[str]:
    """Cases that do not do what they say, and rules without a case that fires them or one that does not."""
    engine = Engine(compile_rules(knowledge))
    seen: set[tuple[str, bool]] = set()
    for case in knowledge.rule_cases:
        seen.add((case.rule, case.fires))
        fired = any(f.rule.id == f"rule:{case.rule}" for f in engine.deduce(facts_of(knowledge, case)))
        if fired != case.fires:
            told = case.answers or case.intake or case.complaint
            does = "fires" if fired else "does not fire"
            yield f"rule-cases: {case.rule} {does} on a case that says the opposite: {told}"
    for rule in knowledge.rules:
        for fires in (True, False):
            if (rule, fires) not in seen:
                yield f"rule-cases: {rule} has no case that {'fires' if fires else 'does not fire'} it"
