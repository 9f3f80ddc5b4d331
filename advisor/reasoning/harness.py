"""Where in the harness the excess resistance sits: the likelihood of load-test readings, and what the next would say.

`runs` says what the readings of one run mean; here they are put together for all elements. Nothing knows about shared
feeds: an element counts only by which runs it lies in, and two branches of one feed reading high put the weight on
what they share. Elements that lie in the same runs are alike to the readings, so all is computed once for each such
kind.

Arrays: K levels, G ohms and H nodes as in `runs`, N runs read, S kinds, E elements, C candidate sections. Only
differences of the log likelihoods mean anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.electrical.drop import Load
from advisor.model.case import Reading
from advisor.model.machine import Machine, Section
from advisor.reasoning.readings import load_of, meter_of
from advisor.reasoning.runs import (
    LEVEL_WEIGHTS,
    LEVELS,
    NODE_WEIGHTS,
    OHMS,
    VERDICTS,
    Array,
    Group,
    Run,
    log_sum,
    read_groups,
    run_of,
    two_bad,
    verdict_chances,
)

CHANCE_GOOD_WHEN_BAD = 0.3


@dataclass(frozen=True)
class Harness:
    """Log likelihoods of all readings. Elements are in the machine's own order.

    `healthy` when no element has excess; `single[e]` when e has; `pair[e, f]`, symmetric, when both have, with `single`
    on its diagonal.
    """

    elements: tuple[str, ...]
    healthy: float
    single: Array
    pair: Array


def _kinds(elements: Sequence[str], groups: Sequence[Group]) -> tuple[NDArray[np.bool_], NDArray[np.intp]]:
    """Which runs each kind of element lies in, (S, N), and the kind of each element, (E,)."""
    members = [set(g.run.section.elements) for g in groups]
    table = np.array([[e in m for m in members] for e in elements], dtype=bool).reshape(len(elements), len(groups))
    kinds, kind_of = np.unique(table, axis=0, return_inverse=True)
    return kinds, kind_of.reshape(-1)


@dataclass(frozen=True)
class _Fit:
    """Readings weighed: log weight jointly with the level (K,), and with level and ohms for each bad kind (S, K, G).

    The priors of level and ohms are in it.
    """

    groups: list[Group]
    kinds: NDArray[np.bool_]  # (S, N)
    kind_of: NDArray[np.intp]  # (E,)
    healthy: Array
    joint: Array

    def single(self) -> Array:
        """Log likelihood of the readings for each single bad element: (E,)."""
        return np.asarray(log_sum(self.joint, (1, 2))[self.kind_of])


def _fit(machine: Machine, readings: Sequence[Reading], good: float) -> _Fit:
    groups = read_groups(machine, readings, good)
    kinds, kind_of = _kinds(tuple(machine.elements), groups)
    none = np.array([g.none for g in groups]).reshape(len(groups), len(LEVELS))
    gain = np.array([g.one - g.none[:, None] for g in groups]).reshape(len(groups), len(LEVELS), len(OHMS))
    healthy = np.log(LEVEL_WEIGHTS) + none.sum(axis=0)
    joint = healthy[None, :, None] + np.tensordot(kinds.astype(float), gain, axes=1) - np.log(len(OHMS))
    return _Fit(groups, kinds, kind_of, healthy, joint)


def _pairs(fit: _Fit) -> Array:
    """Log likelihood for two bad elements of each two kinds: (S, S).

    The runs that hold only one of the two contribute a factor of that one's ohms; only the runs that hold both need the
    grid of both ohms. Pairs are handled together for each set of common runs.
    """
    groups, kinds, healthy = fit.groups, fit.kinds, fit.healthy
    bare = fit.joint - healthy[None, :, None]  # factors of the runs that hold the kind, with the prior of its ohms
    apart = log_sum(bare, 2)
    result = log_sum(healthy + (apart[:, None] + apart[None]), 2)
    if not groups:
        return result
    one = np.array([g.one - g.none[:, None] for g in groups])
    two = np.array([two_bad(g) - g.none[:, None, None] for g in groups])
    first, second = np.triu_indices(len(kinds))
    common, set_of = np.unique(kinds[first] & kinds[second], axis=0, return_inverse=True)
    for i, shared in enumerate(common):
        if not shared.any():
            continue
        a, b = first[set_of.reshape(-1) == i], second[set_of.reshape(-1) == i]
        once = one[shared].sum(axis=0)  # taken out of each of the two and put in again for both at once
        weight, peak = _exp(two[shared].sum(axis=0), (1, 2))
        left, left_peak = _exp(bare[a] - once, 2)
        right, right_peak = _exp(bare[b] - once, 2)
        inner = np.einsum("pkg,pkg->pk", left, np.einsum("kgh,pkh->pkg", weight, right, optimize=True))
        logs = np.log(np.maximum(inner, 1e-300)) + (peak.reshape(-1) + left_peak[..., 0] + right_peak[..., 0])
        result[a, b] = result[b, a] = log_sum(healthy + logs, 1)
    return result


def _exp(logs: Array, axis: int | tuple[int, ...]) -> tuple[Array, Array]:
    """Exponentials scaled to a largest of 1 along an axis, and the logarithm taken out."""
    peak = logs.max(axis=axis, keepdims=True)
    return np.exp(logs - peak), peak


def evidence(
    machine: Machine,
    readings: Sequence[Reading],
    chance_good_when_bad: float = CHANCE_GOOD_WHEN_BAD,
) -> Harness:
    """Log likelihoods of readings that `refusal` has let pass, for no, each single and each pair of bad elements."""
    fit = _fit(machine, readings, chance_good_when_bad)
    single = fit.single()
    pair = _pairs(fit)[fit.kind_of[:, None], fit.kind_of[None, :]]
    np.fill_diagonal(pair, single)
    return Harness(tuple(machine.elements), float(log_sum(fit.healthy, 0)), single, pair)


def _normalised(logs: Array, axis: int | tuple[int, ...]) -> Array:
    weights, _ = _exp(logs, axis)
    return np.asarray(weights / weights.sum(axis=axis, keepdims=True))


def _predicted(
    run: Run, uncertainty: float, group: Group | None, kinds_in: Array, joint: Array, good: float
) -> tuple[Array, Array]:
    """Chance of each verdict, (3, S), for an element of each kind outside this run and inside it.

    A run read before keeps its own scatter, so its readings so far say more about the next than those of others do.
    """
    weights = _normalised(joint, (1, 2))
    level = weights.sum(axis=2)
    sound, excess = verdict_chances(run, uncertainty, group is not None)
    if group is None:
        outside = np.einsum("sk,vk->vs", level, sound)
        inside = (1 - good) * np.einsum("skg,vkg->vs", weights, excess) + good * outside
        return outside, inside
    nodes = np.log(NODE_WEIGHTS)[:, None]
    outside = np.einsum("sk,hk,vhk->vs", level, _normalised(nodes + group.none_at, 0), sound)
    inside = outside.copy()
    if len(members := np.flatnonzero(kinds_in)):
        logs = (joint[members] - group.one)[:, None] + group.one_at + nodes[..., None]
        weights = _normalised(logs, (1, 2, 3))
        bad = np.einsum("shkg,vhkg->vs", weights, excess)
        inside[:, members] = (1 - good) * bad + good * np.einsum("shk,vhk->vs", weights.sum(axis=3), sound)
    return outside, inside


def predict(
    machine: Machine,
    readings: Sequence[Reading],
    candidates: Sequence[Section],
    chance_good_when_bad: float = CHANCE_GOOD_WHEN_BAD,
) -> Array:
    """Chance of each verdict of `VERDICTS` for each candidate reading, given the readings so far: (C, 3, 1 + E).

    Column 0 is for no bad element, column 1 + e for element e alone bad. The next reading is taken to use the load,
    the source and the care of the last one.
    """
    fit = _fit(machine, readings, chance_good_when_bad)
    return _chances(machine, fit, readings[-1] if readings else None, candidates, chance_good_when_bad)


def _chances(machine: Machine, fit: _Fit, last: Reading | None, candidates: Sequence[Section], good: float) -> Array:
    """What `predict` returns."""
    groups, kind_of = fit.groups, fit.kind_of
    flat = np.broadcast_to((fit.healthy - np.log(len(OHMS)))[None, :, None], (1, len(LEVELS), len(OHMS)))
    joint = np.concatenate([flat, fit.joint])  # the first kind lies in no run: no bad element at all
    load = Load(machine.load_test.load_ohms, machine.load_test.load_amps) if last is None else load_of(machine, last)
    reference = float(machine.nominal_volts) if last is None else last.reference
    meter = meter_of(last)
    known = {(g.run.section, g.run.load): i for i, g in enumerate(groups)}
    result = np.empty((len(candidates), len(VERDICTS), 1 + len(kind_of)))
    for row, section in zip(result, candidates, strict=True):
        at = known.get((section, load))
        run = run_of(machine, section, load, reference, None if last is None else last.copper_celsius)
        step = 0.0 if last is None else meter.rounded(last.reference, last.loaded)
        uncertainty = meter.drop_uncertainty(reference, reference - run.limit, step)
        kinds_in = np.zeros(len(joint)) if at is None else np.concatenate([[False], fit.kinds[:, at]])
        group = None if at is None else groups[at]
        outside, inside = _predicted(run, uncertainty, group, kinds_in, joint, good)
        member = np.array([e in section.elements for e in machine.elements])
        row[:, 0] = outside[:, 0]
        row[:, 1:] = np.where(member, inside[:, 1 + kind_of], outside[:, 1 + kind_of])
    return result
