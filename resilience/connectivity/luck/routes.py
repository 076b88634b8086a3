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
    is_sensor = _is(table, Kind.SENSOR)
    drawn = _reached(table, table.usable[None, :])[0] & is_sensor
    reached = _reached(table, _usable_in_buildings(table, seed, n_buildings))[:, is_sensor]
    ids = np.array(table.ids)
    return Routes(
        frozenset(ids[drawn].tolist()),
        dict(zip(ids[is_sensor].tolist(), reached.sum(axis=0).tolist(), strict=True)),
        int(reached.all(axis=1).sum()),
        n_buildings,
        _behind(table, drawn),
    )


def _is(table: LinkTable, kind: Kind) -> Flags:
    return np.array([one.kind is kind for one in table.devices])


def _usable_in_buildings(table: LinkTable, seed: int, n_buildings: int) -> Flags:
    """Whether each link is usable when calm, shape (buildings, links)."""
    air = Air.of(table.radio, table.routing)
    strengths_cdbm = strengths_in_buildings(seed, n_buildings, prospect(table).lots)
    found = np.zeros(strengths_cdbm.shape[:2], np.bool_)
    for building, rssi_cdbm in enumerate(strengths_cdbm):
        heard_cdbm = rssi_cdbm + table.shift_cdb()
        found[building] = air.spare_cdb(rssi_cdbm, heard_cdbm, table.floor_cdbm()) >= 0
    return found


def _forwards(table: LinkTable) -> Flags:
    return np.array([one.kind is Kind.GATEWAY or one.model.forwards for one in table.devices])


def _reached(table: LinkTable, usable: Flags, absent: Ints | None = None) -> Flags:
    """Devices that have a way to a gateway, shape (cases, devices).

    Parameters
    ----------
    table : LinkTable
        Devices, and ends of the links. [-]
    usable : Flags
        Shape (cases, links). [-]
    absent : Ints or None
        Shape (cases,): the device that is left out in each. [-]
    """
    n = len(table.devices)
    starts = np.repeat(_is(table, Kind.GATEWAY)[None, :], len(usable), axis=0)
    if absent is not None:
        starts[np.arange(len(absent)), absent] = False
    at_once = max(1, MOST_AT_ONCE // n**2)
    parts = [slice(first, first + at_once) for first in range(0, len(usable), at_once)]
    return np.concatenate([_spread(table, usable[part], starts[part]) for part in parts])


def _spread(table: LinkTable, usable: Flags, reached: Flags) -> Flags:
    """What is reached from what is, over links from what forwards."""
    hears = np.zeros((*reached.shape, reached.shape[1]), np.float32)
    one, other = table.ends.T
    hears[:, one, other] = hears[:, other, one] = usable
    hears *= _forwards(table)[:, None]
    while True:
        further = reached | ((reached[:, None, :] @ hears)[:, 0] > 0)
        if (further == reached).all():
            return further
        reached = further


def _behind(table: LinkTable, as_drawn: Flags) -> dict[str, tuple[str, ...]]:
    """Sensors behind each device that all of their ways lead through, as drawn."""
    is_gateway = _is(table, Kind.GATEWAY)
    # Where there is one gateway all ways end there: that is no news.
    passing = np.flatnonzero(_forwards(table) & ~(is_gateway & (is_gateway.sum() == 1)))
    touched = (table.ends[None, :, :] == passing[:, None, None]).any(axis=2)
    left = _reached(table, table.usable & ~touched, passing)
    lost = as_drawn & ~left
    lost[np.arange(len(passing)), passing] = False  # itself is not behind itself
    ids = np.array(table.ids)
    found = {
        str(ids[device]): tuple(ids[row].tolist())
        for device, row in zip(passing, lost, strict=True)
    }
    most_first = sorted(found, key=lambda id: (-len(found[id]), id))
    return {id: found[id] for id in most_first if found[id]}
