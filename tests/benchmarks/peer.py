"""An answer's ranking and one full lookahead step, timed against a general library of Bayesian networks on the same network.

Run: python tests/benchmarks/peer.py [--knowledge DIR] [--complaint ID] [--answers 6] [--times 3]

The network: one variable with every suspect as a value, and a check at a place as its child. The query, after so many answers:
the shares of the suspects; then for every result of every check still open how likely it is and the shares after it, weighed by
the expected minutes of repair that follow. Both must come to the same numbers. The library is pyAgrum (lazy propagation); what
it takes to build its network is not counted.
"""

from __future__ import annotations

import argparse
import random
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyagrum

from advisor.consultation.actions import TOGETHER, open_actions
from advisor.consultation.answers import LOAD_TEST
from advisor.consultation.consultation import Consultation
from advisor.consultation.tries import trying
from advisor.library.parser import load
from advisor.model.case import Answered, Case, Opened
from advisor.model.knowledge import Knowledge
from advisor.model.machine import generic_machine
from advisor.reasoning.planning import Action, Tries, expected_cost, one_step, ready
from advisor.reasoning.standing import Frame
from advisor.reasoning.ways import Stand

ROOT = Path(__file__).parents[2]
SEEN = Answered(check="confirm-complaint", result="seen")


@dataclass(frozen=True)
class Setting:
    """A case whose complaint was just seen: shares, the checks open at one place, and how each suspect would be tried."""

    prior: np.ndarray
    checks: tuple[Action, ...]
    tries: Tries
    ground: Frame
    stand: Stand


def setting_of(knowledge: Knowledge, complaint: str) -> Setting:
    s = Consultation(knowledge, generic_machine()).situation(Case((Opened(complaint=complaint), SEEN)))
    checks = tuple(a for a in open_actions(s) if a.key[0] != LOAD_TEST and a.key[-1] != TOGETHER)
    return Setting(s.shares, checks, trying(s).tries, s.open_ground, s.stand)


class Peer:
    """The same network in the library."""

    def __init__(self, setting: Setting) -> None:
        self.network = pyagrum.BayesNet()
        self.network.add(pyagrum.LabelizedVariable("fault", "fault", len(setting.prior)))
        self.network.cpt("fault").fillWith(setting.prior.tolist())
        for n, action in enumerate(setting.checks):
            self.network.add(pyagrum.LabelizedVariable(f"c{n}", "check", len(action.table)))
            self.network.addArc("fault", f"c{n}")
            self.network.cpt(f"c{n}")[:] = np.ascontiguousarray(action.table.T)
        self.inference = pyagrum.LazyPropagation(self.network)

    def shares(self, evidence: dict[str, int]) -> np.ndarray:
        self.inference.setEvidence(evidence)
        self.inference.makeInference()
        return self.inference.posterior("fault").toarray()

    def step(self, setting: Setting, evidence: dict[str, int]) -> list[float]:
        """For every open check the minutes now and, weighed by its results, those of the repairs after it."""
        self.inference.setEvidence(evidence)
        for n in range(len(setting.checks)):
            self.inference.addTarget(f"c{n}")
        self.inference.makeInference()
        chances = {n: self.inference.posterior(f"c{n}").toarray() for n in range(len(setting.checks)) if f"c{n}" not in evidence}
        self.inference.eraseAllTargets()
        self.inference.addTarget("fault")
        found = []
        for n, chance in chances.items():
            action, rest = setting.checks[n], 0.0
            there = setting.ground.after(action.errand, setting.stand)
            for result, likely in enumerate(chance):
                after = self.shares({**evidence, f"c{n}": result})
                rest += float(likely) * float(expected_cost(after, setting.tries, setting.ground, there))
            found.append(action.minutes + ready(setting.ground, action.errand, setting.stand) + rest)
        return found


def own_shares(setting: Setting, answers: dict[int, int]) -> np.ndarray:
    weights = setting.prior.copy()
    for n, result in answers.items():
        weights = weights * setting.checks[n].table[result]
    return weights / weights.sum()


def own_step(setting: Setting, answers: dict[int, int]) -> list[float]:
    left = [a for n, a in enumerate(setting.checks) if n not in answers]
    return [v.to_the_end for v in one_step(own_shares(setting, answers), setting.tries, left, setting.ground, setting.stand)]


def timed(run: Callable[[], object], times: int) -> float:
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--knowledge", type=Path, default=ROOT / "knowledge")
    parser.add_argument("--complaint", default="motion-without-steering")
    parser.add_argument("--answers", type=int, default=6)
    parser.add_argument("--times", type=int, default=3)
    options = parser.parse_args()
    setting = setting_of(load(options.knowledge), options.complaint)
    peer, rng = Peer(setting), random.Random(4)
    drawn = rng.sample(range(len(setting.checks)), options.answers)
    answers = {n: rng.randrange(len(setting.checks[n].table)) for n in drawn}
    evidence = {f"c{n}": result for n, result in answers.items()}
    assert np.allclose(peer.shares(evidence), own_shares(setting, answers), atol=1e-9)
    # Suspects with equal odds are tried in an order that the last digit decides, and who comes first pays a shared setup.
    assert np.allclose(peer.step(setting, evidence), own_step(setting, answers), rtol=1e-3)
    print(f"{len(setting.prior)} suspects, {len(setting.checks)} checks, {options.answers} answers; both agree")
    queries = {
        "shares after the answers": (lambda: own_shares(setting, answers), lambda: peer.shares(evidence)),
        "one full lookahead step": (lambda: own_step(setting, answers), lambda: peer.step(setting, evidence)),
        "an answer: both": (
            lambda: (own_shares(setting, answers), own_step(setting, answers)),
            lambda: (peer.shares(evidence), peer.step(setting, evidence)),
        ),
    }
    for name, (own, other) in queries.items():
        mine, theirs = timed(own, 5 * options.times), timed(other, options.times)
        print(f"{name:26s} own {1e3 * mine:8.2f} ms   pyAgrum {1e3 * theirs:9.1f} ms   {theirs / mine:7.1f} times faster")


if __name__ == "__main__":
    main()
