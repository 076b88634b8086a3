"""Who has a way to a gateway, before anything is played: as drawn, and in possible buildings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from resilience.building.site import Kind
from resilience.connectivity.air import Air
from resilience.connectivity.luck.buildings import strengths_in_buildings
from resilience.connectivity.luck.prospect import prospect
from resilience.connectivity.table import LinkTable

Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

BUILDINGS = 200
MOST_AT_ONCE = 4_000_000  # pairs of devices, over the cases looked at together


@dataclass(frozen=True, slots=True)
class Routes:
    """Which sensors have a way to a gateway with everything up and calm.

    Parameters
    ----------
    as_drawn : frozenset of str
        Sensors that have one with paths as predicted on average. [-]
    in_buildings : dict of str to int
        In how many possible buildings each sensor has one. [-]
    n_all : int
        In how many of them every sensor has one. [-]
    n_buildings : int
        How many were drawn. [-]
    behind : dict of str to tuple of str
        Sensors, as drawn, whose every way leads through a device, most of them first; a gateway
        stands here only beside another one. [-]
    """

    as_drawn: frozenset[str]
    in_buildings: dict[str, int]
    n_all: int
    n_buildings: int
    behind: dict[str, tuple[str, ...]]


def routes(table: LinkTable, seed: int, n_buildings: int = BUILDINGS) -> Routes:
    """Look for the ways of every sensor of a layout.

    Parameters
    ----------
    table : LinkTable
        Its links. [-]
    seed : int
        Seed of the possible buildings: those of a study. [-]
    n_buildings : int
        How many of them. [-]
    """
    is_sensor = of_kind(table, Kind.SENSOR)
    drawn = reached(table, table.usable[None, :])[0] & is_sensor
    usable = spares_in_buildings(table, seed, n_buildings) >= 0
    found = reached(table, usable)[:, is_sensor]
    ids = np.array(table.ids)
    return Routes(
        frozenset(ids[drawn].tolist()),
        dict(zip(ids[is_sensor].tolist(), found.sum(axis=0).tolist(), strict=True)),
        int(found.all(axis=1).sum()),
        n_buildings,
        _behind(table, drawn),
    )


def of_kind(table: LinkTable, kind: Kind) -> Flags:
    """Whether each device is of a kind, shape (devices,).

    Parameters
    ----------
    table : LinkTable
        Of the layout. [-]
    kind : Kind
        Gateway, sensor or repeater. [-]
    """
    return np.array([one.kind is kind for one in table.devices])


def spares_in_buildings(table: LinkTable, seed: int, n_buildings: int) -> Ints:
    """Loss that each link takes when calm before it is not usable, shape (buildings, links).

    Parameters
    ----------
    table : LinkTable
        Of the layout. [-]
    seed : int
        Seed of the possible buildings: those of a study. [-]
    n_buildings : int
        How many of them. [cdB]
    """
    air = Air.of(table.radio, table.routing)
    strengths_cdbm = strengths_in_buildings(seed, n_buildings, prospect(table).lots)
    found = np.zeros(strengths_cdbm.shape[:2], np.int64)
    for building, rssi_cdbm in enumerate(strengths_cdbm):
        heard_cdbm = rssi_cdbm + table.shift_cdb()
        found[building] = air.spare_cdb(rssi_cdbm, heard_cdbm, table.floor_cdbm())
    return found


def forwards(table: LinkTable) -> Flags:
    """Whether others may choose each device as parent, shape (devices,).

    Parameters
    ----------
    table : LinkTable
        Of the layout. [-]
    """
    return np.array([one.kind is Kind.GATEWAY or one.model.forwards for one in table.devices])


def reached(table: LinkTable, usable: Flags, absent: Flags | None = None) -> Flags:
    """Devices that have a way to a gateway, shape (cases, devices).

    Parameters
    ----------
    table : LinkTable
        Devices, and ends of the links. [-]
    usable : Flags
        Shape (cases, links). [-]
    absent : Flags or None
        Shape (cases, devices): what is left out in each. [-]
    """
    n = len(table.devices)
    starts = np.repeat(of_kind(table, Kind.GATEWAY)[None, :], len(usable), axis=0)
    if absent is not None:
        starts &= ~absent
        usable = usable & ~absent[:, table.ends].any(axis=2)
    at_once = max(1, MOST_AT_ONCE // n**2)
    parts = [slice(first, first + at_once) for first in range(0, len(usable), at_once)]
    return np.concatenate([_spread(table, usable[part], starts[part]) for part in parts])


def _spread(table: LinkTable, usable: Flags, reached: Flags) -> Flags:
    """What is reached from what is, over links from what forwards."""
    hears = np.zeros((*reached.shape, reached.shape[1]), np.float32)
    one, other = table.ends.T
    hears[:, one, other] = hears[:, other, one] = usable
    hears *= forwards(table)[:, None]
    while True:
        further = reached | ((reached[:, None, :] @ hears)[:, 0] > 0)
        if (further == reached).all():
            return further
        reached = further


def _behind(table: LinkTable, as_drawn: Flags) -> dict[str, tuple[str, ...]]:
    """Sensors behind each device that all of their ways lead through, as drawn."""
    is_gateway = of_kind(table, Kind.GATEWAY)
    # Where there is one gateway all ways end there: that is no news.
    passing = np.flatnonzero(forwards(table) & ~(is_gateway & (is_gateway.sum() == 1)))
    absent = np.arange(len(table.devices)) == passing[:, None]
    left = reached(table, np.repeat(table.usable[None, :], len(passing), axis=0), absent)
    lost = as_drawn & ~left & ~absent  # itself is not behind itself
    ids = np.array(table.ids)
    found = {
        str(ids[device]): tuple(ids[row].tolist())
        for device, row in zip(passing, lost, strict=True)
    }
    most_first = sorted(found, key=lambda id: (-len(found[id]), id))
    return {id: found[id] for id in most_first if found[id]}
