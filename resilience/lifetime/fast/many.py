"""A layout made ready for many compiled lifetimes, and what they add up to."""

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from resilience.connectivity.luck.prospect import (
    DISTANCE_KEY,
    FIELD_KEY,
    N_WAVES,
    Prospect,
)
from resilience.draws import MASK
from resilience.hazards.elements import Effect
from resilience.hazards.table import HazardTable
from resilience.lifetime.fast.arrays import NO_LOG, Arrays, arrays_of
from resilience.lifetime.fast.buildings import (
    BEGAN_LAYOUT,
    BEGAN_RADIO,
    BLAME_LAYOUT,
    BLAME_RADIO,
    EXTRA_COLUMNS,
    HALF_BITS,
    LOST_IN_HEAP,
    ROW,
    SUM_COLUMNS,
    play_many,
)
from resilience.lifetime.mesh import Mesh, Rules
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, Holder
from resilience.lifetime.state import columns as c
from resilience.lifetime.tally import COLUMNS, COUNTED, SENSOR_FIGURES, SensorSums, Tally

Ints = NDArray[np.int64]

MOST_DEVICES = 1 << 16
MOST_ELEMENTS = 1 << 20
LARGEST_COST = 1 << 31


@dataclass
class Many:
    """A layout made ready for many lifetimes; one for each thread.

    Parameters
    ----------
    prospect : Prospect
        What the luck of a building works on. [-]
    hazards : HazardTable
        Everything that can strike, before any building prunes it. [-]
    everything : Mesh
        Devices, and every link of the prospect whether usable or not. [-]
    rules : Rules
        Horizon and routing. [-]
    """

    prospect: Prospect
    hazards: HazardTable
    everything: Mesh
    rules: Rules

    def __post_init__(self) -> None:
        self._arrays: Arrays = arrays_of(self.everything, self.hazards, self.rules)
        elements = self._arrays.elements
        self._count_as = np.array(
            [ROW[COUNTED[one.cause]] if one.cause in COUNTED else -1 for one in elements], np.int64
        )
        worst: Counter[str] = Counter()
        for one in elements:
            if one.effect is Effect.LOSS:
                worst.update(dict.fromkeys(one.targets, one.amount))
        self._worst_cdb = np.array([worst[link] for link in self._arrays.links], np.int64)

    def tally(self, seed: int, first: int, n: int) -> Tally:
        """Play lifetimes in a row and add them up.

        Parameters
        ----------
        seed : int
            Seed of the study. [-]
        first : int
            Number of the first lifetime; begins a building. [-]
        n : int
            Lifetimes; whole buildings. [-]
        """
        arrays, table = self._arrays, self.prospect.table
        n_devices, n_constructions = len(arrays.devices), len(self.prospect.construction_keys)
        rows = np.zeros((n, len(COLUMNS)), np.int64)
        sums = np.zeros((len(SENSOR_FIGURES), n_devices, SUM_COLUMNS), np.int64)
        extra = np.zeros(EXTRA_COLUMNS, np.int64)
        arrays.ele[:, [c.BLAME_MS, c.BEGAN]] = 0
        ready, a = self.prospect, arrays
        play_many(
            np.uint64(seed & MASK), first, table.radio.decorrelation_m,
            table.radio.distance_power_spread, np.uint64(FIELD_KEY), np.uint64(DISTANCE_KEY),
            ready.points_m, ready.ends, ready.weights, np.array(ready.own_keys, np.uint64),
            np.array(ready.half_keys, np.uint64), ready.crossing_start, ready.crossing_of,
            ready.crossing_loss_db, np.array(ready.construction_keys, np.uint64),
            ready.construction_spread_db, np.zeros((N_WAVES, 4)), np.zeros(n_devices),
            np.zeros(n_constructions), np.zeros((len(arrays.links), 2), np.int64),
            self._worst_cdb, self._count_as, rows, sums, extra, a.rules, a.element_keys,
            a.repair_keys, a.cell_keys, a.starts, a.repair_starts, a.cell_starts, a.laws, a.charges,
            a.active, a.tgt_start, a.tgt, a.script_start, a.script, a.adj_start, a.adj, a.dev,
            a.acc, a.lnk, a.rad, a.curve, a.ele, a.bat, a.lists, a.now, a.at_mean, a.above_since,
            a.longest_ms, a.count_ms, a.calendar, a.heap, a.depths, a.spells, NO_LOG,
        )  # fmt: skip
        if extra[LOST_IN_HEAP]:  # too small for one of these lifetimes: again, with a larger one
            arrays.heap = np.zeros(2 * len(arrays.heap), np.int64)
            return self.tally(seed, first, n)
        return Tally(
            first,
            rows,
            self._sensor_sums(sums),
            self._by_holder(c.BLAME_MS, extra[[BLAME_LAYOUT, BLAME_RADIO]]),
            self._by_holder(c.BEGAN, extra[[BEGAN_LAYOUT, BEGAN_RADIO]]),
        )

    def _sensor_sums(self, sums: Ints) -> dict[tuple[str, str], SensorSums]:
        found = {}
        for figure, name in enumerate(SENSOR_FIGURES):
            for row, id in enumerate(self._arrays.devices):
                if self._arrays.dev[row, c.SENSOR]:
                    total, high, cross, low, _ = map(int, sums[figure, row])
                    squares = (high << 2 * HALF_BITS) + (cross << HALF_BITS + 1) + low
                    found[name, id] = SensorSums(total, squares)
        return found

    def _by_holder(self, column: int, others: Ints) -> Counter[Holder]:
        values: Counter[Holder] = Counter()
        for row in self._arrays.ele[:, column].nonzero()[0]:
            values[self._arrays.elements[row].name] = int(self._arrays.ele[row, column])
        for holder, value in zip((LAYOUT, RADIO_DRAW), others, strict=True):
            if value:
                values[holder] = int(value)
        return values


def fits(mesh: Mesh, hazards: HazardTable) -> bool:
    """Whether a mesh and its hazards fit, path costs in the worst state of every link included.

    Parameters
    ----------
    mesh : Mesh
        The layout in one possible building. [-]
    hazards : HazardTable
        What can strike it. [-]
    """
    n_elements = len(hazards.elements) + len(hazards.cells)
    if len(mesh.devices) >= MOST_DEVICES or n_elements >= MOST_ELEMENTS - 1:
        return False
    extra = sum(one.amount for one in hazards.elements if one.effect is Effect.COST)
    dearest = max((link.path.dearest for link in mesh.links), default=0)
    return len(mesh.devices) * (dearest + extra) < LARGEST_COST
