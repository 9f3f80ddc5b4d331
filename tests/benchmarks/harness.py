"""Figures for finding a bad joint from load-test readings on simulated harnesses.

Run: python tests/benchmarks/harness.py

A simulated harness holds one or two bad joints of 0.05 to 5 ohm which look good at a reading with chance 0.3. Its sound
contacts and strands scatter, its source sags, its meter has a gain error of its own and counts. Readings are taken
where the program advises, until three elements hold 95 % or opening joint after joint costs less than to read again.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np

from advisor.model.case import Reading
from advisor.model.machine import Element, LoadTest, Machine, Section
from advisor.reasoning.harness import evidence, predict

sys.path.insert(0, str(Path(__file__).parents[1]))
from probing import best_look, next_reading, shares

LOAD_OHMS = 5.0
MOST_READINGS = 40


def branch(function: str, track: int, points: list[str], metres: list[float], trunk: bool) -> tuple[Element, ...]:
    """One circuit over all points; with a trunk, its first wire and a splice are shared by the function's tracks."""
    name = f"{function}-{track}"
    own = f"{points[0]}:{function}" if trunk else f"{points[0]}:{name}"
    path = [Element(terminal=own)]
    if trunk:
        path += [Element(wire=f"{function}-trunk", mm2=0.75, metres=0.8), Element(splice=f"{function}-splice")]
    for point, length in zip(points[1:], metres, strict=True):
        path.append(Element(wire=f"{name}-{point}", mm2=0.75, metres=length))
        path.append(Element(terminal=f"{point}:{name}"))
    return tuple(path)


def layout(rng: random.Random, least: int, most: int) -> Machine:
    """A random tree of shared and single circuits with a number of elements between least and most."""
    while True:
        points = ["controller", *(f"joint-{i}" for i in range(rng.randint(0, 2))), "sensor"]
        circuits = {}
        for f in range(rng.randint(1, 5)):
            metres = [round(rng.uniform(0.5, 2.2), 1) for _ in points[1:]]
            tracks = rng.randint(1, 3)
            trunk = tracks > 1 and rng.random() < 0.7
            for t in range(tracks):
                circuits[f"f{f}-{t}"] = branch(f"f{f}", t, points, metres, trunk)
        machine = Machine(points=tuple(points), circuits=circuits, load_test=LoadTest(load_ohms=LOAD_OHMS))
        if least <= len(machine.elements) <= most:
            return machine


@dataclass
class Bench:
    """The simulated harness, its meter and its source."""

    machine: Machine
    rng: random.Random
    bad: dict[str, float]  # element: ohms
    good_chance: float = 0.3
    sound: dict[str, float] = field(init=False)
    gain: float = field(init=False)
    source_ohms: float = field(init=False)

    def __post_init__(self) -> None:
        rng = self.rng
        self.gain, self.source_ohms = rng.uniform(-0.005, 0.005), rng.uniform(0.02, 0.6)
        self.sound = {
            name: 0.0245 * e.length * rng.gauss(1, 0.03) if e.length else rng.uniform(0.001, 0.009)
            for name, e in self.machine.elements.items()
        }

    def shown(self, volts: float) -> float:
        counts = (volts * (1 + self.gain) + self.rng.uniform(-0.015, 0.015)) / 0.01
        return round(round(counts) * 0.01, 2)

    def read(self, section: Section) -> Reading:
        open_volts = self.rng.gauss(12.5, 0.01)
        ohms = sum(self.sound[e] for e in section.elements)
        for element, excess in self.bad.items():
            if element in section.elements and self.rng.random() >= self.good_chance:
                ohms += excess * self.rng.lognormvariate(0, 0.15)
        reference = open_volts * LOAD_OHMS / (LOAD_OHMS + self.source_ohms)
        loaded = open_volts * LOAD_OHMS / (LOAD_OHMS + self.source_ohms + ohms)
        return Reading(
            circuit=section.circuit, **{"from": section.start, "to": section.end},
            reference=self.shown(reference), loaded=max(self.shown(loaded), 0.0),
        )  # fmt: skip


def search(bench: Bench) -> tuple[np.ndarray, int, list[float]]:
    """Shares after readings where advised, the number of readings, and the seconds of each update."""
    sections, readings, seconds = list(bench.machine.sections()), [], []
    while True:
        start = time.perf_counter()
        found = shares(evidence(bench.machine, readings))
        section, saved = next_reading(bench.machine, readings, sections)
        seconds.append(time.perf_counter() - start)
        if np.sort(found)[-3:].sum() >= 0.95 or len(readings) == MOST_READINGS or saved < 0:
            return found, len(readings), seconds
        readings.append(bench.read(section))


def simulated(cases: int, faults: int, seed: int) -> None:
    rng = random.Random(seed)
    hits, counts, seconds = [], [], []
    for _ in range(cases):
        machine = layout(rng, 20, 60)
        names = rng.sample([n for n, e in machine.elements.items() if e.kind != "wire"], faults)
        bad = {n: 10 ** rng.uniform(np.log10(0.05), np.log10(5)) for n in names}
        found, count, spent = search(Bench(machine, rng, bad))
        leading = {list(machine.elements)[i] for i in np.argsort(-found, kind="stable")[:3]}
        hits.append(len(leading & set(names)) > 0)
        counts.append(count)
        seconds += spent
    print(
        f"{faults} bad joint(s), {cases} harnesses of 20-60 elements: a bad one among the leading three in "
        f"{100 * statistics.mean(hits):.1f} %, readings mean {statistics.mean(counts):.1f} "
        f"median {statistics.median(counts):.0f} most {max(counts)}, "
        f"update mean {1e3 * statistics.mean(seconds):.1f} ms, 95th of 100 {1e3 * np.quantile(seconds, 0.95):.1f} ms"
    )


def kinds_of(machine: Machine, sections: list[Section]) -> list[frozenset[int]]:
    """For each section the kinds of element (those no reading can tell apart) in it."""
    signature = {e: tuple(e in s.elements for s in sections) for e in machine.elements}
    kinds = list(dict.fromkeys(signature.values()))
    return [frozenset(kinds.index(signature[e]) for e in s.elements) for s in sections]


def readings_until_known(sections: list[frozenset[int]], everything: frozenset[int], choose: Callable | None) -> float:
    """Mean number of perfect readings until one kind is left; the best there is when `choose` is None."""

    @cache
    def mean(left: frozenset[int]) -> float:
        if len(left) == 1:
            return 0.0
        useful = [s for s in sections if 0 < len(s & left) < len(left)]
        if choose is not None:
            useful = [choose(left, useful)]
        return 1 + min((len(s & left) * mean(left & s) + len(left - s) * mean(left - s)) / len(left) for s in useful)

    return mean(everything)


def advised(left: frozenset[int], useful: list[frozenset[int]]) -> frozenset[int]:
    kinds = sorted(left)
    return useful[best_look(np.ones(len(kinds)), [[float(k in s) for k in kinds] for s in useful])]


def chance_right(sections: list[frozenset[int]], kinds: int, readings: int, by_advice: bool) -> float:
    """Chance to name the right kind after so many intermittent readings; the best there is unless `by_advice`."""
    chances = np.array([[0.7 if k in s else 0.03 for k in range(kinds)] for s in sections])
    likelihoods = np.stack([chances, 1 - chances], axis=1)

    @cache
    def value(counts: tuple[int, ...], left: int) -> float:
        weights = np.ones(kinds)
        for (i, v), n in zip(np.ndindex(len(sections), 2), counts, strict=True):
            weights *= likelihoods[i, v] ** n
        if left == 0:
            return float(weights.max()) / kinds
        options = range(len(sections))
        if by_advice:
            options = [best_look(weights, chances)]
        return max(sum(value(_more(counts, 2 * i + v), left - 1) for v in (0, 1)) for i in options)

    return value((0,) * (2 * len(sections)), readings)


def _more(counts: tuple[int, ...], at: int) -> tuple[int, ...]:
    return (*counts[:at], counts[at] + 1, *counts[at + 1 :])


def against_best(cases: int, seed: int) -> None:
    rng, ratios, right = random.Random(seed), [], []
    while len(ratios) < cases:
        machine = layout(rng, 6, 18)
        sections = list(dict.fromkeys(kinds_of(machine, list(machine.sections()))))
        everything = frozenset().union(*sections)
        if not 4 <= len(everything) <= 11 or len(sections) > 9:
            continue
        best = readings_until_known(sections, everything, None)
        ratios.append(readings_until_known(sections, everything, advised) / best)
        if len(sections) <= 6:
            pair = [chance_right(sections, len(everything), 5, by_advice) for by_advice in (True, False)]
            right.append((pair[0], pair[1]))
    print(
        f"perfect readings, {cases} small harnesses: readings of the advice over the best policy by exhaustive search, "
        f"mean {statistics.mean(ratios):.3f}, worst {max(ratios):.3f}"
    )
    print(
        f"intermittent readings, {len(right)} of them: right kind named after 5 readings, advice "
        f"{statistics.mean(a for a, _ in right):.3f}, best policy {statistics.mean(b for _, b in right):.3f}"
    )


def growth() -> None:
    for circuits in (4, 8, 16, 30):
        points, paths = ["controller", "bulkhead", "sensor"], {}
        for f in range(circuits // 2):
            for t in (0, 1):
                paths[f"f{f}-{t}"] = branch(f"f{f}", t, points, [1.0, 3.0], True)
        machine = Machine(points=tuple(points), circuits=paths, load_test=LoadTest(load_ohms=LOAD_OHMS))
        bench, sections = Bench(machine, random.Random(1), {"f0-splice": 0.3}), list(machine.sections())
        for count in (8, min(len(sections), 24)):
            readings = [bench.read(s) for s in sections[:count]]
            spent = [[0.0] * 7, [0.0] * 7]
            for i in range(7):
                for row, call in zip(spent, (evidence, predict), strict=True):
                    start = time.perf_counter()
                    call(machine, readings) if call is evidence else call(machine, readings, sections)
                    row[i] = 1e3 * (time.perf_counter() - start)
            print(
                f"{len(machine.elements):4d} elements, {count:2d} readings: evidence with all pairs "
                f"{min(spent[0]):6.1f} ms, predict for {len(sections):2d} sections {min(spent[1]):6.1f} ms"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    simulated(options.cases, 1, options.seed)
    simulated(options.cases, 2, options.seed + 1)
    against_best(min(options.cases, 60), options.seed + 2)
    growth()


if __name__ == "__main__":
    main()
