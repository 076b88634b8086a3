"""Many compiled lifetimes of one layout, added up."""

from collections import Counter

import numpy as np
from numpy.typing import NDArray

from resilience.connectivity.luck.prospect import Prospect
from resilience.draws import MASK
from resilience.lifetime.casting.worlds import Cast
from resilience.lifetime.fast.play import Row, play
from resilience.lifetime.fast.sums import (
    BEGAN_LAYOUT,
    BEGAN_RADIO,
    BLAME_LAYOUT,
    BLAME_RADIO,
    DRAIN_LEAST,
    DRAIN_MOST,
    DRAIN_TOTAL,
    EARLY_LAYOUT,
    EARLY_RADIO,
    HALF_BITS,
    LOST_IN_HEAP,
    N_LIFETIMES,
    Sums,
)
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, Holder
from resilience.lifetime.state.compiled import table_of
from resilience.lifetime.state.world import OVER_LIFETIMES
from resilience.lifetime.tally import SENSOR_FIGURES, DrainSums, SensorSums, Tally

Ints = NDArray[np.int64]


class Tallier:
    """Plays a layout in building after building; one for each thread.

    Parameters
    ----------
    cast : Cast
        The world of the layout, its links those of every building. [-]
    prospect : Prospect
        What the luck of a building works on. [-]
    """

    def __init__(self, cast: Cast, prospect: Prospect) -> None:
        self._cast = cast
        self._lots = prospect.lots.apart()
        self._strengths_cdbm = np.zeros((len(cast.links), 2), np.int64)

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
        world = self._cast.world
        sums = Sums.of(n, len(self._cast.devices), world.cells.size)
        for name in OVER_LIFETIMES:
            world.elements[name] = 0
        world.now["heap_is_full"] = 0
        row = Row(np.uint64(seed & MASK), first, n, self._lots, self._strengths_cdbm)
        play(table_of(world), sums, row)
        if sums.extra[LOST_IN_HEAP]:  # too small for one of these lifetimes: again, with a larger
            heap = np.zeros(2 * len(world.heap), np.int64)
            self._cast = self._cast.with_world(world._replace(heap=heap))
            return self.tally(seed, first, n)
        return Tally(
            first,
            sums.rows,
            self._sensor_sums(sums.sensors),
            self._by_holder("blame_ms", sums.extra[[BLAME_LAYOUT, BLAME_RADIO]]),
            self._by_holder("began", sums.extra[[BEGAN_LAYOUT, BEGAN_RADIO]]),
            self._by_holder("early_blame_ms", sums.extra[[EARLY_LAYOUT, EARLY_RADIO]]),
            self._by_holder("struck", np.zeros(2, np.int64)),
            self._drains(sums.drains),
        )

    def _sensor_sums(self, sums: Ints) -> dict[tuple[str, str], SensorSums]:
        found = {}
        is_sensor = self._cast.world.devices["is_sensor"]
        for figure, name in enumerate(SENSOR_FIGURES):
            for row in is_sensor.nonzero()[0].tolist():
                total, high, cross, low, _ = map(int, sums[figure, row])
                squares = (high << 2 * HALF_BITS) + (cross << HALF_BITS + 1) + low
                found[name, self._cast.devices[row]] = SensorSums(total, squares)
        return found

    def _drains(self, sums: Ints) -> dict[str, DrainSums]:
        devices = self._cast.world.devices["cells"]
        return {
            self._cast.devices[row]: DrainSums(
                *sums[devices[row], [N_LIFETIMES, DRAIN_TOTAL, DRAIN_LEAST, DRAIN_MOST]].tolist()
            )
            for row in (devices >= 0).nonzero()[0].tolist()
            if sums[devices[row], N_LIFETIMES]
        }

    def _by_holder(self, name: str, others: Ints) -> Counter[Holder]:
        column = self._cast.world.elements[name]
        values: Counter[Holder] = Counter()
        for row in column.nonzero()[0].tolist():
            values[self._cast.elements[row]] = int(column[row])
        for holder, value in zip((LAYOUT, RADIO_DRAW), others.tolist(), strict=True):
            if value:
                values[holder] = value
        return values
