"""How long a technician waits inside one process: each answer, the record, and how that grows. startup.py times whole starts.

Run: python tests/benchmarks/answers.py [--knowledge DIR] [--grow] [--profile]

Growth copies causes, checks and rules under new ids.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import random
import statistics
import time
from collections.abc import Callable, Container
from datetime import UTC, datetime
from pathlib import Path
from unittest.mock import patch

from advisor.consultation.consultation import Consultation
from advisor.library.parser import load
from advisor.model.case import Answered, Case, Opened, Reading
from advisor.model.finding import Step
from advisor.model.knowledge import Cause, Check, Knowledge
from advisor.model.machine import Element, Machine
from advisor.model.rule import Action, Pattern, Rule
from advisor.reasoning.standing import Frame
from advisor.reasoning.ways import Stand, Wanted, Way

ROOT = Path(__file__).parents[2]
COMPLAINT = "motion-without-steering"
ANSWERS = 20

# --- Answers


def layout(elements: int) -> Machine:
    """A layout of about so many elements over three points: pairs of circuits with a shared feed, then single ones."""
    circuits: dict[str, tuple[Element, ...]] = {}
    count = 0
    while count < elements:
        n = len(circuits)
        shared = n % 6 == 0 and elements - count > 8
        head = (Element(terminal=f"controller:{n}"), Element(wire=f"feed-{n}", mm2=0.75, metres=2), Element(splice=f"splice-{n}"))
        for twin in range(2 if shared else 1):
            name = f"circuit-{n}-{twin}"
            upper = Element(wire=f"{name}-upper", mm2=0.75, metres=1.5)
            lower = Element(wire=f"{name}-lower", mm2=0.75, metres=3)
            tail = (Element(terminal=f"bulkhead:{name}"), lower, Element(terminal=f"sensor:{name}"))
            circuits[name] = (*(head if shared else head[:1]), upper, *tail)
        count = len({e.name for path in circuits.values() for e in path})
    return Machine(points=("controller", "bulkhead", "sensor"), circuits=circuits)


def reply(step: Step, knowledge: Knowledge, rng: random.Random) -> Answered | Reading:
    """A made-up answer to a check or a load test, mostly normal."""
    if step.kind == "reading":
        loaded = round(11.9 - rng.choice((0.08, 0.12, 0.45)), 2)
        return Reading.model_validate(
            {"circuit": step.circuit, "from": step.start, "to": step.end, "reference": 11.9, "loaded": loaded}
        )
    results = knowledge.checks[step.id].results
    normal = [r.id for r in results if r.normal]
    result = normal[0] if normal and rng.random() < 0.7 else rng.choice(results).id
    return Answered(check=step.id, result=result, place=step.places[0] if step.places else step.place)


def consult(knowledge: Knowledge, machine: Machine, count: int = ANSWERS, seed: int = 5) -> tuple[Case, list[float]]:
    """A case of at most so many answers to what the program advises, repairs passed over, with the seconds of each assessment.

    The first of them builds the rules as well.
    """
    rng, consultation = random.Random(seed), Consultation(knowledge, machine)
    case = Case((Opened(complaint=COMPLAINT, machine=machine.model_dump(mode="json", by_alias=True)),))
    spent: list[float] = []
    while True:
        start = time.perf_counter()
        found = consultation.assess(case)
        spent.append(time.perf_counter() - start)
        steps = [s for s in (found.next, *found.alternatives) if s is not None and s.kind in ("check", "reading")]
        if len(case.events) > count or not steps:
            return case, spent
        case = case.then(reply(steps[0], knowledge, rng))


def report(label: str, knowledge: Knowledge, machine: Machine, count: int = ANSWERS) -> None:
    case, (first, *spent) = consult(knowledge, machine, count)
    suspects = len(Consultation(knowledge, machine).space(COMPLAINT).suspects)
    print(
        f"{label:32s} {len(case.events) - 1:3d} answers {len(knowledge.checks):5d} checks {len(knowledge.rules):5d} rules "
        f"{suspects:5d} suspects: first {1e3 * first:6.0f} ms, then median {1e3 * statistics.median(spent):6.1f} ms, "
        f"95 of 100 {1e3 * statistics.quantiles(spent, n=20)[-1]:6.1f} ms, last {1e3 * spent[-1]:6.1f} ms"
    )


def ways(knowledge: Knowledge, cases: int = 6) -> None:
    """What the search for the way to a step takes of an answer, in time of the processor: what was found is kept."""
    whole_search, spent, count = Frame.way, [0.0], [0]

    def timed(frame: Frame, stand: Stand, wanted: Wanted) -> Way | None:
        start, known = time.process_time(), len(frame._ways)
        found = whole_search(frame, stand, wanted)
        spent[0] += time.process_time() - start
        count[0] += len(frame._ways) - known
        return found

    rows: list[tuple[float, int]] = []
    with patch.object(Frame, "way", timed):
        for seed in range(cases):
            case, _ = consult(knowledge, layout(40), seed=seed)
            consultation = Consultation(knowledge, layout(40))
            for n in range(1, len(case.events) + 1):
                spent[0], count[0] = 0.0, 0
                consultation.assess(Case(case.events[:n]))
                rows.append((1e3 * spent[0], count[0]))
    spans = [ms for ms, _ in rows]
    print(
        f"search of ways in {len(rows)} answers: mean {statistics.mean(spans):.2f} ms, median {statistics.median(spans):.2f} ms, "
        f"95 of 100 {statistics.quantiles(spans, n=20)[-1]:.2f} ms, most {max(spans):.2f} ms; "
        f"searches: median {statistics.median(n for _, n in rows):.0f}, most {max(n for _, n in rows)}"
    )


# --- Growth


def copied(knowledge: Knowledge, times: int) -> Knowledge:
    """The knowledge with its causes, checks and rules this many times, the copies under ids of their own."""
    causes, checks, rules = dict(knowledge.causes), dict(knowledge.checks), dict(knowledge.rules)
    for n in range(2, times + 1):

        def new(name: str, n: int = n) -> str:
            return f"{name}-x{n}"

        for cause in knowledge.causes.values():
            causes[new(cause.id)] = _cause(cause, new)
        for check in knowledge.checks.values():
            checks[new(check.id)] = _check(check, new, knowledge.causes)
        for rule in knowledge.rules.values():
            rules[new(rule.id)] = _rule(rule, new)
    return knowledge.model_copy(update={"causes": causes, "checks": checks, "rules": rules})


def _cause(cause: Cause, new: Callable[[str], str]) -> Cause:
    proof = {new(check): result for check, result in cause.proof.items()}
    return cause.model_copy(update={"id": new(cause.id), "proof": proof, "retest": tuple(map(new, cause.retest))})


def _check(check: Check, new: Callable[[str], str], causes: Container[str]) -> Check:
    """A kind keeps its name: its causes, old and new, behave alike."""
    evidence = {new(name) if name in causes else name: said for name, said in check.evidence.items()}
    family = new(check.family) if check.family else None
    disturbs = tuple(map(new, check.disturbs))
    return check.model_copy(update={"id": new(check.id), "evidence": evidence, "family": family, "disturbs": disturbs})


def _rule(rule: Rule, new: Callable[[str], str]) -> Rule:
    def pattern(p: Pattern) -> Pattern:
        changes = {name: new(value) for name in ("answer", "finding", "repaired") if (value := getattr(p, name)) is not None}
        return p.model_copy(update={**changes, **({"negated": pattern(p.negated)} if p.negated else {})})

    def action(a: Action) -> Action:
        changes: dict[str, object] = {name: new(v) for name in ("finding", "discount") if (v := getattr(a, name)) is not None}
        changes |= {name: {new(c): w for c, w in v.items()} for name in ("prior", "evidence") if (v := getattr(a, name))}
        if a.hold is not None:
            named = {name: new(v) for name in ("check", "cause") if (v := getattr(a.hold, name)) is not None}
            changes["hold"] = a.hold.model_copy(update=named)
        return a.model_copy(update=changes)

    return rule.model_copy(
        update={"id": new(rule.id), "when": tuple(map(pattern, rule.when)), "then": tuple(map(action, rule.then))}
    )


def growth(knowledge: Knowledge) -> None:
    for times in (1, 2, 5, 10):
        report(f"knowledge x{times}, 40 elements", copied(knowledge, times), layout(40))
    for elements in (20, 40, 80, 160):
        machine = layout(elements)
        report(f"layout of {len(machine.elements)} elements", knowledge, machine)
    for count in (10, 20, 40, 80):
        report(f"{count} answers, 40 elements", knowledge, layout(40), count)


# --- The record, and where the time goes


def record(knowledge: Knowledge) -> None:
    from advisor.record import render
    from advisor.record.view import build

    machine = layout(40)
    case, consultation = consult(knowledge, machine)[0], Consultation(knowledge, machine)
    spent = []
    for _ in range(5):
        start = time.perf_counter()
        text = render.html(build(consultation, case, "benchmark", datetime(2031, 3, 4, tzinfo=UTC), {}))
        spent.append(time.perf_counter() - start)
    print(
        f"HTML record of {len(case.events)} events, {len(text) / 1024:.0f} KiB: first {1e3 * spent[0]:.0f} ms, "
        f"then median {1e3 * statistics.median(spent[1:]):.0f} ms"
    )


def profile(knowledge: Knowledge) -> None:
    machine = layout(40)
    case, consultation = consult(knowledge, machine)[0], Consultation(knowledge, machine)
    consultation.assess(case)
    profiler = cProfile.Profile()
    profiler.enable()
    for n in range(2, len(case.events) + 1):
        consultation.assess(Case(case.events[:n]))
    profiler.disable()
    pstats.Stats(profiler).sort_stats("cumulative").print_stats(45)
    pstats.Stats(profiler).sort_stats("tottime").print_stats(25)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--knowledge", type=Path, default=ROOT / "knowledge")
    parser.add_argument("--grow", action="store_true", help="growth with knowledge, layout and answers too")
    parser.add_argument("--profile", action="store_true", help="only where the time of an answer goes")
    options = parser.parse_args()
    start = time.perf_counter()
    knowledge = load(options.knowledge)
    loading = time.perf_counter() - start
    if options.profile:
        profile(knowledge)
        return
    print(f"loading the knowledge in this process {1e3 * loading:.0f} ms")
    report("answers, 40 elements", knowledge, layout(40))
    ways(knowledge)
    record(knowledge)
    if options.grow:
        growth(knowledge)


if __name__ == "__main__":
    main()
