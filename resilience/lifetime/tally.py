"""What lifetimes add up to: a short row for each, and exact sums for sensors and elements."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from resilience.hazards.buildings import LIFETIMES_PER_BUILDING
from resilience.lifetime.record import Holder, Record

Ints = NDArray[np.int64]

COLUMNS = (
    "orphan_ms",
    "dark_ms",
    "down_ms",
    "cut_off_ms",
    "not_reached_ms",
    "interrupted_ms",
    "site_outage_ms",
    "routed_ms",  # over sensors, time with a route
    "depth_ms",  # the same weighted with hop depth
    "deepest",
    "most_orphans",
    "reparentings",
    "device_failures",
    "battery_deaths",
    "gateway_outages",
    "blockages",  # those that could matter
    "visits",
    "cells",
)

SENSOR_FIGURES = ("orphan_ms", "dark_ms", "down_ms")


# Strikes of these causes are counted in these columns; those of any other are not.
COUNTED = {
    "hardware": "device_failures",
    "battery": "battery_deaths",
    "gateway_outage": "gateway_outages",
    "gateway_hardware": "gateway_outages",
    "link_blockage": "blockages",
}


def row_of(record: Record) -> tuple[int, ...]:
    """Row of one lifetime, in the order of ``COLUMNS``.

    Parameters
    ----------
    record : Record
        What the lifetime left. [-]
    """
    depths = [
        (depth, time_ms) for times in record.depth_ms.values() for depth, time_ms in times.items()
    ]
    row = {
        "orphan_ms": sum(record.orphan_ms.values()),
        "dark_ms": sum(record.dark_ms.values()),
        "down_ms": sum(record.down_ms.values()),
        "cut_off_ms": sum(record.cut_off_ms.values()),
        "not_reached_ms": sum(record.not_reached_ms.values()),
        "interrupted_ms": sum(record.interrupted_ms.values()),
        "site_outage_ms": record.site_outage_ms,
        "routed_ms": sum(time_ms for _, time_ms in depths),
        "depth_ms": sum(depth * time_ms for depth, time_ms in depths),
        "deepest": max((depth for depth, _ in depths), default=0),
        "most_orphans": record.most_orphans,
        "reparentings": sum(record.reparentings.values()),
        "visits": record.visits,
        "cells": record.cells,
    } | dict.fromkeys(COUNTED.values(), 0)
    for cause, column in COUNTED.items():
        row[column] += record.strikes.get(cause, 0)
    return tuple(row[column] for column in COLUMNS)


@dataclass(frozen=True, slots=True)
class SensorSums:
    """Exact sums of one figure of one sensor over building draws.

    Parameters
    ----------
    total : int
        Sum over lifetimes. [ms]
    squares : int
        Sum of the squares of what the two lifetimes of a building add up to. [ms^2]
    """

    total: int
    squares: int

    def __add__(self, other: "SensorSums") -> "SensorSums":
        return SensorSums(self.total + other.total, self.squares + other.squares)


@dataclass(frozen=True, slots=True)
class Tally:
    """Lifetimes first, first + 1, ... of one layout, added up; whole building draws only.

    Parameters
    ----------
    first : int
        Number of the first lifetime. [-]
    rows : Ints
        Shape (lifetimes, columns), columns as in ``COLUMNS``. [ms or -]
    sensors : dict of (str, str) to SensorSums
        By figure of ``SENSOR_FIGURES`` and sensor. [ms]
    blame_ms, began : Counter of Holder
        Orphan time by what held it; spells by what began them. [ms, -]
    """

    first: int
    rows: Ints
    sensors: dict[tuple[str, str], SensorSums]
    blame_ms: Counter[Holder]
    began: Counter[Holder]

    @property
    def n_lifetimes(self) -> int:
        """Number of lifetimes."""
        return len(self.rows)

    def column(self, name: str) -> Ints:
        """One column over lifetimes, shape (lifetimes,)."""
        return self.rows[:, COLUMNS.index(name)]

    def per_building(self, name: str) -> Ints:
        """One column summed over the lifetimes of each building, shape (buildings,)."""
        return self.column(name).reshape(-1, LIFETIMES_PER_BUILDING).sum(axis=1)


def tallied(first: int, records: Sequence[Record]) -> Tally:
    """Tally of some lifetimes in a row.

    Parameters
    ----------
    first : int
        Number of the first; even. [-]
    records : sequence of Record
        What they left; an even number of them. [-]
    """
    sensors: dict[tuple[str, str], SensorSums] = {}
    blame_ms: Counter[Holder] = Counter()
    began: Counter[Holder] = Counter()
    for record in records:
        blame_ms.update(record.blame_ms)
        began.update(record.began)
    for figure in SENSOR_FIGURES:
        by_lifetime: list[dict[str, int]] = [getattr(record, figure) for record in records]
        for sensor in by_lifetime[0]:
            buildings = [
                sum(times[sensor] for times in by_lifetime[start : start + LIFETIMES_PER_BUILDING])
                for start in range(0, len(records), LIFETIMES_PER_BUILDING)
            ]
            squares = sum(time_ms**2 for time_ms in buildings)
            sensors[figure, sensor] = SensorSums(sum(buildings), squares)
    rows = np.array([row_of(record) for record in records], dtype=np.int64)
    return Tally(first, rows, sensors, blame_ms, began)


def joined(tallies: Iterable[Tally]) -> Tally:
    """One tally of several that follow each other, whatever order they come in.

    Parameters
    ----------
    tallies : iterable of Tally
        At least one. [-]
    """
    ordered = sorted(tallies, key=lambda tally: tally.first)
    sensors: dict[tuple[str, str], SensorSums] = {}
    blame_ms: Counter[Holder] = Counter()
    began: Counter[Holder] = Counter()
    for tally in ordered:
        for key, sums in tally.sensors.items():
            sensors[key] = sensors[key] + sums if key in sensors else sums
        blame_ms.update(tally.blame_ms)
        began.update(tally.began)
    rows = np.concatenate([tally.rows for tally in ordered])
    return Tally(ordered[0].first, rows, sensors, blame_ms, began)
