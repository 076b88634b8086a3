"""Single points of failure: as drawn, and in the share of possible buildings in which they are one.

Nothing is played here: everything else is up and calm.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from resilience.building.site import Kind, Site
from resilience.connectivity.luck.routes import (
    BUILDINGS,
    Flags,
    Ints,
    forwards,
    of_kind,
    reached,
    spares_in_buildings,
)
from resilience.connectivity.table import LinkTable, in_hundredths
from resilience.hazards.table import links_through
from resilience.montecarlo.estimates import SHARE, Estimate
from resilience.montecarlo.sequences import betting_sequence
from resilience.remedies.fragile.ways import Ways
from resilience.units import cdb_from_db

LEAST_BUILDINGS = 32
MOST_EDGES = 300_000  # over all buildings: a second or two
ENOUGH_PARENTS = 2


class Point(StrEnum):
    """What may be a single point of failure."""

    DEVICE = "device"
    LINK = "link"
    OBSTACLE = "obstacle"
    CIRCUIT = "circuit"


Name = tuple[Point, str]


@dataclass(frozen=True, slots=True)
class SinglePoint:
    """Something whose absence alone cuts sensors off.

    Parameters
    ----------
    kind : Point
        What it is. [-]
    id : str
        Of the device, link, door, obstacle or circuit. [-]
    as_drawn : tuple of str
        Sensors that it cuts off in the calm drawing; may be none. [-]
    mean_sensors : float
        Sensors that it cuts off, mean over possible buildings. [-]
    building_share : Estimate
        Share of possible buildings in which it cuts off any. [-]
    """

    kind: Point
    id: str
    as_drawn: tuple[str, ...]
    mean_sensors: float
    building_share: Estimate

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            "kind": self.kind.value,
            "id": self.id,
            "sensors_as_drawn": list(self.as_drawn),
            "mean_sensors": self.mean_sensors,
            "share_of_buildings": self.building_share.to_json(),
        }


@dataclass(frozen=True, slots=True)
class Lonely:
    """A sensor that hears fewer than two devices that could pass its readings on.

    Parameters
    ----------
    sensor : str
        Its id. [-]
    parent : str
        The one that it hears; empty if none. [-]
    building_share : Estimate
        Share of possible buildings in which it hears fewer than two. [-]
    """

    sensor: str
    parent: str
    building_share: Estimate

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        share = self.building_share.to_json()
        return {"sensor": self.sensor, "parent": self.parent, "share_of_buildings": share}


@dataclass(frozen=True, slots=True)
class Bottlenecks:
    """What the drawing of a layout hangs on.

    Parameters
    ----------
    points : tuple of SinglePoint
        Those that cut off most sensors, in the mean over possible buildings, first. [-]
    lonely : tuple of Lonely
        Sensors with one possible parent or none as drawn, in order of id. [-]
    n_buildings : int
        Possible buildings that were looked at. [-]
    """

    points: tuple[SinglePoint, ...]
    lonely: tuple[Lonely, ...]
    n_buildings: int


def bottlenecks(site: Site, table: LinkTable, seed: int) -> Bottlenecks:
    """Look for single points of failure.

    Parameters
    ----------
    site : Site
        Says which doors and obstacles change. [-]
    table : LinkTable
        Links of the layout. [-]
    seed : int
        Seed of the possible buildings: those of a study. [-]
    """
    n_edges = max(1, 2 * int(table.usable.sum()))
    n_buildings = max(LEAST_BUILDINGS, min(BUILDINGS, MOST_EDGES // n_edges))
    spares_cdb = spares_in_buildings(table, seed, n_buildings)
    drawn = _cut_off(site, table, _as_drawn_cdb(table))
    counts: dict[Name, list[int]] = defaultdict(lambda: [0] * n_buildings)
    for building, spare_cdb in enumerate(spares_cdb):
        for name, rows in _cut_off(site, table, spare_cdb).items():
            counts[name][building] = len(rows)
    points = [
        SinglePoint(
            *name,
            tuple(table.ids[row] for row in sorted(drawn.get(name, ()))),
            float(np.mean(counts[name])),
            _share(np.array(counts[name]) > 0),
        )
        for name in sorted({*drawn, *counts})
    ]
    points.sort(key=lambda one: (-one.mean_sensors, -len(one.as_drawn), one.kind, one.id))
    return Bottlenecks(tuple(points), _lonely(table, spares_cdb), n_buildings)


def _share(flags: Flags) -> Estimate:
    return betting_sequence(flags.astype(np.float64), SHARE)


def _as_drawn_cdb(table: LinkTable) -> Ints:
    """Loss that each link can take at mean shadowing; below 0 exactly where it is not usable."""
    margins_cdb = in_hundredths(table.margins_db)
    return np.where(table.usable, np.maximum(margins_cdb, 0), np.minimum(margins_cdb, -1))


def _cut_off(site: Site, table: LinkTable, spare_cdb: Ints) -> dict[Name, set[int]]:
    """Sensors, by row, that each single point cuts off in one building."""
    behind = Ways(table, spare_cdb >= 0).sensors_behind()
    found: dict[Name, set[int]] = {}
    for row, sensors in behind.devices.items():
        found[Point.DEVICE, table.ids[row]] = set(sensors)
    for row, sensors in behind.links.items():
        found[Point.LINK, table.link_ids[row]] = set(sensors)
    shared = dict(_shared(site, table, spare_cdb))
    if shared:
        usable = np.array([one for one, _ in shared.values()])
        absent = np.array([one for _, one in shared.values()])
        left = reached(table, usable, absent) | absent
        for name, row in zip(shared, left, strict=True):
            lost = behind.reached - set(np.flatnonzero(row).tolist())
            if lost:
                found[name] = set(lost)
    return found


def _shared(
    site: Site, table: LinkTable, spare_cdb: Ints
) -> Iterator[tuple[Name, tuple[Flags, Flags]]]:
    """Yield what takes several at once: links that are left, and devices that are not there."""
    nobody = np.zeros(len(table.devices), np.bool_)
    changing = {} if site.hazards.obstacles is None else table.building.changing
    through = links_through(table)
    for id, change in changing.items():
        if id in through and change.per_year > 0:
            loss_cdb = np.zeros(len(spare_cdb), np.int64)
            loss_cdb[through[id]] = cdb_from_db(change.adds_db)
            yield (Point.OBSTACLE, id), (spare_cdb >= loss_cdb, nobody)
    circuits = np.array([one.circuit_id for one in table.devices])
    for id, n in Counter(circuits.tolist()).items():
        if id and n > 1:  # of one device alone it is its supply
            yield (Point.CIRCUIT, id), (spare_cdb >= 0, circuits == id)


def _lonely(table: LinkTable, spares_cdb: Ints) -> tuple[Lonely, ...]:
    """Sensors with fewer than two possible parents as drawn."""
    drawn, in_buildings = _parents(table, table.usable[None, :]), _parents(table, spares_cdb >= 0)
    found = []
    for row in np.flatnonzero(of_kind(table, Kind.SENSOR)).tolist():
        if drawn[0, row] < ENOUGH_PARENTS:
            few = in_buildings[:, row] < ENOUGH_PARENTS
            found.append(Lonely(table.ids[row], _parent(table, row), _share(few)))
    return tuple(found)


def _parents(table: LinkTable, usable: Flags) -> Ints:
    """How many devices could pass each one's readings on, shape (cases, devices)."""
    passes, (a, b) = forwards(table), table.ends.T
    heard = np.zeros((len(table.ends), len(table.devices)), np.int64)
    links = np.arange(len(table.ends))
    heard[links, a], heard[links, b] = passes[b], passes[a]
    counts: Ints = usable.astype(np.int64) @ heard
    return counts


def _parent(table: LinkTable, row: int) -> str:
    passes = forwards(table)
    for a, b in table.ends[table.usable].tolist():
        for own, other in ((a, b), (b, a)):
            if own == row and passes[other]:
                return table.ids[other]
    return ""
