"""All that could hang, in one table of links: how any part of it looks as if it served."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resilience.building.service.policy import Lost, Policy
from resilience.building.site import Kind, Site
from resilience.connectivity.links import site_table
from resilience.connectivity.luck.routes import Flags, forwards, of_kind
from resilience.connectivity.table import Floats, LinkTable
from resilience.remedies.fragile.ways import next_hops
from resilience.remedies.groundwork.chances import states_of
from resilience.remedies.groundwork.snapshots import gateways_up, spread, ways_of
from resilience.remedies.outset.allowed import Allowed

if TYPE_CHECKING:
    from scipy.sparse import csr_array

N_WORDS = 64  # possible buildings, 64 states in each
LEAST_WORDS = 16
MOST_DRAWN = 2_000_000  # links times words
THERE = 1e-6  # steps over what is there: next to nothing, since 0 would be no step
NEVER = 1000.0  # devices that what cannot be reached is put down as


@dataclass(frozen=True, slots=True, order=True)
class Look:
    """How a layout looks; less is better, the first that differs decides.

    Parameters
    ----------
    missing : int
        Further devices on the shortest ways, as drawn, of the sensors that have none, summed over
        all of them but those that may be lost. [-]
    lost_share : float
        Share of states with more sensors lost than may be. [-]
    n_lost : float
        Sensors lost, on average over all states. [-]
    """

    missing: int
    lost_share: float
    n_lost: float

    @property
    def reaches(self) -> bool:
        """Whether no more sensors lack a way as drawn than may be lost."""
        return not self.missing


class Field:
    """States and ways of the sensors with everything that could hang.

    Parameters
    ----------
    site : Site
        Building, hazards, upkeep. [-]
    allowed : Allowed
        Sensors, and what could hang. [-]
    policy : Policy
        What is to be kept. [-]
    seed : int
        Of the states. [-]
    counts_outages : bool
        Whether states in which no gateway is up count. [-]
    n_words : int
        Possible buildings at most; fewer where there are many links. [-]
    """

    def __init__(  # noqa: PLR0913, PLR0917 - sensors, what could hang, and how it is looked at
        self,
        site: Site,
        allowed: Allowed,
        policy: Policy,
        seed: int,
        counts_outages: bool,
        n_words: int = N_WORDS,
    ) -> None:
        whole = allowed.made("all that could hang", allowed.could)
        table = site_table(site, [whole]).of(whole)
        n_words = max(LEAST_WORDS, min(n_words, MOST_DRAWN // max(1, len(table.ends))))
        self._states = states_of(site, table, _carried(table), seed, n_words)
        self._ways = ways_of(self._states)
        self._steps = _steps(table)
        self._row = {id: row for row, id in enumerate(table.ids)}
        self._is_sensor = of_kind(table, Kind.SENSOR)
        self._is_gateway = of_kind(table, Kind.GATEWAY)
        n_sensors = int(self._is_sensor.sum())
        self._max_count = policy.max_count(n_sensors)
        self._n_needed = max(0, n_sensors - self._max_count)
        self._is_dark, self._counts_outages = policy.count is Lost.DARK, counts_outages

    def look(self, devices: Collection[str]) -> Look:
        """Look at the sensors with some of the devices that could hang.

        Parameters
        ----------
        devices : collection of str
            Their ids; a gateway among them. [-]
        """
        present = self._is_sensor.copy()
        present[[self._row[id] for id in devices]] = True
        further = np.sort(self._further(present)[self._is_sensor])
        missing = int(further[: self._n_needed].sum())
        if missing:  # states would only show that it is so
            return Look(missing, 1.0, float(self._is_sensor.sum()))
        n_lost = self._n_lost(present)
        return Look(0, float((n_lost > self._max_count).mean()), float(n_lost.mean()))

    def out_of_reach(self) -> tuple[str, ...]:
        """Sensors that have no way as drawn even if everything hung."""
        further = self._further(np.ones(len(self._is_sensor), np.bool_))
        is_deaf = self._is_sensor & (further >= NEVER)
        return tuple(id for id, row in self._row.items() if is_deaf[row])

    def _further(self, present: Flags) -> Floats:
        """Further devices on the shortest way from a gateway to each device."""
        from scipy.sparse.csgraph import dijkstra

        price = np.where(present, THERE, 1.0)
        steps = self._steps.copy()
        steps.data = price[steps.indices]
        starts = np.flatnonzero(self._is_gateway & present)
        found: Floats = dijkstra(steps, indices=starts, min_only=True)
        return np.floor(np.minimum(found, NEVER) + 0.5)

    def _n_lost(self, present: Flags) -> Floats:
        """Sensors lost in each state."""
        states = self._states
        ways = self._ways.among(present)
        reached = spread(states, ways, gateways_up(states, present))
        lost = ~reached[self._is_sensor]
        if not self._is_dark:
            lost &= states.up[self._is_sensor]
        if not self._counts_outages:
            lost &= np.bitwise_or.reduce(states.up[self._is_gateway & present], axis=0)
        bits = np.unpackbits(np.ascontiguousarray(lost).view(np.uint8), axis=1)
        found: Floats = bits.sum(axis=0, dtype=np.float64)
        return found


def _steps(table: LinkTable) -> "csr_array":
    """Steps as drawn from what passes readings on to what hears it; none leads to a gateway."""
    from scipy.sparse import csr_array

    ends = table.ends[table.usable]
    source = np.concatenate((ends[:, 0], ends[:, 1]))
    target = np.concatenate((ends[:, 1], ends[:, 0]))
    kept = forwards(table)[source] & ~of_kind(table, Kind.GATEWAY)[target]
    n = len(table.devices)
    return csr_array((np.ones(kept.sum()), (source[kept], target[kept])), shape=(n, n))


def _carried(table: LinkTable) -> dict[str, float]:
    """Sensors that each device passes on: as many as those do that do so with all in place."""
    above, passed = next_hops(table), dict[str, int]()
    for sensor in table.layout.sensors:
        one = above.get(sensor.id)
        while one is not None:
            passed[one] = passed.get(one, 0) + 1
            one = above.get(one)
    usual = sum(passed.values()) / max(1, len(passed))
    return {one.id: usual for one in table.devices}
