"""What the knowledge covers, as plain data: how each cause is reached, told from the others, proved and shown gone."""

from __future__ import annotations

from typing import Any

from advisor.evidence.separation import Separation, Telling
from advisor.library.lints.reach import shown_by_load
from advisor.library.lints.readability import grade
from advisor.library.lints.separate import excepted
from advisor.library.lints.wording import questions
from advisor.model.knowledge import Cause, Knowledge, Work

COUNTED = ("complaints", "causes", "checks", "rules", "cautions", "moves", "safety", "tools", "sources", "fault_modes")


def coverage(k: Knowledge) -> dict[str, Any]:
    """The whole as JSON data; weights in decibans, reading grades in school years."""
    separation, reviewed = Separation(k), excepted(k)
    pairs = [found for complaint in k.complaints for found in separation.pairs(complaint)]
    used = {reviewed[both] for a, b, best in pairs if (both := frozenset((a, b))) in reviewed}
    return {
        "complaints": {c: _complaint(separation, c, reviewed) for c in k.complaints},
        "causes": {c.id: _cause(c) for c in k.causes.values()},
        "rules": {
            rule: {
                "fires": sum(c.rule == rule and c.fires for c in k.rule_cases),
                "does_not_fire": sum(c.rule == rule and not c.fires for c in k.rule_cases),
            }
            for rule in k.rules
        },
        "cautions": {caution: _shown(k, caution) for caution in k.cautions},
        "exceptions": [
            {"id": e.id, "causes": list(e.causes), "reason": e.reason, "used": e.id in used} for e in k.pairs_not_separated.values()
        ],
        "questions": {name: {"characters": len(asked), "grade": round(grade(asked), 1)} for name, asked in questions(k)},
    }


def counts(k: Knowledge) -> dict[str, int]:
    """How many entries of each kind there are."""
    return {
        **{kind: len(getattr(k, kind)) for kind in COUNTED},
        "rule_cases": len(k.rule_cases),
        "exceptions": len(k.pairs_not_separated),
        "pairs": sum(n * (n - 1) // 2 for n in (sum(c in e.complaints for e in k.causes.values()) for c in k.complaints)),
    }


def _complaint(separation: Separation, complaint: str, reviewed: dict[frozenset[str], str]) -> dict[str, Any]:
    k = separation.knowledge
    causes = {
        cause: {"raised_by": [_told(t) for t in raised_by], "shown_by_load_test": shown_by_load(k, k.causes[cause])}
        for cause, raised_by in separation.raising(complaint).items()
    }
    pairs = [
        {
            "causes": [a, b],
            "exception": reviewed.get(frozenset((a, b))),
            "speaks_for": (a if best.decibans > 0 else b) if best else None,
            **(_told(best) if best else {"check": None, "result": None, "decibans": 0.0}),
        }
        for a, b, best in separation.pairs(complaint)
    ]
    return {"causes": causes, "pairs": pairs}


def _told(t: Telling) -> dict[str, Any]:
    return {"check": t.check, "result": t.result, "decibans": round(t.strength, 2)}


def _cause(cause: Cause) -> dict[str, Any]:
    return {
        "proof": dict(cause.proof),
        "retest": list(cause.retest),
        "recalibrate": cause.repair.recalibrate,
        "mechanism": cause.mechanism,
        "tell_tales": list(cause.tell_tales),
        "workmanship": list(cause.repair.workmanship),
        "source": cause.source,
    }


def _shown(k: Knowledge, caution: str) -> dict[str, list[str]]:
    """What shows a caution: checks and repairs, themselves or through a tool; moves, states and safety rules."""

    def shows(work: Work) -> bool:
        return caution in work.cautions or any(caution in k.tools[t].cautions for t in work.needed() if t in k.tools)

    return {
        "checks": [c.id for c in k.checks.values() if shows(c)],
        "repairs": [c.id for c in k.causes.values() if shows(c.repair)],
        "moves": [m.id for m in k.moves.values() if caution in m.cautions],
        "states": [f"{v.id}: {value.id}" for v in k.variables.values() for value in v.values if caution in value.cautions],
        "safety": [r.id for r in k.safety.values() if r.caution == caution],
    }
