"""Knowledge to compiled rules: a small intermediate form that any forward-chaining engine can run.

Rules of the knowledge, evidence tables of the checks and suggestions of the failure modes all become rules here, so that
one trace explains everything. Each has a number of its own to fire by (`salience`): the engine misorders rules of equal
salience (see tests/inference).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from advisor.errors import AdvisorError
from advisor.model.knowledge import Check, Intake, Knowledge
from advisor.model.rule import Action, Hold, Pattern, Rule

RULE = "rule:"  # before the id of a rule of the knowledge; tables and failure modes have other words there


@dataclass(frozen=True)
class Condition:
    """A pattern on one fact: for each named field the allowed values, or a variable's name that starts with $."""

    template: str
    fields: tuple[tuple[str, tuple[str, ...] | str], ...]
    negated: bool = False


@dataclass(frozen=True)
class Conclusion:
    """What a fired rule says. `kind` tells which of the other fields count."""

    kind: str  # finding, row, prior, evidence, discount, hold, caution, advice
    subject: str = ""  # finding, check or question, cause or caution id
    result: str = ""  # row: the check's result
    word: str = ""  # prior, evidence: the factor word
    text: str = ""
    hold: Hold | None = None


@dataclass(frozen=True)
class CompiledRule:
    """One rule, ready for an engine."""

    id: str
    salience: int
    conditions: tuple[Condition, ...]
    conclusions: tuple[Conclusion, ...]
    because: str
    source: str

    @cached_property
    def asked(self) -> frozenset[str]:
        """The checks and questions of which it says what an answer is worth as evidence."""
        return frozenset(c.subject for c in self.conclusions if c.kind == "row")

    @cached_property
    def only_rows(self) -> bool:
        """Whether it concludes nothing but that."""
        return all(c.kind == "row" for c in self.conclusions)


Draft = tuple[str, tuple[Condition, ...], tuple[Conclusion, ...], str, str]  # id, conditions, conclusions, because, source


def _condition(p: Pattern, negated: bool = False) -> Condition:
    """A pattern of the knowledge as a condition on one fact."""
    values = tuple(str(v) for v in p.is_ or ())
    if p.negated is not None:
        return _condition(p.negated, negated=not negated)
    if p.complaint is not None:
        return Condition("complaint", (("id", tuple(p.complaint)),), negated)
    if p.intake is not None:
        fields: list[tuple[str, tuple[str, ...] | str]] = [("question", (p.intake,))]
        return Condition("intake", tuple(fields + ([("answer", values)] if values else [])), negated)
    if p.code is not None:
        if p.code == "fmi":
            return Condition("code", (("fmi", values),), negated)
        counts = {"any": ("one", "several"), "several": ("several",), "none": ("none",)}[p.code]
        return Condition("codes", (("count", counts),), negated)
    if p.answer is not None:
        fields = [("check", (p.answer,))]
        if values:
            fields.append(("result", values))
        if p.place is not None:
            fields.append(("place", p.place if p.place.startswith("$") else (p.place,)))
        return Condition("answered", tuple(fields), negated)
    if p.reading is not None:
        fields = [("reading", (p.reading,))]
        if values:
            fields.append(("verdict", values))
        if p.circuit is not None:
            fields.append(("circuit", p.circuit if p.circuit.startswith("$") else (p.circuit,)))
        return Condition("judged", tuple(fields), negated)
    if p.finding is not None:
        return Condition("finding", (("id", (p.finding,)),), negated)
    if p.layout is not None:
        return Condition("layout", (("id", (p.layout,)),), negated)
    return Condition("repaired", (("cause", (str(p.repaired),)),), negated)


def _conclusions(a: Action) -> list[Conclusion]:
    if a.finding is not None:
        return [Conclusion("finding", a.finding, text=a.says)]
    if a.prior is not None:
        return [Conclusion("prior", cause, word=word) for cause, word in a.prior.items()]
    if a.evidence is not None:
        return [Conclusion("evidence", cause, word=word) for cause, word in a.evidence.items()]
    if a.discount is not None:
        return [Conclusion("discount", a.discount)]
    if a.hold is not None:
        target = a.hold.check or a.hold.stage or a.hold.cause or ""
        return [Conclusion("hold", target, text=a.hold.says, hold=a.hold)]
    if a.caution is not None:
        return [Conclusion("caution", a.caution)]
    return [Conclusion("advice", text=a.advice or "")]


def _strata(rules: list[Rule]) -> dict[str, int]:
    """For each rule the earliest layer in which everything it negates is already decided.

    A rule that negates a finding must come after every rule that concludes it. Raises AdvisorError when rules negate
    each other in a ring, for then no order is right.
    """
    concluded: dict[str, list[str]] = {}
    for rule in rules:
        for action in rule.then:
            if action.finding:
                concluded.setdefault(action.finding, []).append(rule.id)
    layer = {rule.id: 0 for rule in rules}
    for _ in range(len(rules) + 1):
        changed = False
        for rule in rules:
            for condition in map(_condition, rule.when):
                if condition.template != "finding":
                    continue
                name = condition.fields[0][1][0]
                needed = max((layer[r] for r in concluded.get(name, [])), default=-1) + condition.negated
                if layer[rule.id] < needed:
                    layer[rule.id], changed = needed, True
        if not changed:
            return layer
    raise AdvisorError("the rules negate each other's findings in a ring", "Take one 'not: {finding: ...}' out of the ring.")


def _check_rules(check: Check) -> list[Draft]:
    """One rule for each result of a check: it says how likely that result is for each cause."""
    found: list[Draft] = []
    for result in check.results:
        condition = Condition("answered", (("check", (check.id,)), ("result", (result.id,))))
        row = Conclusion("row", check.id, result=result.id, text=result.says)
        found.append((f"check:{check.id}:{result.id}", (condition,), (row,), check.purpose, check.source))
    return found


def _intake_rules(question: Intake) -> list[Draft]:
    """One rule for each answer to a question of the intake: it says how likely that answer is for each cause."""
    found: list[Draft] = []
    for result in question.results:
        if result.usual is None:
            continue
        condition = Condition("intake", (("question", (question.id,)), ("answer", (result.id,))))
        row = Conclusion("row", question.id, result=result.id, text=result.says)
        found.append((f"intake:{question.id}:{result.id}", (condition,), (row,), question.question, question.source))
    return found


def compile_rules(knowledge: Knowledge) -> tuple[CompiledRule, ...]:
    """Every rule of the knowledge, highest salience first."""
    rules = list(knowledge.rules.values())
    layer = _strata(rules)
    drafts: list[Draft] = []
    for rule in sorted(rules, key=lambda r: layer[r.id]):  # stable: file order within a layer
        conditions = tuple(_condition(p) for p in rule.when)
        # A negated pattern may only use variables that a pattern before it has bound.
        ordered = tuple(sorted(conditions, key=lambda c: c.negated))
        if ordered[0].negated:
            ordered = (Condition("case", (("state", ("open",)),)), *ordered)
        conclusions = tuple(c for a in rule.then for c in _conclusions(a))
        drafts.append((f"{RULE}{rule.id}", ordered, conclusions, rule.because, rule.source))
    for mode in knowledge.fault_modes.values():
        if mode.suggests:
            condition = Condition("code", (("fmi", (str(mode.fmi),)),))
            priors = tuple(Conclusion("prior", cause, word=word, text=mode.says) for cause, word in mode.suggests.items())
            drafts.append((f"code:{mode.fmi}", (condition,), priors, mode.says, "j1939-73"))
    for question in knowledge.intake.values():
        drafts += _intake_rules(question)
    for check in knowledge.checks.values():
        drafts += _check_rules(check)
    count = len(drafts)
    return tuple(CompiledRule(d[0], count - i, *d[1:]) for i, d in enumerate(drafts))
