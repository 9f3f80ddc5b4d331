"""What the readings of one run say about it: sound, or with ohms added by one or two bad elements.

The model. A sound run drops something between what its wire must drop and what the trade allows it. How far up that
range the sound runs of this machine read is one unknown level for the whole machine, weighed over a grid; each run
scatters around it, and repeated readings of one run share its scatter. A bad element adds ohms, log-uniform over 0.01
to 10, that do not repeat exactly and lower the load's current; at each reading it looks good with a stated chance,
because faults come and go. A few readings are simply wrong.

Arrays: K levels, G ohms, H nodes of a run's scatter. Likelihoods are natural logarithms of densities per volt of drop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.electrical.drop import Load, drop_volts
from advisor.model.case import Reading
from advisor.model.machine import Machine, Section
from advisor.reasoning.readings import limit_of, load_of, meter_of, sound_of

Array = NDArray[np.float64]

VERDICTS = ("over", "unsure", "within")  # in the order of an axis of chances
SURE_DEVIATIONS = 1.6448536269514722  # of a normal error, at the chance `drop.SURE` of 0.95

LEVELS = np.array([0.05, 0.2, 0.4, 0.6, 0.8, 1.0, 1.35, 1.8, 2.6])  # 0: the wire alone; 1: the allowed drop
# Sound runs read up to about the allowed drop and hardly beyond: 97 machines in 100, evenly. The rest stands for poor
# leads or a wrong reference, which lift every reading. A judgement of this project, no source.
LEVEL_WEIGHTS = np.array([0.161, 0.161, 0.162, 0.162, 0.162, 0.162, 0.015, 0.010, 0.005])
OHMS = np.geomspace(0.01, 10.0, 24)
SCATTER = 0.12  # of a sound run's drop, from run to run: contacts and strands differ; a judgement, no source
UNREPEATABLE = 0.25  # of the excess drop, from reading to reading: a poor joint is no resistor; a judgement, no source
MISREAD = 0.005  # chance that a reading is wrong, and then any voltage; a judgement, no source
MOST_OF_REFERENCE = 0.75  # that a sound run can drop, whatever its limit says
LEAST_ROOM = 0.25  # of the limit: room left for contacts where the wire alone takes all that is allowed
NODES = np.linspace(-2.4, 2.4, 9)  # of a run's own scatter, in standard deviations
NODE_WEIGHTS = np.exp(-(NODES**2) / 2) / np.exp(-(NODES**2) / 2).sum()


@dataclass(frozen=True)
class Run:
    """One run under one load: what it drops, sound and with excess ohms."""

    section: Section
    load: Load
    reference: float
    limit: float
    wire_volts: float  # the least a sound run can drop

    def sound(self, at_nodes: bool = False) -> Array:
        """Drop of the sound run at each level, (K,), or with its own scatter held at each node, (H, K)."""
        room = max(self.limit - self.wire_volts, LEAST_ROOM * self.limit)
        drops = np.minimum(self.wire_volts + LEVELS * room, MOST_OF_REFERENCE * self.reference)
        return drops * (1 + SCATTER * NODES[:, None]) if at_nodes else drops

    def read(self, sound: Array, ohms: Array, uncertainty: float, at_nodes: bool) -> tuple[Array, Array]:
        """Mean and standard deviation of the drop read, over a sound drop and excess ohms that broadcast."""
        if self.load.ohms is None:
            mean = np.minimum(sound + self.load.current(self.reference) * ohms, self.reference)
        else:
            series = self.load.ohms * sound / (self.reference - sound) + ohms
            mean = self.reference * series / (self.load.ohms + series)
        scatter = 0.0 if at_nodes else SCATTER
        return mean, np.sqrt(uncertainty**2 + (scatter * sound) ** 2 + (UNREPEATABLE * (mean - sound)) ** 2)


@dataclass(frozen=True)
class Group:
    """All readings of one run: log factors for no bad element in it (K,), one (K, G), and with the run's own scatter as
    first axis (H, K) and (H, K, G)."""

    run: Run
    drops: tuple[float, ...]
    uncertainties: tuple[float, ...]
    good: float
    none: Array
    one: Array
    none_at: Array
    one_at: Array


@lru_cache(maxsize=256)  # every answer weighs all readings again, and only the newest one is new
def _mixed(run: Run, drops: tuple[float, ...], uncertainties: tuple[float, ...], good: float, bad: int, at_nodes: bool) -> Array:
    """Log density of a run's readings with none, one or two bad elements in it: ([H,] K, *(G,) * bad).

    Held at its nodes, the run's own scatter is common to all its readings; else it widens the density of its only one.
    """
    sound = run.sound(at_nodes)
    base = sound.reshape(sound.shape + (1,) * bad)
    first, second = OHMS.reshape((-1,) + (1,) * (bad - 1)), OHMS
    total = np.zeros(())
    for drop, uncertainty in zip(drops, uncertainties, strict=True):

        def density(ohms: Array, drop: float = drop, uncertainty: float = uncertainty) -> Array:
            mean, spread = run.read(base, ohms, uncertainty, at_nodes)
            normal = np.exp(-0.5 * ((drop - mean) / spread) ** 2) / (spread * np.sqrt(2 * np.pi))
            return np.asarray((1 - MISREAD) * normal + MISREAD / run.reference)

        mixed = density(np.zeros(())) * good**bad
        if bad == 1:
            mixed = mixed + (1 - good) * density(first)
        elif bad == 2:
            mixed = mixed + good * (1 - good) * (density(first) + density(second))
            mixed = mixed + (1 - good) ** 2 * density(first + second)
        total = total + np.log(mixed)
    found = np.asarray(total)
    found.setflags(write=False)  # it is handed out again
    return found


def _over_nodes(log_factors: Array) -> Array:
    """Sum over the nodes of a run's scatter, the first axis."""
    return log_sum(log_factors + np.log(NODE_WEIGHTS).reshape((-1,) + (1,) * (log_factors.ndim - 1)), 0)


def log_sum(values: Array, axis: int | tuple[int, ...]) -> Array:
    """Logarithm of a sum of exponentials along an axis."""
    peak = values.max(axis=axis, keepdims=True)
    return np.asarray(np.log(np.exp(values - peak).sum(axis=axis)) + peak.squeeze(axis))


def run_of(machine: Machine, section: Section, load: Load, reference: float, celsius: float | None) -> Run:
    """A section under a load, with the copper at a temperature; None stands for 20 C."""
    sound = sound_of(machine, section, celsius)
    wire_volts = 0.0 if sound is None else load.drop(reference, sound[0])
    return Run(section, load, reference, limit_of(machine, section, load, reference), wire_volts)


def read_groups(machine: Machine, readings: Sequence[Reading], good: float) -> list[Group]:
    """The readings, gathered by run and load."""
    gathered: dict[tuple[Section, Load], list[Reading]] = {}
    for reading in readings:
        section = machine.section(reading.circuit, reading.start, reading.end)
        if section is None:
            raise ValueError(f"{reading.circuit} has no run from {reading.start} to {reading.end}")
        gathered.setdefault((section, load_of(machine, reading)), []).append(reading)
    groups = []
    for (section, load), same in gathered.items():
        run = run_of(machine, section, load, float(np.mean([r.reference for r in same])), same[0].copper_celsius)
        drops = tuple(drop_volts(r.reference, r.loaded) for r in same)
        uncertainties = tuple(meter_of(r).drop_uncertainty(r.reference, r.loaded) for r in same)
        none_at, one_at = (_mixed(run, drops, uncertainties, good, bad, True) for bad in (0, 1))
        if len(same) == 1:
            none, one = (_mixed(run, drops, uncertainties, good, bad, False) for bad in (0, 1))
        else:
            none, one = _over_nodes(none_at), _over_nodes(one_at)
        groups.append(Group(run, drops, uncertainties, good, none, one, none_at, one_at))
    return groups


def two_bad(group: Group) -> Array:
    """Log factor of a group for two bad elements in its run: (K, G, G)."""
    repeated = len(group.drops) > 1
    mixed = _mixed(group.run, group.drops, group.uncertainties, group.good, 2, repeated)
    return _over_nodes(mixed) if repeated else mixed


def _below(threshold: float, mean: Array, spread: Array) -> Array:
    """Chance that a normal variable stays below a threshold, to 0.0003."""
    z = (threshold - mean) / spread
    return np.asarray(0.5 + 0.5 * np.tanh(0.7978845608 * (z + 0.044715 * z**3)))


def verdict_chances(run: Run, uncertainty: float, at_nodes: bool) -> tuple[Array, Array]:
    """Chance of each verdict for a sound run (3, [H,] K) and for one with excess ohms (3, [H,] K, G)."""
    sound = run.sound(at_nodes)
    found = []
    for base, ohms in ((sound, np.zeros(())), (sound[..., None], OHMS)):
        mean, spread = run.read(base, ohms, uncertainty, at_nodes)
        within = _below(run.limit, mean, spread)
        not_over = _below(run.limit + SURE_DEVIATIONS * uncertainty, mean, spread)
        found.append(np.stack([1 - not_over, not_over - within, within]))
    return found[0], found[1]
