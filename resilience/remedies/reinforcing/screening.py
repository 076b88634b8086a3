"""Which options look best, by states drawn once for a layout with everything that could be added.

Every option is judged on the same states. An addition can only help where somebody is cut off, so
that those states alone are looked at, packed anew.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from resilience.building.site import Device, GivenLink, Kind, Layout, Site
from resilience.connectivity.links import site_table
from resilience.connectivity.luck.routes import Flags, of_kind
from resilience.connectivity.table import LinkTable
from resilience.remedies.fragile.ways import next_hops
from resilience.remedies.groundwork.chances import BITS, States, Words, states_of
from resilience.remedies.groundwork.snapshots import (
    counted,
    gateways_up,
    spread,
    taken,
    ways_of,
)
from resilience.remedies.reinforcing.options import Move, Option
from resilience.units import HOURS_PER_YEAR

N_WORDS = 256
LEAST_WORDS = 64
MOST_DRAWN = 2_000_000  # links times words
MOST_STATES = 4096  # in which somebody is cut off, looked at for each option
MOST_PLACES_MOVED_TO = 30  # those that help most as additions
ON_MAINS = "{id} on mains"


@dataclass(frozen=True, slots=True)
class Screened:
    """An option as it looks in states drawn by how often things are away.

    Parameters
    ----------
    option : Option
        What would be changed. [-]
    gain_h : float
        Hours per sensor-year for which fewer sensors would be cut off. [h/year]
    """

    option: Option
    gain_h: float


@dataclass(frozen=True, slots=True)
class _Base:
    """A layout, perhaps less a device, with the states in which it loses anybody.

    Parameters
    ----------
    n_lost : float
        Sensors cut off, summed over all states. [-]
    states : States
        Those states, or as many of them as are looked at. [-]
    n_lost_there : int
        Sensors cut off in them. [-]
    weight : float
        How many states each of them stands for. [-]
    reached : Words
        What is reached in them. [-]
    present : Flags
        Devices that it has. [-]
    """

    n_lost: float
    states: States
    n_lost_there: int
    weight: float
    reached: Words
    present: Flags


class Screen:
    """States of a layout together with all that could be put into it.

    Parameters
    ----------
    site : Site
        Building, hazards, upkeep. [-]
    layout : Layout
        As it is. [-]
    hung : sequence of Device
        What could be added. [-]
    seed : int
        Of the states. [-]
    counts_outages : bool
        Whether states in which no gateway is up count. [-]
    n_words : int
        Possible buildings at most, 64 states in each; fewer where there are many links. [-]
    """

    def __init__(  # noqa: PLR0913, PLR0917 - a layout, what could be added, and how it is looked at
        self,
        site: Site,
        layout: Layout,
        hung: Sequence[Device],
        seed: int,
        counts_outages: bool,
        n_words: int = N_WORDS,
    ) -> None:
        self.layout, self._counts_outages = layout, counts_outages
        table, alone = _joined(site, layout, hung)
        n_words = max(LEAST_WORDS, min(n_words, MOST_DRAWN // max(1, len(table.ends))))
        self.states = states_of(site, table, _carried(table, alone), seed, n_words)
        self._ways = ways_of(self.states)
        self._row = {id: row for row, id in enumerate(table.ids)}
        self._is_sensor = of_kind(table, Kind.SENSOR)
        self._is_gateway = of_kind(table, Kind.GATEWAY)
        here = {one.id for one in layout.devices}
        self._here = np.array([id in here for id in table.ids])
        self._bases: dict[str, _Base] = {}
        self._known: dict[tuple[str, str], float] = {}
        self._scale_h = HOURS_PER_YEAR / (n_words * BITS * len(layout.sensors))

    @property
    def hours(self) -> float:
        """Hours per sensor-year for which sensors of the layout are cut off, as it looks."""
        return self._base("").n_lost * self._scale_h

    @property
    def n_deaf(self) -> int:
        """Devices that could be added and have no link that is ever open to the layout."""
        is_open = self.states.is_open.any(axis=1)
        heard = np.zeros(len(self._here), np.bool_)
        heard[self.states.table.ends[is_open]] = True
        return int((~heard & ~self._here).sum())

    def best(self, options: Iterable[Option]) -> list[Screened]:
        """Return options that look as if they help, those that help most first.

        Devices are moved only to places that help most as additions.

        Parameters
        ----------
        options : iterable of Option
            What could be changed. [-]
        """
        asked = list(options)
        moves = [one for one in asked if one.move is Move.MOVE]
        spots = {one.spot for one in moves}
        nearest = sorted(spots, key=lambda one: (self._with("", one), one))
        helping = set(nearest[:MOST_PLACES_MOVED_TO])
        found = [
            self._screened(one) for one in asked if one.move is not Move.MOVE or one.spot in helping
        ]
        found.sort(key=lambda one: (-one.gain_h, one.option.move, one.option.device))
        return found

    def _screened(self, option: Option) -> Screened:
        gone = option.before.id if option.before is not None else ""
        if option.after is None:
            n_lost = self._base(gone).n_lost
        else:
            n_lost = self._with(gone, _stand_in(option))
        return Screened(option, (self._base("").n_lost - n_lost) * self._scale_h)

    def _base(self, gone: str) -> _Base:
        if gone not in self._bases:
            present = self._here.copy()
            if gone:
                present[self._row[gone]] = False
            ways = self._ways.among(present)
            reached = spread(self.states, ways, gateways_up(self.states, present))
            lost = self._lost(self.states, reached, present)
            losing = np.bitwise_or.reduce(lost, axis=0)
            states, weight = taken(self.states, losing, MOST_STATES)
            few = spread(states, ways, gateways_up(states, present))
            n_there = counted(self._lost(states, few, present))
            self._bases[gone] = _Base(counted(lost), states, n_there, weight, few, present)
        return self._bases[gone]

    def _with(self, gone: str, more: str) -> float:
        """Sensors cut off if one device is there, and perhaps another gone."""
        if (gone, more) not in self._known:
            base, row = self._base(gone), self._row[more]
            present = base.present.copy()
            present[row] = True
            begun = base.reached.copy()
            if self._is_gateway[row]:
                begun[row] = base.states.up[row]
            reached = spread(base.states, self._ways.among(present), begun)
            n_lost = counted(self._lost(base.states, reached, present))
            self._known[gone, more] = base.n_lost - base.weight * (base.n_lost_there - n_lost)
        return self._known[gone, more]

    def _lost(self, states: States, reached: Words, present: Flags) -> Words:
        """Sensors that are up and not reached."""
        lost = states.up[self._is_sensor] & ~reached[self._is_sensor]
        if not self._counts_outages:
            lost &= np.bitwise_or.reduce(states.up[self._is_gateway & present], axis=0)
        return lost


def _stand_in(option: Option) -> str:
    """Id under which what an option puts there stands among all that could be."""
    if option.move is Move.MAINS:
        return ON_MAINS.format(id=option.device)
    return option.spot or option.device


def _carried(table: LinkTable, alone: LinkTable) -> dict[str, float]:
    """Sensors that each device passes on as drawn; what could be added, as many as repeaters do."""
    above, found = next_hops(alone), Counter[str]()
    for sensor in alone.layout.sensors:
        one = above.get(sensor.id)
        while one is not None:
            found[one] += 1
            one = above.get(one)
    repeaters = [found[one.id] for one in alone.layout.of_kind(Kind.REPEATER)]
    passing = repeaters or [n for n in found.values() if n]
    usual = sum(passing) / max(1, len(passing))
    here = set(alone.ids)
    return {id: float(found[id]) if id in here else usual for id in table.ids}


def _joined(site: Site, layout: Layout, hung: Sequence[Device]) -> tuple[LinkTable, LinkTable]:
    """Links of a layout with all that could be added, none between two of these; and without."""
    mains = [
        replace(one, id=ON_MAINS.format(id=one.id), battery=None)
        for one in layout.devices
        if one.kind is Kind.REPEATER and one.battery is not None
    ]
    here = {one.id for one in layout.devices}
    more = [*(one for one in hung if one.id not in here), *mains]
    links = _with_twins(layout, {one.id for one in mains})
    together = replace(layout, devices=(*layout.devices, *more), links=links)
    apart = [
        replace(
            together,
            devices=(*layout.devices, one),
            links=tuple(each for each in links if {each.a, each.b} <= here | {one.id}),
        )
        for one in more
    ]
    paths = site_table(site, [layout, *apart])
    # All stand in one table, though no two of those that could be added were ever looked at.
    whole = replace(paths, is_together=np.ones_like(paths.is_together))
    return whole.of(together), paths.of(layout)


def _with_twins(layout: Layout, mains: Collection[str]) -> tuple[GivenLink, ...]:
    """Measured links, and the same of each device on cells as it would be on mains."""
    found = list(layout.links)
    for one in layout.links:
        a, b = ON_MAINS.format(id=one.a), ON_MAINS.format(id=one.b)
        if a in mains:
            found.append(replace(one, a=a))
        if b in mains:
            found.append(replace(one, b=b))
    return tuple(found)
