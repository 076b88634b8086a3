"""What decides a link at a moment: strength against what is needed, reception, and cost."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from resilience.building.settings import Radio, Routing
from resilience.connectivity.reception import (
    COST_PER_TRANSMISSION,
    ReceptionCurve,
    link_cost,
    momentary_curve,
    prr_units,
)
from resilience.connectivity.swing import parted_cdb
from resilience.units import ms_from_h

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Air:
    """What all links of a site have in common.

    Parameters
    ----------
    curve : ReceptionCurve
        Reception by the strength of a moment. [-]
    min_prr : int
        Least reception ratio of a usable direction, in units of 2^-16. [-]
    counts_hops : bool
        Whether every usable link costs the same. [-]
    levels_cdb : Ints
        Equally likely levels of a link's swing, rising. [cdB]
    holds_ms : int
        How long a level is held. [ms]
    common_cdb : tuple of Ints
        The same of what is added to them: levels of the mesh, and of each device; or none. [cdB]
    """

    curve: ReceptionCurve
    min_prr: int
    counts_hops: bool
    levels_cdb: Ints
    holds_ms: int
    common_cdb: tuple[Ints, ...] = ()

    @staticmethod
    @lru_cache(maxsize=64)
    def of(radio: Radio, routing: Routing) -> "Air":
        """Return the air of a site, one for equal settings, in the units of the engines."""
        own_cdb, *common_cdb = parted_cdb(
            radio.swing_db, radio.swing_mesh_share, radio.swing_device_share
        )
        return Air(
            momentary_curve(radio),
            prr_units(routing.min_prr),
            routing.objective == "hops",
            own_cdb,
            ms_from_h(radio.swing_holds_h),
            tuple(common_cdb),
        )

    @cached_property
    def least_cdbm(self) -> int:
        """Weakest strength of a moment at which a direction receives enough."""
        return self.curve.first_at(self.min_prr)

    @property
    def best_cdb(self) -> int:
        """Highest level of any link."""
        return self._sum_cdb(-1)

    @property
    def worst_cdb(self) -> int:
        """Lowest level of any link."""
        return self._sum_cdb(0)

    def _sum_cdb(self, place: int) -> int:
        """Sum of the levels at one place: a link has two devices."""
        found = int(self.levels_cdb[place])
        if self.common_cdb:
            mesh_cdb, device_cdb = self.common_cdb
            found += int(mesh_cdb[place]) + 2 * int(device_cdb[place])
        return found

    @property
    def dearest(self) -> int:
        """Cost that no usable link can exceed."""
        return COST_PER_TRANSMISSION if self.counts_hops else link_cost(self.min_prr, self.min_prr)

    def cost(self, there_cdbm: int, back_cdbm: int) -> int:
        """Cost of a usable link at the strengths of a moment. [1/128 ETX].

        Parameters
        ----------
        there_cdbm, back_cdbm : int
            Strengths that stand for its reception. [cdBm]
        """
        if self.counts_hops:
            return COST_PER_TRANSMISSION
        return link_cost(self.curve.prr(there_cdbm), self.curve.prr(back_cdbm))

    def spare_cdb(self, rssi_cdbm: Ints, heard_cdbm: Ints, floor_cdbm: Ints) -> Ints:
        """Loss that each link can take when calm before it stops being usable, shape (links,).

        Below 0 it is not usable when calm.

        Parameters
        ----------
        rssi_cdbm, heard_cdbm, floor_cdbm : Ints
            Shape (links, 2): calm strength, the strength that stands for reception, and the
            receiver's floor, there and back. [cdBm]
        """
        over = np.minimum(rssi_cdbm - floor_cdbm, heard_cdbm - self.least_cdbm)
        least: Ints = over.min(axis=1, initial=1 << 40)
        return least
