"""Hourly states of a measured mesh, played under the routing law without the engine.

A measured mesh tells of a link only in the hours in which it was used. What is compared with it
must not know more. `hidden` takes the link-hours that nobody saw out of simulated states too: then
the holes themselves decide who is an orphan, and any law of links comes out beside the measurement
(on thinned meshes a swing of 6 dB moved the orphan share by 2 %). `carried` keeps the state in
which a link was last seen for some hours, of simulated states as of measured ones: the longer, the
more how good the links were decides, and a law under which they fail in hours in which they were
seen to work is found out; but what was not used may have gone unnoticed. Both kinds of states run
through the same `replay`.

Hours in which no link at all was reported are gaps of the record, not of the mesh: they are left
out, and the tree is carried across them.
"""

import csv
import gzip
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Costs = NDArray[np.int64]  # [1/128 transmission], by hour and pair; 0 where a link is not usable

COST_PER_TRANSMISSION = 128  # RFC 6551: the ETX object counts 1/128 transmission
NO_ROUTE = np.iinfo(np.int64).max // 4
HOURS_PER_YEAR = 8766
NOBODY = -1  # no parent; never seen


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """What was seen of a mesh, hour by hour; the gateway is the first device.

    Parameters
    ----------
    devices : tuple of str
        Ids, the gateway first and the rest in order. [-]
    pairs : tuple of tuple of int
        Places of both ends of each link among the devices, the lower first. [-]
    hours : ndarray of int64, shape (hours,)
        Hours that hold any report, counted from the first, rising. [h]
    prr_share : ndarray, shape (hours, pairs)
        Reception ratio of one direction; NaN where the link was not seen. [-]
    rssi_dbm : ndarray, shape (hours, pairs)
        Mean strength; NaN where the link was not seen. [dBm]
    """

    devices: tuple[str, ...]
    pairs: tuple[tuple[int, int], ...]
    hours: NDArray[np.int64]
    prr_share: Floats
    rssi_dbm: Floats

    @property
    def seen(self) -> NDArray[np.bool_]:
        """Link-hours of which anything is known."""
        return ~np.isnan(self.prr_share)


@dataclass(frozen=True, slots=True)
class Rules:
    """The routing law's settings, under the names that a site gives them.

    Parameters
    ----------
    hysteresis : int
        A device moves if that saves more. [1/128 transmission]
    look_around_h : int
        Between two looks a device moves only if it lost its parent. [h]
    min_prr : float
        Least reception ratio of either direction of a usable link. [-]
    """

    hysteresis: int
    look_around_h: int
    min_prr: float = 0.30


@dataclass(frozen=True, slots=True)
class Figures:
    """Sums over sensors and hours after each sensor's first route; those of layouts add up.

    Parameters
    ----------
    sensor_h, orphan_h : int
        Time since the first route, and how much of it was without one. [h]
    n_spells, n_changes : int
        Orphan spells begun; hours after which a device has another parent, neither none. [-]
    hop_h : int
        Hop depth of each sensor with a route, summed over its hours. [h]
    """

    sensor_h: int = 0
    orphan_h: int = 0
    n_spells: int = 0
    n_changes: int = 0
    hop_h: int = 0

    def __add__(self, other: "Figures") -> "Figures":
        return Figures(*(getattr(self, name) + getattr(other, name) for name in self.__slots__))

    @property
    def orphan_share(self) -> float:
        """Orphan time as a share of the time since the first route."""
        return self.orphan_h / max(self.sensor_h, 1)

    @property
    def spells_per_year(self) -> float:
        """Orphan spells of a sensor in a year."""
        return self.n_spells / max(self.sensor_h, 1) * HOURS_PER_YEAR

    @property
    def changes_per_day(self) -> float:
        """Parent changes of a device in a day."""
        return self.n_changes / max(self.sensor_h, 1) * 24

    @property
    def mean_hops(self) -> float:
        """Hop depth of the sensors that have a route."""
        return self.hop_h / max(self.sensor_h - self.orphan_h, 1)


def read_trace(path: Path, gateway: str, *, acknowledged: bool) -> Trace:
    """Hourly states of a measured mesh.

    Parameters
    ----------
    path : Path
        Packed table with the columns hour, a, b, rssi_dbm, prr, sent. [-]
    gateway : str
        Id of the device at which all traffic ends. [-]
    acknowledged : bool
        Whether the ratio counts frames that were answered, there and back in one: its root is then
        taken for each direction. [-]
    """
    found: dict[tuple[int, str, str], list[tuple[float, float]]] = defaultdict(list)
    with gzip.open(path, "rt", newline="", encoding="utf-8") as rows:
        for row in csv.DictReader(rows):
            ends = sorted((row["a"], row["b"]))
            state = float(row["prr"]), float(row["rssi_dbm"])
            found[int(float(row["hour"])), ends[0], ends[1]].append(state)
    ids = {end for _, *ends in found for end in ends}
    devices = (gateway, *sorted(ids - {gateway}))
    return _laid_out(found, devices, 0.5 if acknowledged else 1.0)


def _laid_out(
    found: dict[tuple[int, str, str], list[tuple[float, float]]],
    devices: tuple[str, ...],
    power: float,
) -> Trace:
    place = {device: n for n, device in enumerate(devices)}
    ends = {key[1:]: tuple(sorted((place[key[1]], place[key[2]]))) for key in found}
    pairs = tuple(sorted({(low, high) for low, high in ends.values()}))
    hours = np.array(sorted({hour for hour, _, _ in found}), dtype=np.int64)
    column = {pair: n for n, pair in enumerate(pairs)}
    row = {int(hour): n for n, hour in enumerate(hours)}
    states = np.full((len(hours), len(pairs), 2), np.nan)
    for (hour, *names), rows in found.items():
        low, high = ends[names[0], names[1]]
        states[row[hour], column[low, high]] = np.mean(rows, axis=0)
    return Trace(devices, pairs, hours, states[:, :, 0] ** power, states[:, :, 1])


def thinned(trace: Trace, n_devices: int, rng: np.random.Generator) -> Trace:
    """The gateway and some of the other devices, with the links among them.

    Parameters
    ----------
    trace : Trace
        Whole mesh. [-]
    n_devices : int
        Devices to keep, the gateway among them. [-]
    rng : Generator
        Which ones. [-]
    """
    others = rng.choice(np.arange(1, len(trace.devices)), n_devices - 1, replace=False)
    kept = [0, *sorted(int(other) for other in others)]
    place = {device: n for n, device in enumerate(kept)}
    columns = [n for n, pair in enumerate(trace.pairs) if set(pair) <= set(kept)]
    return replace(
        trace,
        devices=tuple(trace.devices[device] for device in kept),
        pairs=tuple((place[trace.pairs[n][0]], place[trace.pairs[n][1]]) for n in columns),
        prr_share=trace.prr_share[:, columns],
        rssi_dbm=trace.rssi_dbm[:, columns],
    )


def link_costs(prr_there: Floats, prr_back: Floats, min_prr: float) -> Costs:
    """Expected transmissions x 128 of links, 0 for those that are not usable.

    Parameters
    ----------
    prr_there, prr_back : ndarray
        Reception ratio of each direction, NaN where nothing is known. [-]
    min_prr : float
        Least ratio of a usable link. [-]
    """
    with np.errstate(invalid="ignore"):
        usable = np.minimum(prr_there, prr_back) >= min_prr
    both = np.where(usable, prr_there * prr_back, 1.0)
    return np.where(usable, np.floor(COST_PER_TRANSMISSION / both + 0.5), 0).astype(np.int64)


def hidden(costs: Costs, trace: Trace) -> Costs:
    """Costs without those of link-hours that the mesh does not tell of.

    Parameters
    ----------
    costs : ndarray of int64, shape (hours, pairs)
        Simulated or measured. [1/128 transmission]
    trace : Trace
        The mesh whose unseen link-hours are hidden. [-]
    """
    return np.where(trace.seen, costs, 0)


def carried(costs: Costs, trace: Trace, most_h: int) -> Costs:
    """Costs as they were last seen; not usable where that is too long ago or never was.

    Parameters
    ----------
    costs : ndarray of int64, shape (hours, pairs)
        Simulated or measured. [1/128 transmission]
    trace : Trace
        The mesh that tells which link-hours were seen. [-]
    most_h : int
        For how long what was seen of a link is believed. [h]
    """
    rows = np.arange(len(trace.hours))[:, None]
    last = np.maximum.accumulate(np.where(trace.seen, rows, NOBODY), axis=0)
    age_h = trace.hours[:, None] - trace.hours[last]
    known = (last != NOBODY) & (age_h <= most_h)
    return np.where(known, np.take_along_axis(costs, np.maximum(last, 0), axis=0), 0)


def measured(trace: Trace, rules: Rules) -> Costs:
    """Costs as they were measured; unseen link-hours are not usable."""
    return link_costs(trace.prr_share, trace.prr_share, rules.min_prr)


def replay(trace: Trace, costs: Costs, rules: Rules) -> Figures:
    """Orphans, parent changes and hops of a mesh whose links had these costs, hour by hour.

    Parameters
    ----------
    trace : Trace
        Devices, links and hours; its own states are not looked at. [-]
    costs : ndarray of int64, shape (hours, pairs)
        States to play. [1/128 transmission]
    rules : Rules
        Routing law. [-]
    """
    tree = Tree(len(trace.devices))
    total = Figures()
    next_look_h = 0
    for hour, row in zip(trace.hours.tolist(), costs, strict=True):
        look = hour >= next_look_h  # the first hour after a gap makes up for a look missed in it
        if look:
            next_look_h = (hour // rules.look_around_h + 1) * rules.look_around_h
        total += tree.step(cost_matrix(trace, row), rules.hysteresis if look else None)
    return total


def cost_matrix(trace: Trace, row: Costs) -> Costs:
    """Costs of one hour between all devices, ``NO_ROUTE`` where there is no usable link.

    Parameters
    ----------
    trace : Trace
        Devices and links. [-]
    row : ndarray of int64, shape (pairs,)
        Costs of the hour. [1/128 transmission]
    """
    matrix = np.full((len(trace.devices),) * 2, NO_ROUTE)
    low, high = np.array(trace.pairs, dtype=np.int64).reshape(-1, 2).T
    matrix[low, high] = matrix[high, low] = np.where(row > 0, row, NO_ROUTE)
    return matrix


class Tree:
    """Parents of all devices and how they change from hour to hour; device 0 is the gateway."""

    def __init__(self, n_devices: int) -> None:
        self.parent = np.full(n_devices, NOBODY)
        self.had_route = np.zeros(n_devices, dtype=bool)
        self.was_orphan = np.ones(n_devices, dtype=bool)

    def step(self, cost: Costs, hysteresis: int | None) -> Figures:
        """Settle the tree at new costs and count what came of it.

        Parameters
        ----------
        cost : ndarray of int64, shape (devices, devices)
            Costs of the links of the hour. [1/128 transmission]
        hysteresis : int or None
            Saving beyond which a device moves; None between two looks. [1/128 transmission]
        """
        before = self.parent.copy()
        path = self._path_costs(cost)
        self._attach(cost, path)
        if hysteresis is not None:
            self._improve(cost, path, hysteresis)
        return self._counted(before)

    def _path_costs(self, cost: Costs) -> Costs:
        """Costs along the parents, ``NO_ROUTE`` behind a broken link; orphans lose their parent."""
        path = np.full(len(self.parent), NO_ROUTE)
        path[0] = 0
        fresh = np.zeros(1, dtype=np.int64)
        while fresh.size:
            is_fresh = np.zeros(len(self.parent) + 1, dtype=bool)  # the last one is NOBODY's place
            is_fresh[fresh] = True
            children = np.flatnonzero(is_fresh[self.parent])
            own = path[self.parent[children]] + cost[children, self.parent[children]]
            path[children] = np.minimum(own, NO_ROUTE)
            fresh = children[path[children] < NO_ROUTE]
        self.parent[path >= NO_ROUTE] = NOBODY
        return path

    def _attach(self, cost: Costs, path: Costs) -> None:
        """Losses: the least (path cost, device, parent) joins, until nobody can."""
        while True:
            lost = np.flatnonzero(path >= NO_ROUTE)
            offers = path[None, :] + cost[lost, :]
            if not lost.size or offers.min() >= NO_ROUTE:
                return
            # argmin takes the first of equals by row, then by column: lowest device, lowest parent
            which, parent = np.unravel_index(np.argmin(offers), offers.shape)
            self.parent[lost[which]] = parent
            path[lost[which]] = offers[which, parent]

    def _improve(self, cost: Costs, path: Costs, hysteresis: int) -> None:
        """Gains: of all that save more than the hysteresis, the least new cost moves first."""
        while True:
            offers = path[None, :] + cost
            saves = (path[:, None] - offers > hysteresis) & (path[:, None] < NO_ROUTE)
            offers = np.where(saves, offers, NO_ROUTE)
            if offers.min() >= NO_ROUTE:
                return
            device, parent = np.unravel_index(np.argmin(offers), offers.shape)
            # A device of its own subtree costs more than it does itself, so it is never cheaper.
            self.parent[device] = parent
            path[:] = self._path_costs(cost)

    def _counted(self, before: NDArray[np.int64]) -> Figures:
        orphan = self.parent == NOBODY
        orphan[0] = False
        self.had_route |= ~orphan
        counted = self.had_route.copy()
        counted[0] = False
        changed = (self.parent != before) & (self.parent != NOBODY) & (before != NOBODY)
        spells = counted & orphan & ~self.was_orphan
        self.was_orphan = orphan
        hops = sum(self.depth(device) for device in np.flatnonzero(counted & ~orphan).tolist())
        return Figures(
            int(counted.sum()),
            int((counted & orphan).sum()),
            int(spells.sum()),
            int(changed.sum()),
            hops,
        )

    def depth(self, device: int) -> int:
        """Hops from a device to the gateway.

        Parameters
        ----------
        device : int
            Place of the device, one that has a route. [-]
        """
        n_hops = 0
        while device:
            device, n_hops = self.parent.item(device), n_hops + 1
        return n_hops
