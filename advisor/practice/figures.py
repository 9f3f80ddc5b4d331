"""A trial's outcomes as figures: means, quantiles, Brier scores, reliability; as JSON and as lines of text."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from advisor.practice.policies import POLICIES
from advisor.practice.trial import Told, Trial

PROGRAM = "lookahead-2"
SIMPLE = ("fixed-order", "cheapest-first", "repair-by-odds", "information-rate")
TENTHS = 10
COLUMNS = 80
QUANTILES = tuple(range(0, 101, 2))  # per cent, of the curve of minutes

MEANING = (
    "Minutes: until the fault is repaired and shown gone; setups, repairs in vain and retests included.",
    "Minutes hold the moves to each step, the test after each repair, and a visit for a repair in vain.",
    "Right cause: the hidden cause led the ranking when the first repair began. At the end: when the repair that cured began.",
    "Brier: sum over the causes of (share - truth) squared when the first repair began; 0 is best, 2 worst.",
)


def figures(trial: Trial) -> dict[str, Any]:
    """The trial's JSON."""
    outcomes = trial.outcomes
    told = {name: [o.told[name] for o in outcomes] for name in POLICIES}
    policies = {name: _policy(found) for name, found in told.items()}
    best = min(SIMPLE, key=lambda name: (policies[name]["mean_minutes"], name))
    mine = policies[PROGRAM]["mean_minutes"]
    return {
        "format": 1,
        "cases": len(outcomes),
        "policies": policies,
        "optimum": optimum(trial.ratios),
        "against": {
            "policy": PROGRAM,
            "fixed_order": _ratio(mine, policies["fixed-order"]["mean_minutes"]),
            "best_simple": _ratio(mine, policies[best]["mean_minutes"]),
            "best_simple_policy": best,
        },
        "complaints": _grouped((o.complaint, o.told[PROGRAM]) for o in outcomes),
        "causes": _grouped((o.hidden.cause, o.told[PROGRAM]) for o in outcomes),
        "meaning": list(MEANING),
    }


def _ratio(mine: float, other: float) -> float:
    return mine / other if other else 1.0


def _policy(told: Sequence[Told]) -> dict[str, Any]:
    import numpy as np

    minutes = [t.minutes for t in told]
    return {
        "mean_minutes": _mean(minutes),
        "standard_error_minutes": float(np.std(minutes, ddof=1) / np.sqrt(len(told))) if len(told) > 1 else None,
        "mean_checks": _mean([t.checks for t in told]),
        "mean_repairs": _mean([t.repairs for t in told]),
        "right_cause": _mean([t.right for t in told]),
        "right_at_end": _mean([t.right_at_end for t in told]),
        "brier": _mean([t.brier for t in told]),
        "minutes_quantiles": [[q, float(v)] for q, v in zip(QUANTILES, np.percentile(minutes, QUANTILES), strict=True)],
        "reliability": reliability([(t.share, t.right) for t in told]),
    }


def optimum(ratios: Sequence[Mapping[str, float]]) -> dict[str, Any] | None:
    """Minutes over the least possible on small problems, of every policy; None without problems."""
    import numpy as np

    if not ratios:
        return None
    found = {name: [r[name] for r in ratios] for name in POLICIES}
    policies = {
        name: {"ratio_mean": _mean(f), "ratio_p95": float(np.percentile(f, 95)), "ratio_worst": max(f)} for name, f in found.items()
    }
    return {"problems": len(ratios), "policy": PROGRAM, **policies[PROGRAM], "policies": policies}


def optimum_text(found: Mapping[str, Any]) -> list[str]:
    """The same in lines."""
    lines = [
        f"{found['problems']} small problems (6 causes, 5 checks, 3 setups): minutes over the least possible",
        f"{'policy':17} {'mean':>8} {'95 of 100':>10} {'worst':>8}",
    ]
    for name, p in found["policies"].items():
        lines.append(f"{name:17} {p['ratio_mean']:8.3f} {p['ratio_p95']:10.3f} {p['ratio_worst']:8.3f}")
    return lines


def _mean(values: Sequence[float]) -> float:
    return float(sum(values) / len(values))


def reliability(said: Iterable[tuple[float, bool]]) -> list[dict[str, Any]]:
    """Tenths of the share said, each with its cases, their mean share and how often it was true; empty tenths are left out."""
    tenths: dict[int, list[tuple[float, bool]]] = {}
    for share, true in said:
        tenths.setdefault(min(int(share * TENTHS), TENTHS - 1), []).append((share, true))
    return [
        {
            "from": tenth / TENTHS,
            "to": (tenth + 1) / TENTHS,
            "cases": len(found),
            "said": _mean([s for s, _ in found]),
            "true": _mean([t for _, t in found]),
        }
        for tenth, found in sorted(tenths.items())
    ]


def _grouped(told: Iterable[tuple[str, Told]]) -> dict[str, dict[str, float]]:
    groups: dict[str, list[Told]] = {}
    for key, t in told:
        groups.setdefault(key, []).append(t)
    return {
        key: {
            "cases": len(found),
            "mean_minutes": _mean([t.minutes for t in found]),
            "right_cause": _mean([t.right for t in found]),
        }
        for key, found in sorted(groups.items())
    }


def text(report: Mapping[str, Any]) -> list[str]:
    """The report in lines of at most 80 columns."""
    lines = [f"{'policy':17} {'minutes':>8} {'median':>7} {'checks':>7} {'repairs':>8} {'right':>6} {'at end':>7} {'Brier':>6}"]
    for name, p in report["policies"].items():
        median = dict(map(tuple, p["minutes_quantiles"]))[50]
        lines.append(
            f"{name:17} {p['mean_minutes']:8.1f} {median:7.0f} {p['mean_checks']:7.1f} {p['mean_repairs']:8.2f} "
            f"{p['right_cause']:6.0%} {p['right_at_end']:7.0%} {p['brier']:6.3f}"
        )
    a = report["against"]
    lines += [
        f"{a['policy']} takes {a['fixed_order']:.2f} of the minutes of fixed-order,",
        f"and {a['best_simple']:.2f} of those of {a['best_simple_policy']}, the best of the four simple ones.",
        "",
        f"How often what {a['policy']} said was true:",
        f"{'share said':>12} {'cases':>7} {'mean said':>10} {'true':>7}",
    ]
    for r in report["policies"][a["policy"]]["reliability"]:
        lines.append(f"{r['from']:5.0%} to {r['to']:4.0%} {r['cases']:6} {r['said']:10.1%} {r['true']:7.1%}")
    if report["optimum"] is not None:
        lines += ["", *optimum_text(report["optimum"])]
    return [*lines, "", *(piece for meaning in MEANING for piece in textwrap.wrap(meaning, COLUMNS, subsequent_indent="  "))]
